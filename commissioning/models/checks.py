"""What a firm has of its own in the checks before a test: versions, kept for ever."""

from django.db import models

from commissioning.models.firm_versions import FirmVersion, FirmVersionQuerySet
from portfolio.models import Firm, Person
from portfolio.models.reach import Scope


class OwnChecksQuerySet(FirmVersionQuerySet["OwnChecks"]):
    pass


class OwnChecks(FirmVersion):
    firm = models.ForeignKey(Firm, on_delete=models.PROTECT, related_name="own_checks")
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    objects = OwnChecksQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["firm", "version"], name="own_checks_version_once_per_firm")]

    def __str__(self) -> str:
        return f"the firm's own checks, version {self.version}"

    def access_scope(self) -> Scope:
        return Scope(firm_id=self.firm_id)
