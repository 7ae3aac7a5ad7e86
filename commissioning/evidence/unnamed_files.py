"""Which kept files nothing names any more: no row, no evidence, no issue's story.

A photo may come long before the record that names it, and the record before the photo: so only what is old counts.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.apps import apps
from django.db import models

from portfolio.blobs.removal import on_disk, touched_at
from portfolio.models import Blob

TEXTS = ("commissioning.Submission.raw", "commissioning.IssueEvent.detail")
"""Fields in which a file is named within a text. What is derived from them names no other."""

_HASH = re.compile(rb"[0-9a-f]{64}")


@dataclass(frozen=True)
class Unnamed:
    sha256: str
    size: int
    media_type: str  # empty: a file without a row
    kept_at: datetime | None


def unnamed(*, before: datetime) -> list[Unnamed]:
    """Files that nothing names and that nobody kept since `before`, the oldest first."""
    named = _named()
    found = []
    rows = {row.sha256: row for row in Blob.objects.iterator()}
    for sha256 in sorted({*rows, *on_disk()} - named):
        row = rows.get(sha256)
        moments = [one for one in (row.kept_at if row else None, touched_at(sha256)) if one]
        if moments and max(moments) < before:
            size, media_type = (row.size, row.media_type) if row else (0, "")
            found.append(Unnamed(sha256, size, media_type, max(moments)))
    return sorted(found, key=lambda one: (one.kept_at or before, one.sha256))


def _named() -> set[str]:
    """Every hash that a key, a field of hashes or a text names."""
    found: set[str] = set()
    for field in _fields():
        values = field.model._base_manager.exclude(**{f"{field.attname}__isnull": True})
        found.update(str(one) for one in values.values_list(field.attname, flat=True).iterator())
    for name in TEXTS:
        label, field_name = name.rsplit(".", 1)
        for value in apps.get_model(label)._base_manager.values_list(field_name, flat=True).iterator():
            found.update(one.decode() for one in _HASH.findall(_as_bytes(value)))
    return found


def _fields() -> Iterator[Any]:
    """All keys to a file, and all fields that hold a hash, of whatever room."""
    for model in apps.get_models():
        for field in model._meta.concrete_fields:
            is_key = isinstance(field, models.ForeignKey) and field.related_model is Blob
            if is_key or (field.name.endswith("sha256") and model is not Blob):
                yield field


def _as_bytes(value: Any) -> bytes:
    return bytes(value) if isinstance(value, bytes | memoryview) else str(value).encode()
