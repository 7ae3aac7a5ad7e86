"""Taking files away that nothing names any more: never one that somebody keeps again at the same moment.

The file is moved aside before its row goes. Who keeps the same bytes meanwhile writes the file anew before its row is
looked for, so a fresh file in the place, or a fresh time on the one moved, tells of it.
"""

import os
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from django.conf import settings
from django.db import IntegrityError, transaction
from django.db.models import ProtectedError

from portfolio.blobs.store import path_of
from portfolio.models import Blob

_ASIDE = "leaving-"
_INCOMING = "incoming-"


def on_disk() -> Iterator[str]:
    """The hashes of all files that lie there, with a row or without."""
    for path in Path(settings.BLOB_DIR).glob("??/*"):
        if len(path.parent.name + path.name) == 64:
            yield path.parent.name + path.name


def touched_at(sha256: str) -> datetime | None:
    """When the bytes were last kept, though they were there before; None where there is no file."""
    return _touched(path_of(sha256))


def remove(sha256: str, *, before: datetime) -> bool:
    """Take a file and its row away, unless a row needs it or it was kept since `before`."""
    place, aside = path_of(sha256), Path(settings.BLOB_DIR) / f"{_ASIDE}{sha256}"
    if place.exists():
        os.replace(place, aside)
    touched = _touched(aside)
    if touched is not None and touched >= before:
        _put_back(aside, place)
        return False
    row = Blob.objects.filter(pk=sha256).first()
    try:
        with transaction.atomic():
            Blob.objects.filter(pk=sha256).delete()
    except (ProtectedError, IntegrityError):
        _put_back(aside, place)
        return False
    if place.exists() and row is not None:  # kept again, and found the row that has gone since
        Blob.objects.get_or_create(pk=sha256, defaults={"size": row.size, "media_type": row.media_type})
    aside.unlink(missing_ok=True)
    return not place.exists()


def tidy(*, before: datetime) -> int:
    """What a crash left half written or half removed: the one goes, the other comes back if its row is there."""
    root, gone = Path(settings.BLOB_DIR), 0
    for aside in root.glob(f"{_ASIDE}*"):
        sha256 = aside.name.removeprefix(_ASIDE)
        if Blob.objects.filter(pk=sha256).exists():
            _put_back(aside, path_of(sha256))
        else:
            aside.unlink(missing_ok=True)
            gone += 1
    for half in root.glob(f"{_INCOMING}*"):
        touched = _touched(half)
        if touched is not None and touched < before:
            half.unlink(missing_ok=True)
            gone += 1
    return gone


def _put_back(aside: Path, place: Path) -> None:
    if place.exists():
        aside.unlink(missing_ok=True)
    elif aside.exists():
        os.replace(aside, place)


def _touched(path: Path) -> datetime | None:
    try:
        return datetime.fromtimestamp(path.stat().st_mtime, UTC)
    except FileNotFoundError:
        return None
