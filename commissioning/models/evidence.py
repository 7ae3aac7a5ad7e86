"""What came from the field: the exact bytes, and their parse."""

from typing import TYPE_CHECKING

from django.db import models

from portfolio.models import DeviceToken, Person, Position, Project

if TYPE_CHECKING:
    from portfolio.models import Person as PersonType


class SubmissionQuerySet(models.QuerySet["Submission"]):
    def visible_to(self, person: "PersonType") -> "SubmissionQuerySet":
        """One's own, and those of the positions one sees."""
        seen = Position.objects.visible_to(person).values("id")
        return self.filter(models.Q(person=person) | models.Q(record__position__in=seen))


class Submission(models.Model):
    """An envelope as it arrived, for ever. A trigger refuses any change (portfolio.models.insert_only)."""

    id = models.BigAutoField(primary_key=True)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="submissions")
    client_id = models.UUIDField(db_index=True)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="submissions")
    sha256 = models.CharField(max_length=64, db_index=True)
    raw = models.BinaryField()
    receipt = models.BinaryField()  # the exact reply, so that a replay is byte-equal
    received_at = models.DateTimeField()
    token = models.ForeignKey(DeviceToken, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    objects = SubmissionQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["person", "client_id"], name="one_submission_per_client_id")]

    def __str__(self) -> str:
        return str(self.client_id)


class Record(models.Model):
    """The parse of a submission: can be burnt and made again from the bytes."""

    submission = models.OneToOneField(Submission, primary_key=True, on_delete=models.CASCADE, related_name="record")
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="records")
    kind = models.CharField(max_length=40)
    observed_at = models.DateTimeField()
    observed_by = models.UUIDField()
    is_final = models.BooleanField(default=False)
    session = models.CharField(max_length=100, blank=True)
    problems = models.JSONField(default=list)
    needs_attention = models.BooleanField(default=False)  # has problems: kept, shown, never evaluated
    parse_version = models.PositiveSmallIntegerField()

    class Meta:
        indexes = [models.Index(fields=["position", "observed_at"])]

    def __str__(self) -> str:
        return f"{self.kind} of {self.position_id} at {self.observed_at}"


class Supersession(models.Model):
    """`record` says that the envelope `names` no longer stands; it may arrive before what it names."""

    record = models.ForeignKey(Record, on_delete=models.CASCADE, related_name="supersedes")
    names = models.UUIDField(db_index=True)
    reason = models.CharField(max_length=400)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["record", "names"], name="supersedes_once")]

    def __str__(self) -> str:
        return f"{self.record_id} supersedes {self.names}"


class RecordPhoto(models.Model):
    """A photo that a record names; the bytes may arrive before or after it."""

    record = models.ForeignKey(Record, on_delete=models.CASCADE, related_name="photos")
    sha256 = models.CharField(max_length=64, db_index=True)
    caption = models.CharField(max_length=400, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["record", "sha256"], name="photo_once_per_record")]

    def __str__(self) -> str:
        return self.caption or self.sha256[:12]
