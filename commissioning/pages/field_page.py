"""`RecordPage`, the base of every form on which a unit is recorded from a phone: shown, read, sent, received."""

import json
import uuid
from abc import ABC, abstractmethod
from collections.abc import Mapping
from datetime import datetime
from typing import Any, ClassVar
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from commissioning.engineering import units
from commissioning.evidence.accept import Kept, Sender, accept
from commissioning.evidence.senders import verb_of
from commissioning.judging import KINDS
from commissioning.models import JudgedPosition, Record
from commissioning.pages.field_photos import with_photos
from commissioning.pages.field_sheet import MODES, STATE, UNITS, NotReadable, Sheet, envelope_bytes
from portfolio.dashboards.display import display_for
from portfolio.dashboards.page import Page, SeeOther, text_of
from portfolio.models import Installation, Instrument, Position
from portfolio.models.design import fold_entries


class RecordPage(ABC, Page):
    """A kind's form says which kind it makes, which template shows it, and how its readings are read.

    Its line in `record_forms.FORMS` gives it its route, `/units/<id>/record/<kind>`, and its link on the unit page.
    """

    kind: ClassVar[str]
    template: ClassVar[str]

    @abstractmethod
    def readings(self, sheet: Sheet) -> dict[str, Any]:
        """The payload's own fields, beside those that every record has. Raises NotReadable."""

    @abstractmethod
    def asked(self, unit: Position, display: str, typed: Mapping[str, str]) -> dict[str, Any]:
        """What the template needs to ask for the readings."""

    def typed(self, request: HttpRequest) -> dict[str, str]:
        """The form's fields; a form that takes other files than photos keeps them here, under names of their own."""
        return {name: text_of(request.POST, name, 100_000) for name in request.POST}

    def again(self, typed: Mapping[str, str]) -> Mapping[str, str] | None:
        """The form's fields where it is only to be shown again, with more to fill in; None where it is sent."""
        return None

    def photos(self, sheet: Sheet) -> list[dict[str, str]]:
        """The photos that the record names, by hash, with their captions."""
        return []

    def follows(self, unit: Position, raw: bytes) -> str:
        """What the record makes due elsewhere, as a sentence. It is not judged yet."""
        return ""

    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        unit = self._unit(pk)
        zone = ZoneInfo(unit.building.site.time_zone)
        now = timezone.now().astimezone(zone).replace(microsecond=0)
        typed = {"session": f"AL {now:%Y-%m-%d}", "supersedes": request.GET.get("instead_of", "")}
        return self._show(unit, str(uuid.uuid4()), now, typed)

    def post(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        unit = self._unit(pk)
        project = unit.building.site.project_id
        typed = with_photos(self.typed(request), request=request, person=self.person, project=project)
        made_id, when = self._identity(typed)
        if (more := self.again(typed)) is not None:
            return self._show(unit, made_id, when, more)
        sheet = self._sheet(unit, made_id, when, typed)
        try:
            raw = envelope_bytes(sheet, self.kind, self.readings(sheet), self.photos(sheet))
        except NotReadable as fault:
            told = f"{fault.name.replace('-', ' ')}: {fault.reason} {fault.remedy}"
            return self._show(unit, made_id, when, typed, fault=told, wrong=fault.name, status=400)
        sender = Sender(self.person, request_id=str(request.META.get("ventfolio.request_id", "")))
        outcome = accept(sender, [raw])[0]
        if not isinstance(outcome, Kept):
            return self._show(unit, made_id, when, typed, fault=outcome.detail, status=outcome.status)
        receipt = json.loads(outcome.receipt)
        told = f"Received. Receipt {receipt['sha256'][:12]}, kept on the server."
        if receipt["state"] == "needs_attention":
            told = f"Received and kept, but it cannot be evaluated: {receipt['problems'][0]['reason']}"
        elif sheet.text("stage") != "preliminary":
            told = " ".join(filter(None, (told, self.follows(unit, raw))))
        messages.info(request, told)
        return SeeOther(f"/units/{unit.pk}")

    def _unit(self, pk: uuid.UUID) -> Position:
        rows = Position.objects.select_related("building__site__project")
        return self.visible(rows, pk, verb=verb_of(self.kind))

    def _identity(self, typed: Mapping[str, str]) -> tuple[str, datetime]:
        """As the form was shown; what was tampered with is made anew."""
        try:
            return str(uuid.UUID(typed["id"])), datetime.fromisoformat(typed["observed_at"])
        except (KeyError, ValueError):
            return str(uuid.uuid4()), timezone.now().replace(microsecond=0)

    def _display(self, unit: Position, typed: Mapping[str, str]) -> str:
        """As the form was shown: what was typed in one unit is not read in another."""
        held = typed.get("display", "")
        return held if held in ("ip", "si") else display_for(self.request, unit.building.site.project)

    def _sheet(self, unit: Position, made_id: str, when: datetime, typed: Mapping[str, str]) -> Sheet:
        zone = ZoneInfo(unit.building.site.time_zone)
        moment = when if when.tzinfo else when.replace(tzinfo=zone)
        return Sheet(
            id=made_id,
            position=str(unit.pk),
            person=str(self.person.pk),
            observed_at=moment.isoformat(),
            display=self._display(unit, typed),
            typed=typed,
        )

    def _show(
        self,
        unit: Position,
        made_id: str,
        when: datetime,
        typed: Mapping[str, str],
        *,
        fault: str = "",
        wrong: str = "",
        status: int = 200,
    ) -> HttpResponse:
        display = self._display(unit, typed)
        installed = Installation.objects.filter(position=unit, until__isnull=True).select_related("machine").first()
        context: dict[str, Any] = {
            "unit": unit,
            "title": KINDS[self.kind].TITLE,
            "display_kept": display,
            "made_id": made_id,
            "observed_at": when.isoformat(),
            "when": when,
            "typed": typed,
            "fault": fault,
            "wrong": wrong,
            "serial": installed.machine.serial if installed else "",
            "state": [
                (name, words, [(v, v.replace("_", " ")) for v in values], typed.get(name, ""))
                for name, (words, values) in STATE.items()
            ],
            "modes": MODES.items(),
            "instruments": self.seen(Instrument.objects).order_by("name", "serial"),
            "units": {quantity: units.unit(codes[display]).label for quantity, codes in UNITS.items()},
            "session_before": _session_before(unit),
        }
        return self.show(self.template, context | self.asked(unit, display, typed), status=status)


def design_of(unit: Position) -> dict[str, Any]:
    """The design that holds, by group and name."""
    return fold_entries(unit.design_entries.select_related("revision"))


def measured_before(unit: Position, kind: str) -> list[dict[str, Any]]:
    """What earlier records of a kind amount to, in the order of observation: to be shown beside the new reading."""
    held = JudgedPosition.objects.filter(pk=unit.pk).values_list("measurements", flat=True).first() or []
    return [one for one in held if one["kind"] == kind]


def _session_before(unit: Position) -> str:
    """The session of the last record: a visit goes on in it, a unit that was touched since needs another name."""
    rows = Record.objects.filter(position=unit).exclude(session="").order_by("-observed_at", "-pk")
    return rows.values_list("session", flat=True).first() or ""
