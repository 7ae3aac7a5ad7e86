"""Site, building, system, space, position and the machine in it.

A tag is a place; a serial is what sits there from date to date.
"""

import uuid
from collections.abc import Collection
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from django.db import models, transaction

from portfolio.models.parties import Project
from portfolio.models.prepared import Prepared
from portfolio.models.reach import Scope as Place

if TYPE_CHECKING:
    from portfolio.models.people import Person


class SiteQuerySet(models.QuerySet["Site"]):
    def visible_to(self, person: "Person") -> "SiteQuerySet":
        return self.filter(id__in=Building.objects.visible_to(person).values("site")) | self.filter(
            id__in=Site.objects.filter(person.reach.projects_whole("project__")).values("id")
        )


class Site(models.Model):
    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="sites")
    name = models.CharField(max_length=200)
    address = models.CharField(max_length=400, blank=True)
    time_zone = models.CharField(max_length=64)
    elevation_m = models.FloatField()

    objects = SiteQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["project", "name"], name="site_name_once_per_project")]

    def __str__(self) -> str:
        return self.name

    def access_scope(self) -> Place:
        return self.project.access_scope()


class BuildingQuerySet(models.QuerySet["Building"]):
    def visible_to(self, person: "Person") -> "BuildingQuerySet":
        seen = Building.objects.filter(person.reach.buildings_seen()).values("id")
        return self.filter(id__in=seen)


class Building(models.Model):
    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="buildings")
    name = models.CharField(max_length=200)

    objects = BuildingQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["site", "name"], name="building_name_once_per_site")]

    def __str__(self) -> str:
        return self.name

    def access_scope(self) -> Place:
        return replace(self.site.access_scope(), building_id=self.id)


class InBuildingQuerySet(models.QuerySet[Any]):
    """Systems and spaces are seen by who sees their building."""

    def visible_to(self, person: "Person") -> "InBuildingQuerySet":
        return self.filter(building__in=Building.objects.visible_to(person).values("id"))


class System(models.Model):
    """Positions that share a duct or a pressure, such as units on one riser."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    building = models.ForeignKey(Building, on_delete=models.PROTECT, related_name="systems")
    name = models.CharField(max_length=100)

    objects = InBuildingQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["building", "name"], name="system_name_once")]

    def __str__(self) -> str:
        return self.name

    def access_scope(self) -> Place:
        return self.building.access_scope()


class ServedSpace(models.Model):
    """A room or zone that gets its air from one or more positions."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    building = models.ForeignKey(Building, on_delete=models.PROTECT, related_name="spaces")
    name = models.CharField(max_length=200)

    objects = InBuildingQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["building", "name"], name="space_name_once")]

    def __str__(self) -> str:
        return self.name

    def access_scope(self) -> Place:
        return self.building.access_scope()


class PositionQuerySet(models.QuerySet["Position"]):
    def visible_to(self, person: "Person") -> "PositionQuerySet":
        seen = Building.objects.filter(person.reach.buildings_seen()).values("id")
        return self.filter(building__in=seen)


class Position(models.Model):
    """A tag: the place of a unit. Machines come and go; design and issues stay with the place."""

    class Kind(models.TextChoices):
        ERV = "erv", "Energy recovery ventilator"
        HRV = "hrv", "Heat recovery ventilator"
        DOAS = "doas", "Dedicated outdoor air unit"
        AHU = "ahu", "Air handling unit"
        EXHAUST_FAN = "exhaust_fan", "Exhaust fan"
        MAKEUP_FAN = "makeup_fan", "Make-up air fan"
        OTHER = "other", "Other"

    class Scope(models.TextChoices):
        IN_SCOPE = "in_scope", "In scope"
        ADDED = "added", "Added"
        DELETED = "deleted", "Deleted"
        DEFERRED = "deferred", "Deferred"
        BY_OTHERS = "by_others", "By others"
        EXISTING = "existing", "Existing to remain"
        OUT_OF_SCOPE = "out_of_scope", "Out of scope"

    COUNTED = frozenset({Scope.IN_SCOPE, Scope.ADDED})

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    building = models.ForeignKey(Building, on_delete=models.PROTECT, related_name="positions")
    system = models.ForeignKey(System, null=True, blank=True, on_delete=models.SET_NULL, related_name="positions")
    spaces = models.ManyToManyField(ServedSpace, related_name="positions", blank=True)
    tag = models.CharField(max_length=60)
    kind = models.CharField(max_length=20, choices=Kind.choices)
    location = models.CharField(max_length=200, blank=True)
    scope = models.CharField(max_length=20, choices=Scope.choices, default=Scope.IN_SCOPE)
    scope_reason = models.CharField(max_length=400, blank=True)

    objects = PositionQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["building", "tag"], name="tag_once_per_building")]
        indexes = [models.Index(fields=["tag"])]

    def __str__(self) -> str:
        return self.tag

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Its standing repeats building and tag for the lists, and goes along."""
        from portfolio.models.standing import Standing

        with transaction.atomic():
            super().save(*args, **kwargs)
            Standing.objects.filter(pk=self.pk).update(building=self.building_id, tag=self.tag)

    @property
    def is_counted(self) -> bool:
        return self.scope in self.COUNTED

    def access_scope(self) -> Place:
        return self.building.access_scope()

    @classmethod
    def lie(cls, ids: Collection[uuid.UUID]) -> dict[uuid.UUID, Place]:
        """Where these lie, whoever asks: the same as `access_scope` of each, and nothing else of them."""
        rows = _LIES(*ids) if len(ids) == 1 else _lie(ids)
        return {
            position: Place(firm_id=firm, owner_id=owner, project_id=project, building_id=building)
            for position, building, project, owner, firm in rows
        }


def _lie(ids: Collection[uuid.UUID]) -> models.QuerySet[Position, Any]:
    project = "building__site__project"
    names = ("pk", "building", project, f"{project}__owner", f"{project}__firm")
    return Position.objects.filter(pk__in=ids).values_list(*names)


_LIES = Prepared(lambda id: _lie([id]), uuid.UUID)


class TagAlias(models.Model):
    """A name that a position had, or has beside its tag."""

    position = models.ForeignKey(Position, on_delete=models.CASCADE, related_name="aliases")
    tag = models.CharField(max_length=60)
    since = models.DateField(null=True, blank=True)
    until = models.DateField(null=True, blank=True)

    def __str__(self) -> str:
        return self.tag


class Machine(models.Model):
    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="machines")
    serial = models.CharField(max_length=100)
    maker = models.CharField(max_length=100, blank=True)
    model = models.CharField(max_length=100, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["project", "serial"], name="serial_once_per_project")]

    def __str__(self) -> str:
        return self.serial


class InstallationQuerySet(models.QuerySet["Installation"]):
    def visible_to(self, person: "Person") -> "InstallationQuerySet":
        return self.filter(position__in=Position.objects.visible_to(person).values("id"))


class Installation(models.Model):
    """A machine in a position, from a date to a date (the end is open while it sits there)."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="installations")
    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="installations")
    since = models.DateField()
    until = models.DateField(null=True, blank=True)

    objects = InstallationQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["position"], condition=models.Q(until__isnull=True), name="one_machine_in_a_position"
            ),
            models.UniqueConstraint(
                fields=["machine"], condition=models.Q(until__isnull=True), name="a_machine_in_one_position"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.machine} in {self.position} since {self.since}"

    def access_scope(self) -> Place:
        return self.position.access_scope()
