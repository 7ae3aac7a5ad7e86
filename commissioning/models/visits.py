"""When somebody goes to a unit, and who: planned by the lead, in versions that are never changed. The newest holds."""

import uuid

from django.db import models

from portfolio.models import Person, Position
from portfolio.models.reach import Scope


class VisitQuerySet(models.QuerySet["Visit"]):
    def newest(self) -> "VisitQuerySet":
        later = Visit.objects.filter(position=models.OuterRef("position"), version__gt=models.OuterRef("version"))
        return self.filter(~models.Exists(later))


class Visit(models.Model):
    """Without a day the visit was taken off the plan; without a person nobody is named for it yet."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="visits")
    version = models.PositiveIntegerField()
    day = models.DateField(null=True, blank=True)
    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    planned_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    planned_at = models.DateTimeField()

    objects = VisitQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["position", "version"], name="visit_version_once")]

    def __str__(self) -> str:
        return f"visit {self.version} of {self.position_id}"

    def access_scope(self) -> Scope:
        return self.position.access_scope()
