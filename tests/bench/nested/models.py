"""A record of readings as tables: one row, and one per reading."""

from typing import ClassVar

from django.db import models

from portfolio.models import Position


class Sheet(models.Model):
    client_id = models.UUIDField(unique=True)
    position = models.ForeignKey(Position, on_delete=models.CASCADE, related_name="+")
    kind = models.CharField(max_length=40)
    observed_at = models.DateTimeField()
    observed_by = models.UUIDField()
    stage = models.CharField(max_length=20)
    session = models.CharField(max_length=100)
    grade = models.CharField(max_length=20)
    port = models.CharField(max_length=20)
    width_mm = models.FloatField()
    height_mm = models.FloatField()
    dry_bulb_c = models.FloatField()
    relative_humidity = models.FloatField()
    created_at = models.DateTimeField(auto_now_add=True)

    objects: ClassVar[models.Manager["Sheet"]] = models.Manager()

    class Meta:
        app_label = "nested"

    def __str__(self) -> str:
        return str(self.client_id)


class Reading(models.Model):
    sheet = models.ForeignKey(Sheet, on_delete=models.CASCADE, related_name="readings")
    number = models.PositiveSmallIntegerField()
    value = models.FloatField()
    unit = models.CharField(max_length=10)

    objects: ClassVar[models.Manager["Reading"]] = models.Manager()

    class Meta:
        app_label = "nested"

    def __str__(self) -> str:
        return f"{self.number}: {self.value} {self.unit}"
