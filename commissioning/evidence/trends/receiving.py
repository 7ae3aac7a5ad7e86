"""A log's file coming in piece by piece: who was cut off goes on where it was, and the whole is compared by its hash.

A piece is on the disk before it is counted: after a crash the count is never ahead of the bytes.
"""

import hashlib
import os
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from commissioning.logs.text import MOST_BYTES
from commissioning.models import TrendUpload
from portfolio.blobs.store import keep
from portfolio.jobs import queue
from portfolio.models import Blob, Person, Position

JOB = "log"
MOST_OPEN = 20
"""How many uploads of one person may be coming in at once; what was broken off is not coming in any more."""

STILL_COMING = timedelta(days=1)
"""How long an upload counts as coming in after it was begun. It may be gone on with later, too."""

GIVEN_UP = timedelta(days=2)
"""An upload that was begun so long ago and is not complete is given up when its sender begins another one."""


class UploadRefused(Exception):
    """Not begun, or a piece not taken; `code`, `reason` and `remedy` go to who sent it."""

    def __init__(self, code: str, reason: str, remedy: str, *, offset: int | None = None) -> None:
        super().__init__(reason)
        self.code, self.reason, self.remedy, self.offset = code, reason, remedy, offset


@dataclass(frozen=True)
class Declared:
    """What the sender says of a file beforehand."""

    file_name: str
    size: int
    sha256: str


def begin(*, position: Position, person: Person, declared: Declared) -> TrendUpload:
    """An upload to send pieces to, all of them, whoever sent the same file before."""
    if not 0 < declared.size <= MOST_BYTES:
        raise UploadRefused("size", f"A log has 1 byte to {MOST_BYTES >> 20} MB.", "Export a shorter period.")
    if len(declared.sha256) != 64 or not set(declared.sha256) <= set("0123456789abcdef"):
        raise UploadRefused("sha256", "The hash is no SHA-256 in small hex.", "Send the file's SHA-256.")
    open_ones = TrendUpload.objects.filter(made_by=person, state=TrendUpload.State.RECEIVING)
    _give_up(open_ones)
    if open_ones.filter(made_at__gt=timezone.now() - STILL_COMING).count() >= MOST_OPEN:
        reason = f"{MOST_OPEN} of your uploads of the last 24 hours are not finished."
        raise UploadRefused("too_many", reason, "Finish one of them, or begin again tomorrow.")
    return TrendUpload.objects.create(
        position=position,
        made_by=person,
        file_name=declared.file_name.strip()[-255:] or "log",
        size=declared.size,
        sha256=declared.sha256,
    )


def _give_up(open_ones: QuerySet[TrendUpload]) -> None:
    for upload in open_ones.filter(made_at__lt=timezone.now() - GIVEN_UP):
        break_off(upload)


def break_off(upload: TrendUpload) -> None:
    """Its sender will not go on with it: it counts no more, and what came of it goes."""
    told = "The file never came in whole. Send it again."
    still = TrendUpload.objects.filter(pk=upload.pk, state=TrendUpload.State.RECEIVING)
    if still.update(state=TrendUpload.State.FAILED, fault=told):
        _part(upload).unlink(missing_ok=True)


def take(upload_id: UUID, *, offset: int, piece: bytes) -> TrendUpload:
    """The next piece, which begins at `offset`. With the last one the whole is compared with its hash and kept.

    That takes as long as reading the file, and so is done outside of a transaction; if it was broken off, an empty
    piece at the end does it again.
    """
    with transaction.atomic():
        upload = TrendUpload.objects.select_for_update().get(pk=upload_id)
        _check_piece(upload, offset, len(piece))
        if piece:
            _write(_part(upload), offset, piece)
            upload.received = offset + len(piece)
            upload.save(update_fields=["received"])
    if upload.received == upload.size:
        _complete(upload)
    return upload


def _check_piece(upload: TrendUpload, offset: int, size: int) -> None:
    if upload.state != TrendUpload.State.RECEIVING:
        raise UploadRefused("finished", "This upload is complete.", "Begin another one.", offset=upload.received)
    if offset != upload.received:
        reason = f"The piece begins at {offset}; {upload.received} bytes are here."
        raise UploadRefused("offset", reason, "Send on from what is here.", offset=upload.received)
    if offset + size > upload.size:
        reason = f"The piece reaches beyond the {upload.size} bytes that were declared."
        raise UploadRefused("beyond", reason, "Begin another upload with its size.", offset=upload.received)


def receive_whole(*, position: Position, person: Person, file_name: str, data: bytes) -> TrendUpload:
    """A file that came in one piece, as from a form."""
    declared = Declared(file_name, len(data), hashlib.sha256(data).hexdigest())
    return take(begin(position=position, person=person, declared=declared).pk, offset=0, piece=data)


def _complete(upload: TrendUpload) -> None:
    """Keep the whole and have it read; other bytes than declared are dropped, and the sender begins anew."""
    part, still = _part(upload), TrendUpload.objects.filter(pk=upload.pk, state=TrendUpload.State.RECEIVING)
    if not part.exists():  # another request was quicker
        upload.refresh_from_db()
        return
    with part.open("rb") as file:
        if hashlib.file_digest(file, "sha256").hexdigest() != upload.sha256:
            still.update(received=0)
            reason = "The bytes are not those of the declared hash."
            raise UploadRefused("sha256", reason, "Send the file again.", offset=0)
        file.seek(0)
        blob: Blob = keep(file, "application/octet-stream")
    with transaction.atomic():
        if still.update(blob=blob, state=TrendUpload.State.READING):
            queue.want(JOB, [upload.pk])
    part.unlink(missing_ok=True)
    upload.refresh_from_db()


def _part(upload: TrendUpload) -> Path:
    return Path(settings.BLOB_DIR) / "uploads" / str(upload.pk)


def _write(place: Path, offset: int, piece: bytes) -> None:
    place.parent.mkdir(parents=True, exist_ok=True)
    handle = os.open(place, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        os.ftruncate(handle, offset)
        os.lseek(handle, offset, os.SEEK_SET)
        with os.fdopen(handle, "wb", closefd=False) as file:
            file.write(piece)
        os.fsync(handle)
    finally:
        os.close(handle)
