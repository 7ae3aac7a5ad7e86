"""Signatures for units: who signed, when, and for exactly which judgements. Never changed.

Whether one still holds is not kept: it is compared with what is judged now (commissioning.standing).
"""

import uuid

from django.db import models

from portfolio.models import Person, Position


class SignatureQuerySet(models.QuerySet["Signature"]):
    def newest(self) -> "SignatureQuerySet":
        """Of each position the last one."""
        later = Signature.objects.filter(position=models.OuterRef("position"), number__gt=models.OuterRef("number"))
        return self.filter(~models.Exists(later))


class Signature(models.Model):
    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="signatures")
    number = models.PositiveIntegerField()
    signed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    signed_at = models.DateTimeField()
    statement = models.JSONField()  # commissioning.judging.signing
    sha256 = models.CharField(max_length=64)  # of the statement
    note = models.CharField(max_length=500, blank=True)

    objects = SignatureQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["position", "number"], name="signature_number_once_per_position")
        ]

    def __str__(self) -> str:
        return f"signature {self.number} of {self.position_id}"
