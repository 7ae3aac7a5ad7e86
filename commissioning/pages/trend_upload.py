"""A trend log from its file to its records: send it, look at what was seen, say what its points are, accept."""

import hashlib
import json
import uuid
from collections.abc import Iterable, Mapping
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse

from commissioning.engineering import units
from commissioning.evidence.accept import Refused, Sender
from commissioning.evidence.trends import mapping, receiving, sending
from commissioning.evidence.trends.receiving import UploadRefused
from commissioning.logs.roles import MODE, STATE, roles
from commissioning.models import TrendUpload
from commissioning.pages.trend_words import choices, fields_of, pairs, seen_sentence
from portfolio.access import may
from portfolio.dashboards.page import Page, SeeOther, text_of
from portfolio.dashboards.words import moment
from portfolio.models import Position

PIECE = 8 * 1024 * 1024
BROWSER_PIECE = 1024 * 1024  # that much of a file is lost at most where a line breaks
_WAIT_S = "2"


class TrendNewPage(Page):
    """Send a file; and the logs that came in before."""

    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        return self._show(self._unit(pk))

    def post(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        unit = self._unit(pk)
        file = request.FILES.get("file")
        if file is None or not file.size:
            return self._show(unit, fault="There is no file. Choose one: CSV, XLSX or Parquet.", status=400)
        try:
            upload = self._received(unit, file)
        except UploadRefused as no:
            return self._show(unit, fault=f"{no.reason} {no.remedy}", status=400)
        return SeeOther(f"/trend-uploads/{upload.pk}")

    def _unit(self, pk: uuid.UUID) -> Position:
        return self.visible(Position.objects.select_related("building__site"), pk, verb="submit_evidence")

    def _received(self, unit: Position, file: "UploadedFile[Any]") -> TrendUpload:
        digest, size = hashlib.sha256(), 0
        for piece in file.chunks(PIECE):
            digest.update(piece)
            size += len(piece)
        declared = receiving.Declared(str(file.name), size, digest.hexdigest())
        upload = receiving.begin(position=unit, person=self.person, declared=declared)
        offset = 0
        try:
            for piece in file.chunks(PIECE):
                upload = receiving.take(upload.pk, offset=offset, piece=piece)
                offset += len(piece)
        except BaseException:  # a form cannot go on where it was cut off: it is sent whole again
            receiving.break_off(upload)
            raise
        return upload

    def _show(self, unit: Position, *, fault: str = "", status: int = 200) -> HttpResponse:
        zone = unit.building.site.time_zone
        rows = self.seen(TrendUpload.objects).filter(position=unit).order_by("-made_at")[:20]
        context = {
            "here": "home",
            "unit": unit,
            "fault": fault,
            "piece": BROWSER_PIECE,
            "uploads": [(row, moment(row.made_at, zone)) for row in rows],
        }
        return self.show("commissioning/trend_new.html", context, status=status)


class TrendUploadPage(Page):
    """One upload: what was seen, the mapping as a form, what came of it."""

    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        return self._show(self._upload(pk))

    def post(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        upload = self._upload(pk, verb="submit_evidence")
        return self._accept(upload) if request.POST.get("act") == "accept" else self._map(upload)

    def _upload(self, pk: uuid.UUID, verb: str = "see") -> TrendUpload:
        rows = TrendUpload.objects.select_related("position__building__site", "mapping")
        return self.visible(rows, pk, verb=verb)

    def _map(self, upload: TrendUpload) -> HttpResponse:
        typed = self._typed(upload)
        try:
            mapping.apply(upload, mapping.read_mapping(typed), self.person, request=self.request)
        except mapping.MappingFaulty as no:
            faults = [_said(one.pointer, one.value, one.reason, one.remedy, typed) for one in no.problems]
            return self._show(upload, typed=typed, faults=faults, status=400)
        return SeeOther(f"/trend-uploads/{upload.pk}")

    def _accept(self, upload: TrendUpload) -> HttpResponse:
        try:
            sent = sending.send(upload, Sender(self.person, None, self.request.META.get("ventfolio.request_id", "")))
        except UploadRefused as no:
            return self._show(upload, faults=[f"{no.reason} {no.remedy}"], status=409)
        refused = [one for one in sent if isinstance(one.outcome, Refused)]
        if refused:
            faults = [
                f"{one.position.tag}: {one.outcome.detail}" for one in refused if isinstance(one.outcome, Refused)
            ]
            return self._show(upload, faults=faults, status=400)
        return SeeOther(f"/units/{upload.position_id}")

    def _typed(self, upload: TrendUpload) -> dict[str, Any]:
        """The mapping as the form says it. A point without a role is not read."""
        data = self.request.POST
        points = []
        for number, seen in enumerate(upload.seen.get("points", [])):
            role = text_of(data, f"role-{number}", 60)
            if not role:
                continue
            quantity = roles()[role].quantity if role in roles() else ""
            plain = quantity in (STATE, MODE)
            point = {
                "name": seen["name"],
                "role": role,
                "tag": text_of(data, f"tag-{number}", 100),
                "unit": "" if plain else text_of(data, f"unit-{number}", 40),
            }
            words = text_of(data, f"words-{number}", 2000)
            points.append(point | ({"words": pairs(words)} if words else {}))
        plain_fields = {name: text_of(data, name, 400) for name in fields_of()}
        made: dict[str, Any] = {name: said for name, said in plain_fields.items() if said} | {"points": points}
        made["source"], made["zone"] = plain_fields["source"], plain_fields["zone"]
        made["no_value"] = [one.strip() for one in text_of(data, "no_value", 2000).split(",") if one.strip()]
        return made | {"time_columns": list(self._stated(upload))}

    def _stated(self, upload: TrendUpload) -> Iterable[str]:
        return upload.mapping.document["time_columns"] if upload.mapping else ()

    def _show(
        self,
        upload: TrendUpload,
        *,
        typed: Mapping[str, Any] | None = None,
        faults: list[str] | None = None,
        status: int = 200,
    ) -> HttpResponse:
        unit = upload.position
        zone = unit.building.site.time_zone
        context: dict[str, Any] = {
            "here": "home",
            "unit": unit,
            "upload": upload,
            "state": upload.get_state_display(),
            "waits": upload.state in (TrendUpload.State.RECEIVING, TrendUpload.State.READING),
            "faults": faults or [],
            "seen": upload.seen,
            "sentence": seen_sentence(upload.seen),
            "result": upload.result,
            "may_send": bool(may(self.person, "submit_evidence", unit)),
            "is_open": upload.state in (TrendUpload.State.SEEN, TrendUpload.State.CONVERTED, TrendUpload.State.FAILED),
            "accepts": upload.state == TrendUpload.State.CONVERTED,
        }
        if upload.seen:
            context |= _form(typed or self._proposed(upload, zone), upload.seen)
        response = self.show("commissioning/trend_upload.html", context, status=status)
        if context["waits"]:
            response["Refresh"] = _WAIT_S
        return response

    def _proposed(self, upload: TrendUpload, zone: str) -> Mapping[str, Any]:
        """What is kept of the source that this file seems to be of, else what the names hint at."""
        if upload.mapping is not None:
            return dict(upload.mapping.document)
        names = {point["name"] for point in upload.seen["points"]}
        known = mapping.known_mapping(upload.position.building, names)
        if known is not None:
            return dict(known.document)
        return {"source": "", "zone": zone, "points": _hinted(upload.seen["points"])}


def _hinted(points: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    made, taken = [], set()
    for point in points:
        role = point["role"]
        if not role or role in taken:
            continue
        quantity = roles()[role].quantity
        if quantity in (STATE, MODE) or point["unit"] in units.codes_of(quantity):
            taken.add(role)
            made.append({"name": point["name"], "role": role, "tag": "", "unit": point["unit"]})
    return made


def _form(typed: Mapping[str, Any], seen: Mapping[str, Any]) -> dict[str, Any]:
    said = {point["name"]: point for point in typed.get("points", [])}
    rows = []
    for number, point in enumerate(seen["points"]):
        held = said.get(point["name"], {})
        words = ", ".join(f"{word}={value:g}" for word, value in held.get("words", {}).items())
        chosen = {"role": held.get("role", ""), "tag": held.get("tag", ""), "words": words}
        rows.append({"number": number, "seen": point, "unit": held.get("unit") or point["unit"]} | chosen)
    plain = {name: typed.get(name, "") for name in fields_of()}
    listed = typed.get("no_value", [])
    return {"rows": rows, "typed": plain | {"no_value": ", ".join(listed)}, **choices()}


def _said(pointer: str, value: str, reason: str, remedy: str, typed: Mapping[str, Any]) -> str:
    parts = pointer.split("/")
    name = pointer.lstrip("/").replace("_", " ")
    if len(parts) > 2 and parts[1] == "points" and parts[2].isdigit():
        name = json.dumps(typed["points"][int(parts[2])]["name"], ensure_ascii=False)
    return f"{name}{f' ({value})' if value else ''}: {reason} {remedy}".lstrip(": ")
