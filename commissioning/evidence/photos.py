"""Photos that came with a form: kept as they came, and for which project; a hash alone is nobody's photo.

Blobs are kept by their bytes and know no project, so the audit says who sent one for what.
"""

from collections.abc import Collection
from uuid import UUID

from django.db import transaction
from django.db.models import Q
from django.http import HttpRequest

from commissioning.models import IssueEvent, RecordPhoto
from portfolio import audit
from portfolio.blobs.photos import accept_photo
from portfolio.models import AuditEvent, Blob, Person

_VERB = "attach_photo"


def keep_photo(data: bytes, *, project: UUID, person: Person, request: HttpRequest | None) -> Blob:
    """Raises PhotoRefused; then nothing is kept."""
    with transaction.atomic():
        blob = accept_photo(data)
        audit.note(request=request, person=person, verb=_VERB, obj=blob, project_id=project)
    return blob


def kept_for(project: UUID, person: Person, hashes: Collection[str]) -> set[str]:
    """Those of `hashes` that are photos of the project: sent for it, sent by this person, or named in it."""
    here = Blob.objects.filter(pk__in=hashes, media_type__startswith="image/")
    kept = set(here.values_list("pk", flat=True))
    if not kept:
        return set()
    sent = AuditEvent.objects.filter(verb=_VERB, object_type=Blob._meta.label_lower, object_id__in=kept)
    by_form = sent.filter(Q(project_id=project) | Q(project_id=None, person_id=person.pk))
    by_record = RecordPhoto.objects.filter(sha256__in=kept, record__position__building__site__project=project)
    by_issue = IssueEvent.objects.filter(issue__project=project, act="add_photo", detail__sha256__in=list(kept))
    return {
        *by_form.values_list("object_id", flat=True),
        *by_record.values_list("sha256", flat=True),
        *by_issue.values_list("detail__sha256", flat=True),
    }
