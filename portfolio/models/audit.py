"""Who did what to which object: one row in the same transaction as the act, never changed."""

from django.db import models


class AuditEvent(models.Model):
    id = models.BigAutoField(primary_key=True)
    at = models.DateTimeField(auto_now_add=True)
    person_id = models.UUIDField(null=True, blank=True)
    token_id = models.UUIDField(null=True, blank=True)
    request_id = models.CharField(max_length=40, blank=True)
    verb = models.CharField(max_length=40)
    object_type = models.CharField(max_length=40)
    object_id = models.CharField(max_length=64)
    project_id = models.UUIDField(null=True, blank=True)
    detail = models.JSONField(default=dict)

    class Meta:
        indexes = [models.Index(fields=["object_type", "object_id"])]

    def __str__(self) -> str:
        return f"{self.verb} {self.object_type} {self.object_id}"
