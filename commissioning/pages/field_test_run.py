"""The form of a functional test: first which procedure, then step by step, one to a screen of a phone.

All steps are one page, and the way from one to the next is an anchor: nothing is lost on back. Photos are kept at once.
"""

import uuid
from collections.abc import Mapping
from typing import Any
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from commissioning.catalogue.procedures import Library, Procedure, Step
from commissioning.catalogue.units import VOCABULARY
from commissioning.dossier.procedures import show_log, show_tests
from commissioning.dossier.procedures.answered import asked_json
from commissioning.dossier.procedures.plan import Asked, Planned, plan_of, planned
from commissioning.engineering import units
from commissioning.evidence.own_procedures import library_at, library_of
from commissioning.models import CurrentVerdict, Issue, IssueCheck
from commissioning.pages import field_test_answers as read
from commissioning.pages.field_page import RecordPage, measured_before
from commissioning.pages.field_photos import hash_in
from commissioning.pages.field_sheet import NotReadable, Sheet
from commissioning.verdicts.planned_tests import unit_now
from portfolio.models import Position

ENDED = {
    "carried_through": "carried through",
    "aborted": "broken off",
    "wasted": "call-out wasted: nothing could be tested",
    "deferred": "deferred: it cannot be done now",
}
_GROUPS = {
    "due": "Due: the design lists them",
    "yes": "They apply, and no list names them",
    "not_known": "Neither the design's options nor the settings tell whether they apply",
    "no": "They do not apply",
}


class FunctionalTestPage(RecordPage):
    kind = "test_run"
    template = "commissioning/field_test_run.html"

    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        """What the address says is taken along: the procedure, the run, what it is a retest of."""
        unit = self._unit(pk)
        now = timezone.now().astimezone(ZoneInfo(unit.building.site.time_zone)).replace(microsecond=0)
        asked = {name: request.GET.get(name, "")[:100] for name in ("procedure", "run", "retest", "issue")}
        asked["run"] = asked["run"] or f"FT {now:%Y-%m-%d}"
        typed = {**asked, "supersedes": request.GET.get("instead_of", "")}
        return self._show(unit, str(uuid.uuid4()), now, typed)

    def photos(self, sheet: Sheet) -> list[dict[str, str]]:
        procedure = _chosen(sheet.typed, library_at(sheet.position))
        named = {one.id: one.do[:400] for one in procedure.steps} if procedure else {}
        named["signature"] = "Signature"
        held = {id: sheet.text(f"photo-{id}") for id in named}
        return [{"sha256": sha256, "caption": named[id]} for id, sha256 in held.items() if sha256]

    def readings(self, sheet: Sheet) -> dict[str, Any]:
        procedure = _chosen(sheet.typed, library_at(sheet.position))
        if procedure is None:
            code = sheet.text("procedure")
            raise NotReadable("procedure", code, "It is not said which test this is.", "Choose one of the list.")
        return read.run(sheet, procedure)

    def asked(self, unit: Position, display: str, typed: Mapping[str, str]) -> dict[str, Any]:
        given = unit_now(unit)
        library = library_of(unit.building.site.project_id)
        procedure = _chosen(typed, library)
        if procedure is None:
            return {"procedure": None, "groups": self._groups(unit, list(plan_of(given, library)))}
        plan = planned(given, procedure)
        before = _before(unit, procedure.code)
        steps = [_step(number, one, before, display, typed) for number, one in enumerate(plan.steps, start=1)]
        needs = procedure.needs
        return {
            "procedure": procedure,
            "reason": plan.reason,
            "cautions": [VOCABULARY.hazards[code] for code in procedure.hazards],
            "not_said": show_tests.NOT_SAID,
            "present": ", ".join(VOCABULARY.trades[code] for code in needs.present),
            "steps": steps,
            "ended": ENDED.items(),
            "how": typed.get("how", "carried_through"),
            "witnesses": [_witness(name, words, typed) for name, words in read.seats(procedure).items()],
            "signature_photo": hash_in(typed, "photo-signature"),
            "earlier": before["facts"]["run"] if before else "",
        }

    def _groups(self, unit: Position, plan: list[Planned]) -> list[tuple[str, list[dict[str, Any]]]]:
        """What is due first; a test that was run before is run again as its retest, for the issue that asks for it."""
        checks = IssueCheck.objects.filter(position=unit, requirement="functional_tests", live=True)
        issues = dict(checks.filter(issue__in=self.seen(Issue.objects)).values_list("port", "issue__number"))
        ran = {one["facts"]["procedure"]: one["envelope"] for one in measured_before(unit, self.kind)}
        lines = [_line(one, ran, issues) for one in plan]
        held = [(title, [one for one in lines if one["group"] == code]) for code, title in _GROUPS.items()]
        return [(title, rows) for title, rows in held if rows]


def _chosen(typed: Mapping[str, str], library: Library) -> Procedure | None:
    return library.procedures.get(typed.get("procedure", ""))


def _before(unit: Position, code: str) -> dict[str, Any] | None:
    """The newest run of this procedure, whatever came of it; `judged` are its steps where the verdict rests on it."""
    held = [one for one in measured_before(unit, "test_run") if one["facts"]["procedure"] == code]
    return held[-1] | {"judged": _judged(unit, code, held[-1]["envelope"])} if held else None


def _judged(unit: Position, code: str, run: str) -> dict[str, Mapping[str, Any]]:
    verdicts = CurrentVerdict.objects.filter(position=unit, requirement="functional_tests", port=code)
    for result in verdicts.values_list("judgement__result", flat=True):
        if run in result["rests_on"]:
            return {one["step"]: one for one in result["facts"].get("steps", ())}
    return {}


def _line(one: Planned, ran: Mapping[str, str], issues: Mapping[str, int]) -> dict[str, Any]:
    code = one.procedure.code
    return {
        "code": code,
        "title": one.procedure.title,
        "steps": len(one.steps),
        "group": "due" if one.is_due else one.applies,
        "reason": one.reason if one.applies == "no" else "",
        "retest": ran.get(code, ""),
        "issue": issues.get(code, ""),
    }


def _step(
    number: int, asked: Asked, before: Mapping[str, Any] | None, display: str, typed: Mapping[str, str]
) -> dict[str, Any]:
    step = asked.step
    held = {name: typed.get(f"{name}-{step.id}", "") for name in read.FIELDS}
    code = step.asked_in(display)
    return {
        "step": step,
        "number": number,
        "held": held,
        "unit": units.unit(code).label.replace(" (difference)", "") if code else "",
        "is_airflow": bool(step.unit) and units.quantity_of(step.unit) == "airflow",
        "basis": held["basis"] or (asked.expected.basis if asked.expected else ""),
        "wanted": show_tests.wanted(asked_json(asked), display),
        "who": VOCABULARY.trades.get(step.who, ""),
        "cautions": [VOCABULARY.hazards[one] for one in step.caution],
        "photo": hash_in(held, "photo"),
        "names": [f"{name}-{step.id}" for name in read.FIELDS],
        "before": _told_before(step, before, display),
        "is_spread": any(held[name] for name in ("why", "note", "sim", "un")),
    }


def _told_before(step: Step, before: Mapping[str, Any] | None, display: str) -> str:
    """What was answered last time."""
    answer = before["facts"]["answers"].get(step.id) if before else None
    if before is None or answer is None:
        return ""
    if answer["cannot"]:
        return f"could not be done: {answer['cannot']}"
    figure = next((one for one in before["figures"] if one["at"] == step.id), None)
    if figure is not None:
        return show_tests.number(figure["value"], figure["expanded_uncertainty"], figure["unit"], display)
    judged = before["judged"].get(step.id)
    return show_log.seen(judged) if judged else "as expected" if answer["yes"] else "not as expected"


def _witness(name: str, words: str, typed: Mapping[str, str]) -> dict[str, str]:
    return {"name": name, "words": words} | {
        what: typed.get(f"{what}-{name}", "") for what in ("person", "company", "role")
    }
