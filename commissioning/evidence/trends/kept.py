"""Where the Parquet of a log lies: derived, by the hashes of file and mapping and the version of the conversion."""

from pathlib import Path

from django.db.models import QuerySet

from commissioning import logs
from commissioning.models import KeptLog
from portfolio.blobs.store import BlobUnusable, open_blob, path_of
from portfolio.models import Blob


def kept_log(raw_sha256: str, mapping_sha256: str) -> Path | None:
    """Where the Parquet of a file through a mapping lies; None where it has to be made first."""
    row = _row(raw_sha256, mapping_sha256)
    place = path_of(row.parquet_id) if row else None
    return place if place is not None and place.exists() else None


def is_whole(raw_sha256: str, mapping_sha256: str) -> bool:
    """Whether it is there with the bytes that were kept: this reads them all."""
    row = _row(raw_sha256, mapping_sha256)
    try:
        if row is not None:
            open_blob(row.parquet_id).close()
    except BlobUnusable:
        return False
    return row is not None


def remember(raw_sha256: str, mapping_sha256: str, parquet: Blob) -> None:
    """By the conversion of now; what an older one made is forgotten."""
    KeptLog.objects.update_or_create(
        raw_sha256=raw_sha256, mapping_sha256=mapping_sha256, version=logs.VERSION, defaults={"parquet": parquet}
    )
    _rows(raw_sha256, mapping_sha256).filter(version__lt=logs.VERSION).delete()


def _row(raw_sha256: str, mapping_sha256: str) -> KeptLog | None:
    return _rows(raw_sha256, mapping_sha256).filter(version=logs.VERSION).first()


def _rows(raw_sha256: str, mapping_sha256: str) -> QuerySet[KeptLog]:
    return KeptLog.objects.filter(raw_sha256=raw_sha256, mapping_sha256=mapping_sha256)
