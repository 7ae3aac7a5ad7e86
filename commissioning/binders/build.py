"""Building a binder: frozen at one moment, drawn from what was frozen, and kept by whoever still holds the claim.

Nothing is half built: files are kept by their hash before the one transaction that makes them the binder's. A worker
that dies leaves at most files that nobody names; another does the work again and comes to the same bytes.
"""

import time
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from commissioning.binders.freeze import Frozen, freeze
from commissioning.binders.render import Progress, Stopped, render
from commissioning.models import Binder
from portfolio import access, audit
from portfolio.blobs.store import BlobUnusable, keep, open_blob
from portfolio.jobs import queue
from portfolio.jobs.queue import Claim
from portfolio.models import Blob, Person, Position

EVERY_S = 0.5
"""How often progress is told: often enough to be watched, and to hold the lease."""


@dataclass(frozen=True)
class Built:
    document: Blob
    pages: int


def build(claim: Claim) -> None:
    """Do one claimed job. What was built already stays as it was handed over."""
    binder = Binder.objects.select_related("asked_by", "project").filter(pk=claim.subject).first()
    if binder is None or binder.document_id is not None:
        with transaction.atomic():
            queue.finish([claim])
        return
    require_right(binder)
    frozen = freeze(binder)
    try:
        built = _earlier(binder, frozen) or _rendered(claim, frozen)
    except Stopped:  # the claim is another worker's by now, and so is the binder
        return
    _settle(claim, binder, frozen, built)


def require_right(binder: Binder) -> None:
    """Rights are asked for when the work is done, not only when it was asked for."""
    asker = Person.objects.get(pk=binder.asked_by_id)
    positions = binder.positions.all()
    if not asker.is_active or Position.objects.visible_to(asker).filter(pk__in=positions).count() < positions.count():
        raise access.Forbidden("Who asked for this binder no longer sees every unit in it.")
    access.require(asker, "build_binder", binder)


def _earlier(binder: Binder, frozen: Frozen) -> Built | None:
    """What was built before from exactly these inputs, if its file is sound."""
    same = Binder.objects.filter(input_hash=frozen.input_hash, document__isnull=False).exclude(pk=binder.pk)
    for one in same.select_related("document").order_by("built_at"):
        assert one.document is not None
        try:
            open_blob(one.document.sha256).close()
        except BlobUnusable:
            continue
        return Built(one.document, one.pages)
    return None


def _rendered(claim: Claim, frozen: Frozen) -> Built:
    drawn = render(frozen.json, _told_to(claim), frozen.photos)
    return Built(keep(drawn.pdf, "application/pdf"), drawn.pages)


def _told_to(claim: Claim) -> Progress:
    last = 0.0

    def tell(done: int, whole: int) -> bool:
        nonlocal last
        now = time.monotonic()
        if done < whole and now - last < EVERY_S:
            return True
        last = now
        return queue.progress(claim, done=done, whole=whole)

    return tell


def _settle(claim: Claim, binder: Binder, frozen: Frozen, built: Built) -> None:
    data = keep(frozen.json, "application/json")
    with transaction.atomic():
        if not queue.finish([claim]):
            return
        binder.input_hash = frozen.input_hash
        binder.frozen = data
        binder.document = built.document
        binder.pages = built.pages
        binder.built_at = timezone.now()
        binder.save(update_fields=["input_hash", "frozen", "document", "pages", "built_at"])
        audit.note(
            request=None,
            person=binder.asked_by,
            verb="binder.built",
            obj=binder,
            project_id=binder.project_id,
            detail={"input_hash": frozen.input_hash, "document": built.document.sha256, "pages": built.pages},
        )
