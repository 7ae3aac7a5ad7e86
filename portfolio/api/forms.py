"""What goes in and comes out of the portfolio's routes. Unknown fields are refused, quantities carry their unit."""

import uuid
from functools import cache
from typing import Any

from drf_spectacular.utils import inline_serializer
from rest_framework import serializers

from portfolio.door.fields import Day, Id, Quantity, Strict, Text, TimeZone, Whole
from portfolio.models import Calibration, Company, DeviceToken, Position
from portfolio.models.people import SCOPES, Role

SCOPE_KINDS = [(scope, scope) for scope in SCOPES]


@cache
def listing(form: type[serializers.Serializer[Any]]) -> Any:
    """The shape of a page of `form`s, for the API's description."""
    name = f"{form.__name__.removesuffix('Out')}Page"
    following = serializers.CharField(allow_null=True, help_text="Where the next page is, or null.")
    return inline_serializer(name, {"results": form(many=True), "next": following})


class FirmOut(Strict):
    id = serializers.UUIDField()
    name = serializers.CharField()


class OwnerIn(Strict):
    name = Text(max_length=200)


class OwnerOut(Strict):
    id = serializers.UUIDField()
    firm = serializers.UUIDField(source="firm_id")
    name = serializers.CharField()


class CompanyIn(Strict):
    name = Text(max_length=200)
    trade = serializers.ChoiceField(choices=Company.Trade.choices)


class CompanyOut(Strict):
    id = serializers.UUIDField()
    firm = serializers.UUIDField(source="firm_id")
    name = serializers.CharField()
    trade = serializers.ChoiceField(choices=Company.Trade.choices)


class ScopeForm(Strict):
    kind = serializers.ChoiceField(choices=SCOPE_KINDS)
    id = Id()


class MembershipIn(Strict):
    email = serializers.EmailField(max_length=254)
    name = Text(max_length=200)
    password = Text(min_length=15, max_length=200, required=False, write_only=True, help_text="Of a new person only.")
    role = serializers.ChoiceField(choices=Role.choices)
    scope = ScopeForm()


class MembershipOut(Strict):
    id = serializers.UUIDField()
    person = serializers.UUIDField(source="person_id")
    role = serializers.ChoiceField(choices=Role.choices)
    scope = serializers.SerializerMethodField()
    since = serializers.DateTimeField()
    until = serializers.DateTimeField(allow_null=True)

    def get_scope(self, membership: Any) -> dict[str, str]:
        return {"kind": membership.scope, "id": str(getattr(membership, f"{membership.scope}_id"))}


class PersonOut(Strict):
    id = serializers.UUIDField()
    name = serializers.CharField()
    email = serializers.EmailField()


class MeOut(PersonOut):
    memberships = MembershipOut(many=True, source="memberships_in_force")


class TokenIn(Strict):
    label = Text(max_length=100)  # type: ignore[assignment]
    scope = serializers.ChoiceField(choices=DeviceToken.Scope.choices)
    days = Whole(min_value=1, max_value=400, default=90)
    project = Id(required=False, help_text="Limits the token to this project.")


class TokenOut(Strict):
    id = serializers.UUIDField()
    label = serializers.CharField()  # type: ignore[assignment]
    scope = serializers.ChoiceField(choices=DeviceToken.Scope.choices)
    project = serializers.UUIDField(source="project_id", allow_null=True)
    made_at = serializers.DateTimeField()
    expires_at = serializers.DateTimeField()
    revoked_at = serializers.DateTimeField(allow_null=True)
    last_used_at = serializers.DateTimeField(allow_null=True)


class TokenMade(TokenOut):
    secret = serializers.CharField(help_text="Shown this once.")


class ProjectIn(Strict):
    owner = Id()
    code = Text(max_length=40)
    name = Text(max_length=200)


class ProjectPatch(Strict):
    name = Text(max_length=200)
    parties = serializers.ListField(child=Id(), max_length=200, help_text="All companies that are party to it.")


class ProjectOut(Strict):
    id = serializers.UUIDField()
    firm = serializers.UUIDField(source="firm_id")
    owner = serializers.UUIDField(source="owner_id")
    code = serializers.CharField()
    name = serializers.CharField()
    parties = serializers.SerializerMethodField()

    def get_parties(self, project: Any) -> list[uuid.UUID]:
        return [company.pk for company in project.parties.all()]


class SiteIn(Strict):
    name = Text(max_length=200)
    address = Text(max_length=400, required=False, allow_blank=True)
    time_zone = TimeZone(max_length=64)
    elevation = Quantity("length", low=-500, high=6000)


class SiteOut(Strict):
    id = serializers.UUIDField()
    project = serializers.UUIDField(source="project_id")
    name = serializers.CharField()
    address = serializers.CharField()
    time_zone = serializers.CharField()
    elevation = Quantity("length", source="elevation_m")


class NameIn(Strict):
    name = Text(max_length=100)


class BuildingOut(Strict):
    id = serializers.UUIDField()
    site = serializers.UUIDField(source="site_id")
    name = serializers.CharField()


class InBuildingOut(Strict):
    id = serializers.UUIDField()
    building = serializers.UUIDField(source="building_id")
    name = serializers.CharField()


class PositionIn(Strict):
    tag = Text(max_length=60)
    kind = serializers.ChoiceField(choices=Position.Kind.choices)
    location = Text(max_length=200, required=False, allow_blank=True)
    system = Id(required=False, allow_null=True)
    spaces = serializers.ListField(child=Id(), max_length=100, required=False)


class PositionPatch(PositionIn):
    scope = serializers.ChoiceField(choices=Position.Scope.choices)
    reason = Text(max_length=400, help_text="Why the scope changes.")


class PositionOut(Strict):
    id = serializers.UUIDField()
    building = serializers.UUIDField(source="building_id")
    tag = serializers.CharField()
    kind = serializers.ChoiceField(choices=Position.Kind.choices)
    location = serializers.CharField()
    system = serializers.UUIDField(source="system_id", allow_null=True)
    spaces = serializers.SerializerMethodField()
    scope = serializers.ChoiceField(choices=Position.Scope.choices)
    scope_reason = serializers.CharField()
    aliases = serializers.SerializerMethodField()

    def get_spaces(self, position: Any) -> list[uuid.UUID]:
        return [space.pk for space in position.spaces.all()]

    def get_aliases(self, position: Any) -> list[str]:
        return [alias.tag for alias in position.aliases.all()]


class InstallationIn(Strict):
    serial = Text(max_length=100)
    maker = Text(max_length=100, required=False, allow_blank=True)
    model = Text(max_length=100, required=False, allow_blank=True)
    since = Day()


class InstallationEnd(Strict):
    until = Day()


class InstallationOut(Strict):
    id = serializers.UUIDField()
    position = serializers.UUIDField(source="position_id")
    serial = serializers.CharField(source="machine.serial")
    maker = serializers.CharField(source="machine.maker")
    model = serializers.CharField(source="machine.model")
    since = serializers.DateField()
    until = serializers.DateField(allow_null=True)


class CalibrationIn(Strict):
    certificate = Text(max_length=100)
    on = Day()
    due = Day()
    as_found = serializers.ChoiceField(choices=Calibration.AsFound.choices, default=Calibration.AsFound.NOT_STATED)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if attrs["due"] < attrs["on"]:
            raise serializers.ValidationError(
                {"due": "It is due before it was done. | Check both dates."}, "due_before_on"
            )
        return attrs


class CalibrationOut(Strict):
    id = serializers.UUIDField()
    instrument = serializers.UUIDField(source="instrument_id")
    certificate = serializers.CharField()
    on = serializers.DateField()
    due = serializers.DateField()
    as_found = serializers.ChoiceField(choices=Calibration.AsFound.choices)
