"""The job table: what is to be done, who does it now, and how far it is."""

from django.db import models


class Job(models.Model):
    """One row per (kind, subject), for ever. A cause raises `wanted`; a finish sets `done` to the wanted it saw.

    So bursts coalesce, nothing runs on stale input, and re-judging ten thousand positions is one UPDATE.
    """

    id = models.BigAutoField(primary_key=True)
    kind = models.CharField(max_length=20)
    subject = models.UUIDField()
    wanted = models.PositiveBigIntegerField(default=1)
    done = models.PositiveBigIntegerField(default=0)
    claimed = models.PositiveBigIntegerField(default=0)  # the wanted that the present claim saw
    due = models.BooleanField(default=True)  # wanted > done and not given up: what the index is for
    tries = models.PositiveSmallIntegerField(default=0)
    token = models.UUIDField(null=True, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    not_before = models.DateTimeField(null=True, blank=True)
    published_at = models.DateTimeField(null=True, blank=True)
    steps_done = models.PositiveIntegerField(default=0)
    steps_all = models.PositiveIntegerField(default=0)
    error = models.TextField(blank=True)
    changed_at = models.DateTimeField(auto_now=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["kind", "subject"], name="one_job_per_subject")]
        indexes = [models.Index(fields=["kind", "id"], condition=models.Q(due=True), name="job_due")]

    def __str__(self) -> str:
        return f"{self.kind} {self.subject}"


class Beat(models.Model):
    """What a relay or worker last consumed: proof of work, not of life."""

    name = models.CharField(primary_key=True, max_length=100)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.name} at {self.at}"
