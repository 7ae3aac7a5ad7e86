"""People, what they may reach, and the devices that speak for them."""

import uuid
from datetime import datetime
from functools import cached_property
from typing import Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models import Q
from django.utils import timezone

from portfolio.models.parties import Company, Firm, Owner, Project
from portfolio.models.places import Building
from portfolio.models.prepared import Prepared
from portfolio.models.reach import Reach
from portfolio.models.reach import Scope as Place


class PersonQuerySet(models.QuerySet["Person"]):
    def visible_to(self, person: "Person") -> "PersonQuerySet":
        """Oneself, and who has a role near: see `MembershipQuerySet.visible_to`."""
        return self.filter(Q(id=person.id) | Q(id__in=Membership.objects.visible_to(person).values("person")))


class PersonManager(BaseUserManager["Person"]):
    def get_queryset(self) -> PersonQuerySet:
        return PersonQuerySet(self.model, using=self._db)

    def visible_to(self, person: "Person") -> PersonQuerySet:
        return self.get_queryset().visible_to(person)

    def create_person(self, email: str, name: str, password: str | None = None) -> "Person":
        person = self.model(email=self.normalize_email(email), name=name)
        person.set_password(password)
        person.save(using=self._db)
        return person


class Person(AbstractBaseUser):
    """The only table that holds a person's name and address: erasing a row's values erases the person."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    email = models.EmailField(unique=True)
    name = models.CharField(max_length=200)
    is_active = models.BooleanField(default=True)

    objects: ClassVar[PersonManager] = PersonManager()
    USERNAME_FIELD = "email"
    only_project: uuid.UUID | None = None  # set for one request by a token that is limited to a project

    def __str__(self) -> str:
        return self.name

    def access_scope(self) -> Place:
        return Place(person_id=self.id)

    @cached_property
    def memberships_in_force(self) -> list["Membership"]:
        return _IN_FORCE(timezone.now(), self.pk)

    @cached_property
    def reach(self) -> Reach:
        """Read once per request; a revoked membership is gone at the next one."""

        def ids(scope: str) -> frozenset[Any]:
            return frozenset(filter(None, (getattr(m, f"{scope}_id") for m in self.memberships_in_force)))

        return Reach(
            firms=ids("firm"),
            owners=ids("owner"),
            projects=ids("project"),
            buildings=ids("building"),
            companies=ids("company"),
            only_project=self.only_project,
        )


class Role(models.TextChoices):
    LEAD = "lead", "Commissioning lead"
    TECHNICIAN = "technician", "Technician"
    CONTRACTOR = "contractor", "Contractor"
    OWNER = "owner", "Owner"
    ENGINEER = "engineer", "Engineer of record"


SCOPES = ("firm", "owner", "project", "building", "company")
SCOPES_OF_ROLE = {
    Role.LEAD: {"firm", "project", "building"},
    Role.TECHNICIAN: {"firm", "project", "building"},
    Role.CONTRACTOR: {"company"},
    Role.OWNER: {"owner", "project", "building"},
    Role.ENGINEER: {"project", "building"},
}


def _exactly_one_scope() -> Q:
    condition = Q()
    for scope in SCOPES:
        condition |= Q(**{f"{other}__isnull": other != scope for other in SCOPES})
    return condition


class MembershipQuerySet(models.QuerySet["Membership"]):
    def in_force(self, at: datetime | None = None) -> "MembershipQuerySet":
        return self.filter(Q(until__isnull=True) | Q(until__gt=at or timezone.now()), person__is_active=True)

    def visible_to(self, person: Person) -> "MembershipQuerySet":
        """One's own; those in one's firm, or in the project, building or company one is named for."""
        reach = person.reach
        near = Q(project__in=reach.projects) | Q(building__in=reach.buildings) | Q(company__in=reach.companies)
        for path in ("firm", "owner__firm", "project__firm", "building__site__project__firm", "company__firm"):
            near |= reach.directory(path)
        return self.filter(Q(person=person) | near)


class Membership(models.Model):
    """A person's role in exactly one scope, from a moment to a moment."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=20, choices=Role.choices)
    firm = models.ForeignKey(Firm, null=True, blank=True, on_delete=models.CASCADE, related_name="memberships")
    owner = models.ForeignKey(Owner, null=True, blank=True, on_delete=models.CASCADE, related_name="+")
    project = models.ForeignKey(Project, null=True, blank=True, on_delete=models.CASCADE, related_name="+")
    building = models.ForeignKey(Building, null=True, blank=True, on_delete=models.CASCADE, related_name="+")
    company = models.ForeignKey(Company, null=True, blank=True, on_delete=models.CASCADE, related_name="memberships")
    since = models.DateTimeField(default=timezone.now)
    until = models.DateTimeField(null=True, blank=True)

    objects = MembershipQuerySet.as_manager()

    class Meta:
        constraints = [models.CheckConstraint(condition=_exactly_one_scope(), name="membership_one_scope")]

    def __str__(self) -> str:
        return f"{self.person_id} as {self.role}"

    @property
    def scope(self) -> str:
        return next(scope for scope in SCOPES if getattr(self, f"{scope}_id") is not None)

    @property
    def scope_object(self) -> Firm | Owner | Project | Building | Company:
        found: Firm | Owner | Project | Building | Company = getattr(self, self.scope)
        return found

    def access_scope(self) -> Place:
        """Where it gives a role: who manages people there may end it."""
        return self.scope_object.access_scope()


_IN_FORCE = Prepared(lambda at, person: Membership.objects.in_force(at).filter(person=person), datetime, uuid.UUID)


class DeviceToken(models.Model):
    """What a device shows instead of a password. Only a digest is kept; the secret is shown once."""

    class Scope(models.TextChoices):
        SUBMIT = "submit", "Submit evidence, read what is needed for it"
        READ = "read", "Read"
        ACT = "act", "Do whatever the person may do"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="tokens")
    digest = models.CharField(max_length=64, unique=True)
    label = models.CharField(max_length=100)
    scope = models.CharField(max_length=10, choices=Scope.choices)
    project = models.ForeignKey(Project, null=True, blank=True, on_delete=models.CASCADE, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_used_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.label} of {self.person_id}"

    def access_scope(self) -> Place:
        return Place(person_id=self.person_id)
