"""Closeout binders: what was asked for, what was frozen, what was rendered."""

import uuid
from dataclasses import replace
from typing import TYPE_CHECKING

from django.db import models

from portfolio.models import Blob, Building, Person, Position, Project
from portfolio.models.reach import Scope

if TYPE_CHECKING:
    from portfolio.models import Person as PersonType


class BinderQuerySet(models.QuerySet["Binder"]):
    def visible_to(self, person: "PersonType") -> "BinderQuerySet":
        """A binder is seen by who sees every position in it, and not as a contractor only.

        It tells the story of every issue, whichever company had it; a contractor sees only its own.
        """
        reach = replace(person.reach, companies=frozenset())
        seen = Building.objects.filter(reach.buildings_seen()).values("id")
        hidden = Position.objects.exclude(building__in=seen)
        return self.filter(project__in=Project.objects.visible_to(person).values("id")).exclude(
            positions__in=hidden.values("id")
        )


class Binder(models.Model):
    """A named set of units handed over. Rendered by a job from frozen JSON only."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="binders")
    title = models.CharField(max_length=200)
    positions = models.ManyToManyField(Position, related_name="binders")
    asked_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(auto_now_add=True)
    input_hash = models.CharField(max_length=64, blank=True)
    frozen = models.ForeignKey(Blob, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    document = models.ForeignKey(Blob, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    pages = models.PositiveIntegerField(default=0)
    built_at = models.DateTimeField(null=True, blank=True)

    objects = BinderQuerySet.as_manager()

    def __str__(self) -> str:
        return self.title

    def access_scope(self) -> Scope:
        buildings = frozenset(self.positions.values_list("building", flat=True))
        return replace(self.project.access_scope(), building_ids=buildings)
