"""What the analysis of a trend log's samples said, for one unit. Derived: judging carries it, and it can be burnt."""

from typing import TYPE_CHECKING

from django.db import models

from portfolio.models import Position

if TYPE_CHECKING:
    from portfolio.models import Person as PersonType


class TrendAnalysisQuerySet(models.QuerySet["TrendAnalysis"]):
    def visible_to(self, person: "PersonType") -> "TrendAnalysisQuerySet":
        return self.filter(position__in=Position.objects.visible_to(person).values("id"))


class TrendAnalysis(models.Model):
    """`key` is the hash of all that it was made of: file, mapping, points, plan, and the versions of both steps."""

    id = models.BigAutoField(primary_key=True)
    position = models.ForeignKey(Position, on_delete=models.CASCADE, related_name="trend_analyses")
    file = models.CharField(max_length=64)
    mapping = models.CharField(max_length=64)
    key = models.CharField(max_length=64)
    found = models.JSONField()

    objects = TrendAnalysisQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["position", "file", "mapping"], name="one_analysis_of_a_log_at_a_unit")
        ]

    def __str__(self) -> str:
        return f"{self.file[:12]} through {self.mapping[:12]}"
