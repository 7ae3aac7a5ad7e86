"""Files by their SHA-256. A row is written only when its bytes are on the disk for good; damaged ones are never served.

The bytes go to a temporary file beside their place, are synced, renamed, and the directory is synced: after a crash
there is the whole file or none.
"""

import hashlib
import os
import tempfile
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import BinaryIO

from django.conf import settings

from portfolio.models import Blob

_PIECE = 1 << 20


class BlobUnusable(Exception):
    """The file is missing or its bytes are not those of its hash."""

    def __init__(self, sha256: str, why: str) -> None:
        super().__init__(f"{sha256}: {why}")
        self.sha256 = sha256
        self.why = why


def keep(data: bytes | BinaryIO, media_type: str) -> Blob:
    """Keep the bytes and their row. The same bytes twice are one blob; a damaged file is mended by them."""
    sha256, size = _write(BytesIO(data) if isinstance(data, bytes) else data)
    blob, _ = Blob.objects.get_or_create(sha256=sha256, defaults={"size": size, "media_type": media_type})
    return blob


def open_blob(sha256: str) -> BinaryIO:
    """The file, open at its start, after its bytes were compared with the hash."""
    try:
        file = path_of(sha256).open("rb")
    except OSError as error:
        raise BlobUnusable(sha256, "the file is not there") from error
    if _digest(file) != sha256:
        file.close()
        raise BlobUnusable(sha256, "the bytes are not those of the hash")
    file.seek(0)
    return file


def read_blob(sha256: str) -> bytes:
    """All of it, compared with the hash: for files that are small."""
    with open_blob(sha256) as file:
        return file.read()


def damaged() -> Iterator[BlobUnusable]:
    """Every kept file that could not be served."""
    for sha256 in Blob.objects.order_by("sha256").values_list("sha256", flat=True).iterator():
        try:
            open_blob(sha256).close()
        except BlobUnusable as fault:
            yield fault


def path_of(sha256: str) -> Path:
    """Where the file lies; only a hash can be asked for, so no path can."""
    if len(sha256) != 64 or not set(sha256) <= set("0123456789abcdef"):
        raise ValueError("not a SHA-256 in hex")
    return Path(settings.BLOB_DIR) / sha256[:2] / sha256[2:]


def _write(data: BinaryIO) -> tuple[str, int]:
    root = Path(settings.BLOB_DIR)
    root.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=root, prefix="incoming-")
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            sha256, size = _copied(data, file)
            file.flush()
            os.fsync(file.fileno())
        _settle(temporary, path_of(sha256))
    finally:
        temporary.unlink(missing_ok=True)
    return sha256, size


def _copied(data: BinaryIO, file: BinaryIO) -> tuple[str, int]:
    digest, size = hashlib.sha256(), 0
    while piece := data.read(_PIECE):
        digest.update(piece)
        size += len(piece)
        file.write(piece)
    return digest.hexdigest(), size


def _settle(temporary: Path, place: Path) -> None:
    if not place.parent.exists():
        place.parent.mkdir(exist_ok=True)
        _sync_directory(place.parent.parent)
    os.replace(temporary, place)
    _sync_directory(place.parent)


def _sync_directory(directory: Path) -> None:
    handle = os.open(directory, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _digest(file: BinaryIO) -> str:
    digest = hashlib.sha256()
    while piece := file.read(_PIECE):
        digest.update(piece)
    return digest.hexdigest()
