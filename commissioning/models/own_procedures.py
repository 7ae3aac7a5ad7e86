"""What a firm has of its own in the functional procedures: versions, kept for ever."""

import uuid

from django.db import models

from portfolio.models import Firm, Person
from portfolio.models.reach import Scope


class OwnProceduresQuerySet(models.QuerySet["OwnProcedures"]):
    def newest(self) -> "OwnProceduresQuerySet":
        """Of each firm the version that holds."""
        later = OwnProcedures.objects.filter(firm=models.OuterRef("firm"), version__gt=models.OuterRef("version"))
        return self.filter(~models.Exists(later))


class OwnProcedures(models.Model):
    """A version, as it was handed in and as it is judged by. Insert-only: judgements name it."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    firm = models.ForeignKey(Firm, on_delete=models.PROTECT, related_name="own_procedures")
    version = models.PositiveIntegerField()
    text = models.TextField()
    document = models.JSONField()
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)

    objects = OwnProceduresQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["firm", "version"], name="own_procedures_version_once_per_firm")]

    def __str__(self) -> str:
        return f"the firm's own procedures, version {self.version}"

    def access_scope(self) -> Scope:
        return Scope(firm_id=self.firm_id)
