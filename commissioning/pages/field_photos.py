"""Photos on the forms of records: kept at once, and from then on in the form by their hash, so that none is lost.

A field is called `photo-` and what the photo is of; the field `photo` takes several that are of nothing in particular.
"""

import re
from collections.abc import Iterator, Mapping
from uuid import UUID

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest

from commissioning.evidence.photos import keep_photo, kept_for
from commissioning.pages.field_sheet import NotReadable, Sheet
from portfolio.blobs.photos import PhotoRefused
from portfolio.models import Person

PHOTO, SEVERAL = "photo-", "photo"
_SHA256 = re.compile(r"[0-9a-f]{64}")


def with_photos(typed: Mapping[str, str], *, request: HttpRequest, person: Person, project: UUID) -> dict[str, str]:
    """The form's fields with the photos that came; a hash that is no photo of the project becomes its refusal."""
    named = {name: value for name, value in typed.items() if name.startswith(PHOTO) and value}
    known = kept_for(project, person, set(named.values())) if named else set()
    refused = {
        name: f"“{value[:12]}…” is no photo that was kept for this project." if _SHA256.fullmatch(value) else value
        for name, value in named.items()
        if value not in known
    }
    return {**typed, **refused, **dict(_arrived(request, person, project))}


def _arrived(request: HttpRequest, person: Person, project: UUID) -> Iterator[tuple[str, str]]:
    for name in request.FILES:
        for number, file in enumerate(request.FILES.getlist(name)):
            if not (name == SEVERAL or name.startswith(PHOTO)) or not isinstance(file, UploadedFile) or not file.size:
                continue
            try:
                sha256 = keep_photo(file.read(), project=project, person=person, request=request).sha256
            except PhotoRefused as refused:
                yield (f"{PHOTO}{number}" if name == SEVERAL else name), refused.reason
            else:
                yield (f"{PHOTO}{sha256}" if name == SEVERAL else name), sha256


def hash_in(typed: Mapping[str, str], name: str) -> str:
    """The hash of the photo that a field holds, if it holds one: for the form that is shown again."""
    held = typed.get(name, "")
    return held if _SHA256.fullmatch(held) else ""


def photo_of(sheet: Sheet, name: str) -> str:
    """The hash of a field's photo, empty where there is none. Raises NotReadable with what was wrong with it."""
    held = sheet.text(name)
    if held and not _SHA256.fullmatch(held):
        raise NotReadable(name, held, held, "Send a JPEG or a PNG.")
    return held
