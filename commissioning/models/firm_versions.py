"""What a firm has of its own, in versions that are kept for ever: what both kinds of it have in common."""

import uuid
from collections.abc import Collection
from typing import Any, Self, TypeVar

from django.db import models

from portfolio.models import Firm

M = TypeVar("M", bound="FirmVersion")


class FirmVersionQuerySet(models.QuerySet[M]):
    def newest(self) -> Self:
        """Of each firm the version that holds."""
        later = self.model._default_manager.filter(firm=models.OuterRef("firm"), version__gt=models.OuterRef("version"))
        return self.filter(~models.Exists(later))

    def newest_of(self, firm: Firm) -> M | None:
        return self.filter(firm=firm).order_by("-version").first()

    def by_project(self, projects: Collection[uuid.UUID]) -> dict[uuid.UUID, dict[str, Any]]:
        """What holds in each project whose firm has something of its own, as the conventions carry it."""
        rows = self.newest().filter(firm__projects__in=projects)
        return {
            project: {**document, "version": version}
            for project, document, version in rows.values_list("firm__projects", "document", "version")
            if document and project in projects
        }


class FirmVersion(models.Model):
    """A version, as it was handed in and as it is judged by. Insert-only: judgements name it."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    version = models.PositiveIntegerField()
    text = models.TextField()
    document = models.JSONField()
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        abstract = True
