"""Oneself, one's tokens, the firm's people and what role they have where."""

from typing import Any
from uuid import UUID

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Manager
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from portfolio.api.forms import (
    MembershipIn,
    MembershipOut,
    MeOut,
    PersonOut,
    TokenIn,
    TokenMade,
    TokenOut,
    listing,
)
from portfolio.api.writes import add, note, read, wrong
from portfolio.door import tokens
from portfolio.door.paging import page_of
from portfolio.door.problems import Problem, not_found
from portfolio.door.views import DoorView
from portfolio.models import (
    Building,
    Company,
    DeviceToken,
    Firm,
    Membership,
    Owner,
    Person,
    Project,
)
from portfolio.models.people import SCOPES_OF_ROLE, Role

_SCOPED: dict[str, Manager[Any]] = {
    "firm": Firm.objects,
    "owner": Owner.objects,
    "project": Project.objects,
    "building": Building.objects,
    "company": Company.objects,
}


class MeView(DoorView):
    verbs = {"GET": "see"}

    @extend_schema(responses=MeOut)
    def get(self, request: Request) -> Response:
        """Who one is here, and in which roles."""
        self.allow(self.person)
        return Response(MeOut(self.person).data)


class TokensView(DoorView):
    verbs = {"GET": "see", "POST": "make_token"}

    @extend_schema(responses=listing(TokenOut))
    def get(self, request: Request) -> Response:
        """One's device tokens; secrets are not kept."""
        self.allow(self.person)
        rows = DeviceToken.objects.filter(person=self.person)
        return Response(page_of(request, rows, order=("-made_at", "id"), show=lambda row: TokenOut(row).data))

    @extend_schema(request=TokenIn, responses={201: TokenMade})
    def post(self, request: Request) -> Response:
        """Make a token for a device of one's own. Its secret is told this once."""
        self.allow(self.person)
        values = read(TokenIn, request)
        project = None
        if "project" in values:
            project = self.seen(Project.objects).filter(pk=values.pop("project")).first()
            if project is None:
                raise wrong("/project", "does_not_exist", "There is no such project.", "Send one that you can see.")
        made_with = request.auth if isinstance(request.auth, DeviceToken) else None
        with transaction.atomic():
            token, secret = tokens.make(person=self.person, project=project, made_with=made_with, **values)
            note(self, token, {"scope": token.scope})
        return Response({**TokenOut(token).data, "secret": secret}, status=201)


class TokenView(DoorView):
    verbs = {"DELETE": "make_token"}

    @extend_schema(responses={204: None})
    def delete(self, request: Request, pk: UUID) -> Response:
        """Revoke one of one's tokens, at once."""
        token = DeviceToken.objects.filter(pk=pk, person=self.person).first()
        if token is None:
            raise not_found()
        self.allow(token)
        with transaction.atomic():
            tokens.revoke(person=self.person, token_id=pk)
            note(self, token)
        return Response(status=204)


class PeopleView(DoorView):
    verbs = {"GET": "see"}

    @extend_schema(responses=listing(PersonOut))
    def get(self, request: Request) -> Response:
        """People whom one sees: those of one's firm, or of the projects and companies one is named for."""
        people = self.seen(Person.objects)
        return Response(page_of(request, people, order=("name", "id"), show=lambda row: PersonOut(row).data))


class MembershipsView(DoorView):
    verbs = {"GET": "see", "POST": "manage_people"}

    @extend_schema(responses=listing(MembershipOut))
    def get(self, request: Request) -> Response:
        """Roles that one sees, those that have ended among them."""
        rows = self.seen(Membership.objects)
        return Response(page_of(request, rows, order=("since", "id"), show=lambda row: MembershipOut(row).data))

    @extend_schema(request=MembershipIn, responses={201: MembershipOut})
    def post(self, request: Request) -> Response:
        """Give somebody a role. Who has the address keeps name and password; otherwise the person is made."""
        values = read(MembershipIn, request)
        scope, role = values["scope"], Role(values["role"])
        if scope["kind"] not in SCOPES_OF_ROLE[role]:
            fits = " or ".join(sorted(SCOPES_OF_ROLE[role]))
            raise wrong("/scope/kind", "scope_does_not_fit", f"A {role.label} has a {fits}.", f"Send {fits}.")
        place = self.visible(_SCOPED[scope["kind"]], scope["id"])
        person = self._person(values)  # with its password hashed before the transaction: others need not wait for that
        with transaction.atomic():
            if person._state.adding:
                add(self, person)
            held = Membership.objects.in_force().filter(person=person, role=role, **{scope["kind"]: place}).first()
            if held is not None:
                raise Problem(409, "exists", "There is one already", "They have this role.", extra={"id": str(held.pk)})
            membership = add(self, Membership(person=person, role=role, **{scope["kind"]: place}))
        return Response(MembershipOut(membership).data, status=201)

    def _person(self, values: dict[str, Any]) -> Person:
        """Who has that address, or a new person that is not kept yet."""
        email = values["email"].strip().lower()
        known = Person.objects.filter(email__iexact=email).first()
        if known is not None:
            return known
        person = Person(email=email, name=values["name"])
        password = values.get("password")
        if password is not None:
            try:
                validate_password(password, person)
            except ValidationError as error:
                raise wrong("/password", "weak", " ".join(error.messages), "Choose a longer one.") from error
        person.set_password(password)
        return person


class MembershipView(DoorView):
    verbs = {"DELETE": "manage_people"}

    @extend_schema(responses={204: None})
    def delete(self, request: Request, pk: UUID) -> Response:
        """End a role now. It is kept as having been; the firm's last lead stays."""
        membership = self.visible(Membership.objects, pk)
        with transaction.atomic():
            if membership.firm_id and membership.role == Role.LEAD:
                others = Membership.objects.in_force().filter(firm=membership.firm_id, role=Role.LEAD)
                if not others.exclude(pk=membership.pk).exists():
                    raise Problem(409, "last_lead", "The firm needs a lead", "Name another lead first.")
            Membership.objects.in_force().filter(pk=membership.pk).update(until=timezone.now())
            note(self, membership)
        return Response(status=204)
