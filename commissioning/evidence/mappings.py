"""A firm's mappings of controllers: kept version by version, byte for byte; and files of settings read through them."""

from collections.abc import Collection
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import QuerySet
from django.http import HttpRequest
from rest_framework.request import Request

from commissioning.dossier.canonical import sha256_hex
from commissioning.dossier.problem import Problem
from commissioning.dossier.settings.applying import Imported, import_file, provenance
from commissioning.dossier.settings.exports import MOST_BYTES
from commissioning.dossier.settings.mapping import MappingRefused, SettingsMapping, folded, read_mapping
from commissioning.models import MappingVersion
from portfolio import audit
from portfolio.blobs.store import keep
from portfolio.models import Blob, Firm, Person

PASTED = "pasted text"


def keep_mapping(
    *, firm: Firm, person: Person, raw: bytes, request: Request | HttpRequest | None = None
) -> tuple[MappingVersion, bool]:
    """The kept version and whether it is new, or MappingRefused. The same bytes twice are one version."""
    mapping = read_mapping(raw)
    for last_try in (False, True):
        try:
            with transaction.atomic():
                return _keep(firm, person, raw, mapping, request)
        except IntegrityError:  # another request kept a version meanwhile: look again
            if last_try:
                raise
    raise AssertionError("unreachable")


def _keep(
    firm: Firm, person: Person, raw: bytes, mapping: SettingsMapping, request: Any
) -> tuple[MappingVersion, bool]:
    key = folded(mapping.family)
    rows = MappingVersion.objects.filter(firm=firm, family_key=key)
    same = rows.filter(sha256=mapping.sha256).first()
    if same is not None:
        return same, False
    newest = rows.order_by("-version").first()
    if newest is not None and newest.version >= mapping.version:
        reason = f"Version {newest.version} of this family is kept; a kept version is never changed."
        remedy = f"Say version = {newest.version + 1}, or higher."
        raise MappingRefused([Problem("/version", str(mapping.version), reason, remedy)])
    row = MappingVersion.objects.create(
        firm=firm,
        family=mapping.family,
        family_key=key,
        version=mapping.version,
        sha256=mapping.sha256,
        raw=raw,
        made_by=person,
    )
    told = {"sha256": row.sha256, "version": row.version}
    audit.note(request=request, person=person, verb="keep_mappings", obj=row, detail=told)
    return row, True


def mapping_of(row: MappingVersion) -> SettingsMapping:
    """What a kept version says. MappingRefused if a setting that it names is no longer in the catalogue."""
    return read_mapping(bytes(row.raw))


def look(row: MappingVersion, raw: bytes) -> Imported:
    """A file as this version understands it. Nothing is kept by looking."""
    return import_file(raw, mapping_of(row))


def readings_of(imported: Imported, *, file: str, raw: bytes) -> dict[str, Any]:
    """What a settings payload says of an import, beside what every record has."""
    return {
        "controller": imported.mapping.family,
        "values": imported.values,
        "read_from": provenance(imported, file=file[:200] or PASTED, sha256=sha256_hex(raw)),
    }


MEDIA = ("text/json", "text/csv")  # no other kept file is of these, a binder's frozen JSON neither


def keep_file(raw: bytes) -> Blob:
    """The file itself, by its hash: the record names that."""
    return keep(raw, MEDIA[0] if raw.lstrip()[:1] in (b"{", b"[") else MEDIA[1])


def kept_files(hashes: Collection[str]) -> QuerySet[Blob]:
    """Those of these hashes that are files of settings: a record can name any hash, such as a binder's, which is told
    to many."""
    return Blob.objects.filter(pk__in=hashes, media_type__in=MEDIA, size__lte=MOST_BYTES)
