"""Instruments and their calibrations."""

import uuid
from typing import TYPE_CHECKING

from django.db import models

from portfolio.models.parties import Firm, Project
from portfolio.models.reach import Scope

if TYPE_CHECKING:
    from portfolio.models.people import Person


class InstrumentQuerySet(models.QuerySet["Instrument"]):
    def visible_to(self, person: "Person") -> "InstrumentQuerySet":
        firms = Project.objects.visible_to(person).values("firm")
        return self.filter(person.reach.directory("firm") | models.Q(firm__in=firms))


class Instrument(models.Model):
    """`accuracy` and `resolution` are in the dossier's form, with their units."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    firm = models.ForeignKey(Firm, on_delete=models.PROTECT, related_name="instruments")
    name = models.CharField(max_length=200)
    kind = models.CharField(max_length=60)
    serial = models.CharField(max_length=100)
    accuracy = models.JSONField()
    resolution = models.JSONField(null=True, blank=True)

    objects = InstrumentQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["firm", "serial"], name="instrument_serial_once")]

    def __str__(self) -> str:
        return f"{self.name} {self.serial}"

    def access_scope(self) -> Scope:
        return Scope(firm_id=self.firm_id)


class Calibration(models.Model):
    class AsFound(models.TextChoices):
        WITHIN = "within", "within its limits"
        OUTSIDE = "outside", "outside its limits"
        NOT_STATED = "not_stated", "not stated"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    instrument = models.ForeignKey(Instrument, on_delete=models.PROTECT, related_name="calibrations")
    certificate = models.CharField(max_length=100)
    on = models.DateField()
    due = models.DateField()
    as_found = models.CharField(max_length=12, choices=AsFound.choices, default=AsFound.NOT_STATED)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["instrument", "certificate"], name="certificate_once"),
            models.CheckConstraint(condition=models.Q(due__gte=models.F("on")), name="calibration_due_not_before_done"),
        ]

    def __str__(self) -> str:
        return f"{self.certificate} of {self.on}"
