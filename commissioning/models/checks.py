"""What a firm has of its own in the checks before a test: versions, kept for ever."""

import uuid

from django.db import models

from portfolio.models import Firm, Person
from portfolio.models.reach import Scope


class OwnChecksQuerySet(models.QuerySet["OwnChecks"]):
    def newest(self) -> "OwnChecksQuerySet":
        """Of each firm the version that holds."""
        later = OwnChecks.objects.filter(firm=models.OuterRef("firm"), version__gt=models.OuterRef("version"))
        return self.filter(~models.Exists(later))


class OwnChecks(models.Model):
    """A version, as it was handed in and as it is judged by. Insert-only: judgements name it."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    firm = models.ForeignKey(Firm, on_delete=models.PROTECT, related_name="own_checks")
    version = models.PositiveIntegerField()
    text = models.TextField()
    document = models.JSONField()
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)

    objects = OwnChecksQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["firm", "version"], name="own_checks_version_once_per_firm")]

    def __str__(self) -> str:
        return f"the firm's own checks, version {self.version}"

    def access_scope(self) -> Scope:
        return Scope(firm_id=self.firm_id)
