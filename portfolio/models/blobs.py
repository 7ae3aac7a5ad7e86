"""Files by their hash; the bytes lie in the blob directory."""

from django.db import models


class Blob(models.Model):
    sha256 = models.CharField(primary_key=True, max_length=64)
    size = models.PositiveBigIntegerField()
    media_type = models.CharField(max_length=100)
    kept_at = models.DateTimeField(auto_now_add=True)
    view = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return self.sha256
