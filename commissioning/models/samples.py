"""Verification samples: which units were drawn to be repeated, of which population, by which seed. Never changed.

Only the draw is kept; what came of it follows from the verdicts (commissioning.samples.results).
"""

import uuid
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from django.db import models
from django.db.models.functions import Coalesce

from portfolio.models import Building, Person, Position, Project
from portfolio.models.reach import Scope

if TYPE_CHECKING:
    from portfolio.models import Person as PersonType


class SampleQuerySet(models.QuerySet["Sample"]):
    def visible_to(self, person: "PersonType") -> "SampleQuerySet":
        """A sample is seen by who sees every unit of its population, and not as a contractor only.

        Who knows beforehand which units are repeated can look after just these.
        """
        reach = replace(person.reach, companies=frozenset())
        seen = Building.objects.filter(reach.buildings_seen()).values("id")
        hidden = Position.objects.exclude(building__in=seen)
        return self.filter(project__in=Project.objects.visible_to(person).values("id")).exclude(
            units__position__in=hidden.values("id")
        )

    def standing(self) -> "SampleQuerySet":
        """Those that no later enlargement takes the place of."""
        later = Sample.objects.filter(first=models.OuterRef("chain"), enlargement__gt=models.OuterRef("enlargement"))
        return self.annotate(chain=Coalesce("first", "pk")).filter(~models.Exists(later))


class Sample(models.Model):
    """One draw. An enlargement after a failure is another one, of the same order, that names the first."""

    class SeedBy(models.TextChoices):
        TYPED = "typed", "typed by the lead"
        SERVER = "server", "made at random by the server"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="samples")
    number = models.PositiveIntegerField()
    title = models.CharField(max_length=200)  # what its population is called
    first = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="enlargements")
    enlargement = models.PositiveSmallIntegerField(default=0)  # 0 the first draw, 1 twice as many, 2 every unit
    seed = models.CharField(max_length=100)
    seed_by = models.CharField(max_length=10, choices=SeedBy.choices)
    plan = models.JSONField()  # confidence, share, accepted failures, and by stratum what follows from them
    drawn_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    drawn_at = models.DateTimeField()

    objects = SampleQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["project", "number"], name="sample_number_once_per_project"),
            models.UniqueConstraint(fields=["first", "enlargement"], name="sample_enlarged_once"),
        ]

    def __str__(self) -> str:
        return f"Sample {self.number}, {self.title}"

    @property
    def strata(self) -> list[dict[str, Any]]:
        held: list[dict[str, Any]] = self.plan["strata"]
        return held

    @property
    def procedure(self) -> str:
        """The functional test that is sampled; '' where airflows are repeated."""
        return str(self.plan.get("procedure", ""))

    def access_scope(self) -> Scope:
        buildings = frozenset(self.units.values_list("position__building", flat=True))
        return replace(self.project.access_scope(), building_ids=buildings)


class SampleUnit(models.Model):
    """A unit of a sample's population as it was, with its place in the order of its stratum's draw."""

    id = models.BigAutoField(primary_key=True)
    sample = models.ForeignKey(Sample, on_delete=models.PROTECT, related_name="units")
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="samples")
    stratum = models.CharField(max_length=20)
    rank = models.PositiveIntegerField()  # 1 is drawn first
    drawn = models.BooleanField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["sample", "position"], name="unit_once_per_sample")]

    def __str__(self) -> str:
        return f"{self.stratum} {self.rank} of {self.sample_id}"
