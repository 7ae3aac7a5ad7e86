"""Settings from a controller's file: choose the mapping, look at what each name was understood as, then send it.

Looking keeps nothing: the file travels in the form. Sending makes an ordinary settings record and keeps the file by
its hash, which the record names.
"""

import base64
import binascii
import hashlib
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase

from commissioning.dossier.settings import printed
from commissioning.dossier.settings.applying import Imported, Understood, as_text
from commissioning.dossier.settings.catalogue import CATALOGUE, value_of
from commissioning.dossier.settings.exports import MOST_BYTES
from commissioning.dossier.settings.mapping import HIDDEN, MappingRefused
from commissioning.evidence import mappings
from commissioning.models import MappingVersion
from commissioning.pages.field_page import RecordPage, measured_before
from commissioning.pages.field_settings import MOMENTS
from commissioning.pages.field_sheet import NotReadable, Sheet
from portfolio.dashboards.page import Page
from portfolio.dashboards.words import count, moment, opening
from portfolio.door.files import serve
from portfolio.models import Position

_LONGEST = 4 * (MOST_BYTES // 3 + 1)  # of the file in the form, base64


@dataclass(frozen=True)
class Look:
    """A file through a mapping, in one request."""

    row: MappingVersion
    file: str
    raw: bytes
    imported: Imported

    @property
    def seal(self) -> str:
        """What was looked at; only that is sent."""
        return f"{self.row.pk} {hashlib.sha256(self.raw).hexdigest()}"


class SettingsImportPage(RecordPage):
    kind = "settings"
    template = "commissioning/settings_import.html"

    def typed(self, request: HttpRequest) -> dict[str, str]:
        """The form's fields; a file that came, or a text that was pasted, stands in it from then on."""
        held = super().typed(request)
        held["held"] = request.POST.get("held", "")[: _LONGEST + 1]
        held["grade"] = "controller"
        file, pasted = request.FILES.get("file"), held.pop("pasted", "")
        if file is not None and file.size:
            too_long = file.size > MOST_BYTES
            held["held"] = "" if too_long else base64.b64encode(file.read()).decode()
            held["file_name"] = str(file.name)[:200]
            held["too_long"] = "yes" if too_long else ""
        elif pasted:
            held["held"], held["file_name"] = base64.b64encode(pasted.encode()).decode(), mappings.PASTED
        return held

    def post(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        if request.POST.get("act") == "send":
            return super().post(request, pk)
        unit = self._unit(pk)
        typed = self.typed(request)
        made_id, when = self._identity(typed)
        try:
            look = self._look(unit, typed)
        except NotReadable as no:
            told = f"{no.reason} {no.remedy}"
            return self._show(unit, made_id, when, typed, fault=told, wrong=no.name, status=400)
        return self._show(unit, made_id, when, typed, status=400 if look.imported.problems else 200)

    def readings(self, sheet: Sheet) -> dict[str, Any]:
        look = self._look(self._unit(uuid.UUID(sheet.position)), sheet.typed)
        if look.imported.problems:
            first = look.imported.problems[0]
            raise NotReadable("file", look.file, "The file has faults; nothing was kept.", f"First: {first.reason}")
        if sheet.text("seal") != look.seal:
            reason = "This is not the file, or not the mapping, that was looked at."
            raise NotReadable("file", look.file, reason, "Look at what it was understood as, then send it.")
        said = sheet.text("moment")
        if said not in MOMENTS:
            raise NotReadable("moment", said, "It is not said of which moment this is.", "Choose found or left.")
        mappings.keep_file(look.raw)
        return {"moment": said, **mappings.readings_of(look.imported, file=look.file, raw=look.raw)}

    def asked(self, unit: Position, display: str, typed: Mapping[str, str]) -> dict[str, Any]:
        rows = list(self._mappings(unit).newest().defer("raw").order_by("family_key"))
        firm = unit.building.site.project.firm_id
        context: dict[str, Any] = {
            "here": "home",
            "mappings": [(str(row.pk), str(row)) for row in rows],
            "firm": firm,
            "moments": MOMENTS.items(),
            "earlier": _earlier(unit),
            "held": typed.get("held", "")[:_LONGEST],
            "file_name": typed.get("file_name", ""),
        }
        if not typed.get("held"):
            return context
        try:
            look = self._look(unit, typed)
        except NotReadable:  # told above the form
            return context
        if any(one.value == HIDDEN for one in look.imported.problems):
            context |= {"held": "", "file_name": ""}  # what holds a password is not sent back either
        return context | _shown(look, display)

    def _mappings(self, unit: Position) -> Any:
        return self.seen(MappingVersion.objects).filter(firm=unit.building.site.project.firm_id)

    def _look(self, unit: Position, typed: Mapping[str, str]) -> Look:
        if typed.get("too_long") or len(typed.get("held", "")) > _LONGEST:
            reason = f"The file has more than {MOST_BYTES // 1024} KB."
            raise NotReadable("file", typed.get("file_name", ""), reason, "Export the settings only.")
        try:
            raw = base64.b64decode(typed.get("held", ""), validate=True)
        except (binascii.Error, ValueError):
            raw = b""
        if not raw:
            raise NotReadable("file", "", "There is no file.", "Choose one, or paste its text.")
        try:
            row = self._mappings(unit).filter(pk=uuid.UUID(typed.get("mapping", ""))).first()
        except ValueError:
            row = None
        if row is None:
            raise NotReadable("mapping", "", "No mapping is chosen.", "Choose that of this controller's family.")
        try:
            return Look(row, typed.get("file_name", "") or mappings.PASTED, raw, mappings.look(row, raw))
        except MappingRefused as no:
            first = no.problems[0]
            raise NotReadable(
                "mapping", str(row), f"It cannot be used any more: {first.reason}", first.remedy
            ) from None


class SettingsFilePage(Page):
    """A file that a record of this unit names, as it came."""

    def get(self, request: HttpRequest, pk: uuid.UUID, sha256: str) -> HttpResponseBase:
        unit = self.visible(Position.objects, pk)
        named = [one for one in _read_from(unit) if one["sha256"] == sha256]
        blob = mappings.kept_files([sha256]).first()
        if not named or blob is None:
            raise Http404
        return serve(blob, name=named[0]["file"])


def _read_from(unit: Position) -> list[dict[str, Any]]:
    """Of each record that came from a file, the newest first: the file, its hash and when it was observed."""
    held = [one for one in measured_before(unit, "settings") if "read_from" in one["facts"]]
    return [{**one["facts"]["read_from"], "observed_at": one["observed_at"]} for one in reversed(held)]


def _earlier(unit: Position) -> list[dict[str, str]]:
    zone = unit.building.site.time_zone
    named = _read_from(unit)
    kept = set(mappings.kept_files([one["sha256"] for one in named]).values_list("pk", flat=True))
    return [
        {
            "file": one["file"],
            "when": moment(datetime.fromisoformat(one["observed_at"]), zone),
            "address": f"/units/{unit.pk}/settings/files/{one['sha256']}" if one["sha256"] in kept else "",
        }
        for one in named[:20]
    ]


def _shown(look: Look, display: str) -> dict[str, Any]:
    imported = look.imported
    return {
        "sentence": _sentence(imported),
        "problems": imported.problems,
        "seal": "" if imported.problems else look.seal,
        "family": imported.mapping.family,
        "mapped": [_mapped(one, display) for one in imported.those("mapped")],
        "unknown": [(one.given.source, _given(one)) for one in imported.those("unknown")],
        "ignored": [one.given.source for one in imported.those("ignored")],
        "not_set": [one.given.source for one in imported.those("not_set")],
        "absent": [(line.source, line.setting.title) for line in imported.absent],
        "columns_not_read": imported.columns_not_read,
    }


def _mapped(one: Understood, display: str) -> dict[str, str]:
    held = value_of(CATALOGUE.settings[one.code], one.value)
    return {
        "source": one.given.source,
        "given": _given(one),
        "title": printed.title_of(one.code),
        "value": printed.value(one.code, held, display),
    }


def _given(one: Understood) -> str:
    return f"{as_text(one.given.value)} {one.given.unit}".strip()


def _sentence(imported: Imported) -> str:
    if imported.problems:
        number = len(imported.problems)
        stand, they = ("fault stands", "it does") if number == 1 else ("faults stand", "they do")
        return f"{opening(count(number))} {stand} in the way; nothing can be sent while {they}."
    number, unknown = len(imported.values), len(imported.those("unknown"))
    head = f"{opening(count(number))} {'setting is' if number == 1 else 'settings are'} understood"
    rest = f"; {count(unknown)} {'name is' if unknown == 1 else 'names are'} not known" if unknown else ""
    return f"{head}{rest}. Nothing is kept before you send it."
