"""The job that reads a log, in a child process with limits. A child that breaks them is a fault that people see.

What was converted once is converted again where its Parquet is lost, damaged or of an older conversion.
"""

import json
import signal
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction

from commissioning.evidence.trends import kept
from commissioning.models import TrendUpload
from portfolio.blobs.store import keep, open_blob, path_of
from portfolio.jobs import child, queue
from portfolio.jobs.queue import Claim
from portfolio.models import Blob

_OUT_OF_MEMORY = (
    "memoryerror",
    "memory allocation",
    "cannot allocate",
    "out of memory",
    "failed to map",
    "creation failed",
)


class Stopped(Exception):
    """The child did not come to its end; the reason is a sentence for whoever sent the file."""


@dataclass(frozen=True)
class _Read:
    answer: dict[str, Any]
    parquet: Path | None


def work(claim: Claim) -> None:
    """Look at a file that has no mapping yet, or convert it by the one that it has."""
    upload = TrendUpload.objects.select_related("mapping", "blob").filter(pk=claim.subject).first()
    if upload is None or upload.blob is None:
        with transaction.atomic():
            queue.finish([claim])
        return
    with tempfile.TemporaryDirectory(prefix="log-") as folder:
        try:
            read = _in_child(claim, upload, Path(folder))
        except Stopped as why:
            _failed(claim, upload, str(why))
            return
        if read is not None:
            _keep(claim, upload, read)


def convert_again(claim: Claim, raw_sha256: str, mapping_sha256: str) -> bool:
    """See that the Parquet of a log that came in here is there and whole. False where the claim was lost meanwhile.

    What stands in its way raises Stopped. Made by two at once it is the same file twice, which is one.
    """
    rows = TrendUpload.objects.select_related("mapping", "blob").filter(blob__isnull=False)
    upload = rows.filter(sha256=raw_sha256, mapping__sha256=mapping_sha256).first()
    if upload is None or kept.is_whole(raw_sha256, mapping_sha256):
        return True
    with tempfile.TemporaryDirectory(prefix="log-") as folder:
        read = _in_child(claim, upload, Path(folder))
        if read is None:
            return False
        problems = read.answer["result"]["problems"]
        if problems:
            raise Stopped(f"Its file is not converted any more: {problems[0]['sentence']}")
        assert read.parquet is not None
        with transaction.atomic():
            kept.remember(raw_sha256, mapping_sha256, _kept(read.parquet))
    return True


def _in_child(claim: Claim, upload: TrendUpload, folder: Path) -> _Read | None:
    """What the child answers; None where the claim was lost meanwhile."""
    assert upload.blob is not None
    open_blob(upload.blob.sha256).close()  # damaged bytes are never read
    parquet = folder / "log.parquet"
    order = {
        "raw": str(path_of(upload.blob.sha256)),
        "mapping": upload.mapping.document if upload.mapping else None,
        "parquet": str(parquet),
        "memory_mb": settings.LOG_MEMORY_MB,
        "seconds": settings.LOG_SECONDS,
    }
    try:
        ended = child.run(claim, "commissioning.logs.child", order, seconds=settings.LOG_SECONDS)
    except child.TooLong as over:
        raise Stopped(f"Reading it was stopped after {over.waited_s:.0f} s. Export a shorter period.") from over
    if ended is None:
        return None
    if ended.code != 0:
        raise Stopped(_reason(ended.code, ended.complaint))
    return _Read(json.loads(ended.said), parquet if parquet.exists() else None)


def _reason(code: int, complaint: str) -> str:
    if code == -signal.SIGXCPU:
        return f"Reading it needed more than {settings.LOG_SECONDS} s of the processor. Export a shorter period."
    lowered = complaint.casefold()
    if any(word in lowered for word in _OUT_OF_MEMORY):
        return f"Reading it needed more than {settings.LOG_MEMORY_MB} MB of memory. Export a shorter period."
    if code < 0:
        return f"The process that read it was ended by {signal.Signals(-code).name}. Send it again, or in parts."
    return "Reading it failed by a fault of ours. Send it again; if it fails once more, tell who runs the server."


def _failed(claim: Claim, upload: TrendUpload, why: str) -> None:
    with transaction.atomic():
        if queue.finish([claim]):
            TrendUpload.objects.filter(pk=upload.pk).update(state=TrendUpload.State.FAILED, fault=why)


def _keep(claim: Claim, upload: TrendUpload, read: _Read) -> None:
    """The effect, in one transaction behind the fence; a mapping that was changed meanwhile is read by the next job."""
    state, fault, fields = TrendUpload.State.SEEN, "", {}
    parquet = None
    if "seen" in read.answer:
        fields["seen"] = read.answer["seen"]
        problems = read.answer["seen"]["problems"]
    else:
        fields["result"] = read.answer["result"]
        problems = read.answer["result"]["problems"]
        if not problems:
            assert read.parquet is not None
            state = TrendUpload.State.CONVERTED
            parquet = _kept(read.parquet)
    if problems:
        fault = problems[0]["sentence"]
    with transaction.atomic():
        if not queue.finish([claim]):
            return
        rows = TrendUpload.objects.filter(pk=upload.pk, mapping=upload.mapping)
        rows.exclude(state=TrendUpload.State.ACCEPTED).update(state=state, fault=fault, **fields)
        if parquet is not None:
            assert upload.mapping is not None
            kept.remember(upload.sha256, upload.mapping.sha256, parquet)


def _kept(parquet: Path) -> Blob:
    with parquet.open("rb") as file:
        return keep(file, "application/vnd.apache.parquet")
