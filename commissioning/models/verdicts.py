"""What follows from the evidence. All of it can be burnt and made again."""

from django.db import models

from portfolio.models import Position


class JudgedPosition(models.Model):
    """The last judging of a position: the hash of everything it rested on, and what was measured."""

    position = models.OneToOneField(Position, primary_key=True, on_delete=models.CASCADE, related_name="judged")
    inputs_hash = models.CharField(max_length=64)
    rules_hash = models.CharField(max_length=64)
    measurements = models.JSONField(default=list)
    problems = models.JSONField(default=list)
    band = models.JSONField(null=True, blank=True)  # of the worst port, as the block's JSON
    judged_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.position_id} judged {self.judged_at}"


class Judgement(models.Model):
    """A requirement applied to what was measured. A row is added only when something differs."""

    id = models.BigAutoField(primary_key=True)
    position = models.ForeignKey(Position, on_delete=models.CASCADE, related_name="judgements")
    requirement = models.CharField(max_length=40)
    port = models.CharField(max_length=20, blank=True)  # '' is the unit as a whole
    inputs_hash = models.CharField(max_length=64)
    rule_version = models.PositiveSmallIntegerField()
    result_hash = models.CharField(max_length=64)
    result = models.JSONField()
    made_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["position", "requirement", "port", "inputs_hash", "rule_version", "result_hash"],
                name="a_judgement_once",
            )
        ]

    def __str__(self) -> str:
        return f"{self.position_id} {self.requirement} {self.port}"


class CurrentVerdict(models.Model):
    """Which judgement holds now, with its outcome beside it for the reading of lists."""

    position = models.ForeignKey(Position, on_delete=models.CASCADE, related_name="verdicts")
    requirement = models.CharField(max_length=40)
    port = models.CharField(max_length=20, blank=True)
    judgement = models.ForeignKey(Judgement, on_delete=models.CASCADE, related_name="+")
    outcome = models.CharField(max_length=20)  # one of three verdicts, or why there is none
    provisional = models.BooleanField(default=False)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["position", "requirement", "port"], name="one_current_verdict")]
        indexes = [models.Index(fields=["requirement", "outcome"])]

    def __str__(self) -> str:
        return f"{self.position_id} {self.requirement} {self.port}: {self.outcome}"


class VerdictChange(models.Model):
    """The transition: one row feeds history, the weekly sheet and the count of call-outs."""

    id = models.BigAutoField(primary_key=True)
    position = models.ForeignKey(Position, on_delete=models.CASCADE, related_name="verdict_changes")
    requirement = models.CharField(max_length=40)
    port = models.CharField(max_length=20, blank=True)
    before = models.CharField(max_length=20, blank=True)
    after = models.CharField(max_length=20, blank=True)
    judgement = models.ForeignKey(Judgement, null=True, on_delete=models.SET_NULL, related_name="+")
    at = models.DateTimeField(db_index=True)

    def __str__(self) -> str:
        return f"{self.requirement} {self.port}: {self.before} -> {self.after}"
