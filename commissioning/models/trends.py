"""Trend logs on their way in: the upload, what its file was understood as, and the mappings of a building's sources."""

import uuid
from typing import TYPE_CHECKING

from django.db import models

from portfolio.models import Blob, Building, Person, Position
from portfolio.models.reach import Scope

if TYPE_CHECKING:
    from portfolio.models import Person as PersonType


class LogMappingQuerySet(models.QuerySet["LogMappingVersion"]):
    def visible_to(self, person: "PersonType") -> "LogMappingQuerySet":
        return self.filter(building__in=Building.objects.visible_to(person).values("id"))

    def newest(self) -> "LogMappingQuerySet":
        """The newest version of each source."""
        later = LogMappingVersion.objects.filter(
            building=models.OuterRef("building"),
            source_key=models.OuterRef("source_key"),
            version__gt=models.OuterRef("version"),
        )
        return self.filter(~models.Exists(later))


class LogMappingVersion(models.Model):
    """A version of what is said of one source's logs: its points, units and clock. Insert-only: records name it."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    building = models.ForeignKey(Building, on_delete=models.PROTECT, related_name="log_mappings")
    source = models.CharField(max_length=400)
    source_key = models.CharField(max_length=400)  # without regard to capitals
    version = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64)
    document = models.JSONField()
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)

    objects = LogMappingQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["building", "source_key", "version"], name="log_mapping_version_once")
        ]

    def __str__(self) -> str:
        return f"{self.source}, version {self.version}"

    def access_scope(self) -> Scope:
        return self.building.access_scope()


class TrendUploadQuerySet(models.QuerySet["TrendUpload"]):
    def visible_to(self, person: "PersonType") -> "TrendUploadQuerySet":
        return self.filter(position__in=Position.objects.visible_to(person).values("id"))


class TrendUpload(models.Model):
    """One file: its bytes as they come in, what was seen in it, and what came of it through a mapping."""

    class State(models.TextChoices):
        RECEIVING = "receiving", "coming in"
        READING = "reading", "being read"
        SEEN = "seen", "read, and waiting for its mapping"
        CONVERTED = "converted", "converted, and waiting to be accepted"
        FAILED = "failed", "not readable"
        ACCEPTED = "accepted", "accepted"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="trend_uploads")
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)
    file_name = models.CharField(max_length=255)
    size = models.PositiveBigIntegerField()
    sha256 = models.CharField(max_length=64)
    received = models.PositiveBigIntegerField(default=0)
    state = models.CharField(max_length=10, choices=State.choices, default=State.RECEIVING)
    blob = models.ForeignKey(Blob, null=True, on_delete=models.PROTECT, related_name="+")
    mapping = models.ForeignKey(LogMappingVersion, null=True, on_delete=models.PROTECT, related_name="+")
    seen = models.JSONField(default=dict)
    result = models.JSONField(default=dict)
    fault = models.TextField(blank=True)

    objects = TrendUploadQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["position", "made_at"], name="trend_uploads_of_unit")]

    def __str__(self) -> str:
        return f"{self.file_name}, {self.get_state_display()}"

    def access_scope(self) -> Scope:
        return self.position.access_scope()


class KeptLog(models.Model):
    """The Parquet that a file gives through a mapping. Derived: it can be burnt and made again of the two."""

    raw_sha256 = models.CharField(max_length=64)
    mapping_sha256 = models.CharField(max_length=64)
    version = models.PositiveIntegerField()  # of the conversion
    parquet = models.ForeignKey(Blob, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["raw_sha256", "mapping_sha256", "version"], name="one_kept_log_of_a_file")
        ]

    def __str__(self) -> str:
        return f"{self.raw_sha256[:12]} through {self.mapping_sha256[:12]}"
