"""What was typed on the form of a functional test, read into the payload's fields. Only what is answered is sent."""

import re
import uuid
from collections.abc import Callable, Mapping
from typing import Any

from commissioning.catalogue.procedures import Procedure, Step
from commissioning.catalogue.units import VOCABULARY
from commissioning.pages.field_photos import photo_of
from commissioning.pages.field_sheet import NotReadable, Sheet

FIELDS = ("a", "n", "first", "then", "instrument", "basis", "log", "why", "note", "sim", "un", "photo")
OTHERS = 2  # witnesses beside those who have to be there
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}))?")
_HALF_A_DAY_S = 43_200.0
_BETWEEN = re.compile(r"[\s;]+")


def run(sheet: Sheet, procedure: Procedure) -> dict[str, Any]:
    """The payload's own fields, beside those that every record has."""
    how = sheet.text("how") or "carried_through"
    answers = [one for step in procedure.steps if (one := _answer(sheet, step, _place(step))) is not None]
    if how == "carried_through" and not answers:
        first = procedure.steps[0].id
        raise NotReadable(f"a-{first}", "", "No step is answered.", "Answer one, or say below why it was not done.")
    if how in ("wasted", "deferred") and answers:
        raise NotReadable(
            "how", how, "Steps are answered, and nothing was tested.", "Clear the answers, or say it else."
        )
    made: dict[str, Any] = {
        "session": {"id": "functional tests", "purpose": "verification"},
        "stage": sheet.text("stage") or "final",
        "grade": "witnessed" if procedure.witnessed else "measured",
        "procedure": procedure.code,
        "version": procedure.version,
        "run": _needed(sheet, "run", "The run has no name.", "Name it; units tested together share it."),
        "answers": answers,
        "witnesses": _witnesses(sheet, procedure),
    }
    if sheet.text("signed"):
        photo = photo_of(sheet, "photo-signature")
        name = _needed(sheet, "signed", "This is no name.", "Sign with your name.")
        made["signature"] = {"name": name, "on": sheet.observed_at[:10]} | ({"photo": photo} if photo else {})
    if how != "carried_through":
        made[how] = _ENDS[how](sheet)
    return made | _retest(sheet)


def _retest(sheet: Sheet) -> dict[str, Any]:
    """Which run it repeats and for which issue, as the list of tests led to it."""
    held, issue = sheet.text("retest"), sheet.text("issue")
    if not held:
        return {}
    try:
        made: dict[str, Any] = {"id": str(uuid.UUID(held))}
    except ValueError:
        raise NotReadable("retest", held, "There is no such run.", "Begin again from the list of tests.") from None
    return {"retest_of": made | ({"issue": int(issue)} if re.fullmatch(r"[1-9]\d{0,8}", issue) else {})}


def seats(procedure: Procedure) -> dict[str, str]:
    """Lines for witnesses: one for each trade that has to be there, and some for others."""
    held = {code: VOCABULARY.trades[code] for code in procedure.needs.present}
    return held | {f"other{number}": "somebody else" for number in range(1, OTHERS + 1)}


def _place(step: Step) -> str:
    return f"“{step.do[:60]}…”" if len(step.do) > 60 else f"“{step.do}”"


def _needed(sheet: Sheet, name: str, reason: str, remedy: str) -> str:
    if len(sheet.text(name)) < 2:
        raise NotReadable(name, sheet.text(name), reason, remedy)
    return sheet.text(name)


def _answer(sheet: Sheet, step: Step, where: str) -> dict[str, Any] | None:
    given = _beside(sheet, step, where)
    chosen = sheet.text(f"a-{step.id}")
    held = _value(sheet, step, where)
    if chosen == "cannot":
        if held is not None:
            raise NotReadable(f"a-{step.id}", "", f"{where} has a value, and could not be done.", "Send one of them.")
        reason = f"It is not said why {where} could not be done."
        return {**given, "cannot": _told(sheet, f"why-{step.id}", reason)}
    if held is not None:
        return given | held
    if chosen in ("yes", "no") and step.answer in ("yes_no", "trend"):
        if step.answer == "trend":
            given["log"] = _needed(
                sheet, f"log-{step.id}", f"The trend of {where} is not named.", "Name it and its hours."
            )
        return {**given, "yes": chosen == "yes"}
    if len(given) > 1 or sheet.text(f"why-{step.id}"):
        raise NotReadable(f"a-{step.id}", "", f"There is a note or a photo of {where}, and no answer.", "Answer it.")
    return None


def _beside(sheet: Sheet, step: Step, where: str) -> dict[str, Any]:
    given: dict[str, Any] = {"step": step.id}
    if photo := photo_of(sheet, f"photo-{step.id}"):
        given["photos"] = [photo]
    if note := sheet.text(f"note-{step.id}"):
        given["note"] = note
    part, untested = sheet.text(f"sim-{step.id}"), sheet.text(f"un-{step.id}")
    if part or untested:
        reason = f"What was simulated at {where} is told by half."
        for name in ("sim", "un"):
            _told(sheet, f"{name}-{step.id}", reason)
        given["simulated"] = {"part": part, "untested": untested}
    return given


def _told(sheet: Sheet, name: str, reason: str) -> str:
    if len(sheet.text(name)) < 5:
        raise NotReadable(name, sheet.text(name), reason, "A few words are enough.")
    return sheet.text(name)


def _value(sheet: Sheet, step: Step, where: str) -> dict[str, Any] | None:
    if step.answer == "interval":
        return _times(sheet, step, where)
    text = sheet.text(f"n-{step.id}")
    if step.answer != "number" or not text:
        return None
    parts = [one for one in _BETWEEN.split(text) if one]
    each = [Sheet("", "", "", "", sheet.display, {f"n-{step.id}": one}).number(f"n-{step.id}") for one in parts]
    made: dict[str, Any] = {
        "readings": {"values": [one for one in each if one is not None], "unit": step.asked_in(sheet.display)}
    }
    if sheet.text(f"instrument-{step.id}"):
        made["instrument"] = sheet.text(f"instrument-{step.id}")
    elif step.measured:
        raise NotReadable(f"instrument-{step.id}", "", f"{where} is measured.", "Choose the instrument.")
    if step.unit == "m3/s":
        air = "It is not said of which air the airflow is."
        made["basis"] = _needed(sheet, f"basis-{step.id}", air, "Choose standard or actual air.")
    return made


def _times(sheet: Sheet, step: Step, where: str) -> dict[str, Any] | None:
    held = {name: _seconds(sheet, f"{name}-{step.id}") for name in ("first", "then")}
    if all(one is None for one in held.values()):
        return None
    for name, one in held.items():
        if one is None:
            raise NotReadable(f"{name}-{step.id}", "", f"One of the two times of {where} is missing.", "Type both.")
    first, then = (one or 0.0 for one in held.values())
    if abs(then - first) > _HALF_A_DAY_S:  # which was first would be told the wrong way round
        reason = f"The two times of {where} lie more than half a day apart."
        raise NotReadable(f"then-{step.id}", sheet.text(f"then-{step.id}"), reason, "Over midnight type seconds.")
    return {"times": {name: {"value": one, "unit": "s"} for name, one in held.items()}}


def _seconds(sheet: Sheet, name: str) -> float | None:
    """Seconds, or a time of day of a watch.

    >>> sheet = Sheet("", "", "", "", "si", {"a": "10:15:42", "b": "42", "c": "10:15"})
    >>> _seconds(sheet, "a"), _seconds(sheet, "b"), _seconds(sheet, "c")
    (36942.0, 42.0, 36900.0)
    """
    found = _CLOCK.fullmatch(sheet.text(name))
    if found is None:
        return sheet.number(name)
    hours, minutes, seconds = (int(one or 0) for one in found.groups())
    return float(3600 * hours + 60 * minutes + seconds)


def _witnesses(sheet: Sheet, procedure: Procedure) -> list[dict[str, Any]]:
    found = []
    for name in seats(procedure):
        person, company = sheet.text(f"person-{name}"), sheet.text(f"company-{name}")
        if not (person or company):
            continue
        for what in ("person", "company"):
            _needed(sheet, f"{what}-{name}", "A witness has a name and a company.", "Fill in both, or neither.")
        trade = name if name in VOCABULARY.trades else None
        found.append({"name": person, "company": company, "trade": trade, "role": sheet.text(f"role-{name}")})
    return found


def _aborted(sheet: Sheet) -> dict[str, str]:
    return {
        "reason": _told(sheet, "reason_aborted", "It is not said why it was broken off."),
        "safe_state": _told(sheet, "safe_state", "It is not said in which state the unit was left."),
    }


def _wasted(sheet: Sheet) -> dict[str, str]:
    company = _needed(sheet, "company_wasted", "It is not said by whose doing.", "Name the company.")
    return {"cause": _told(sheet, "cause", "It is not said why nothing could be tested."), "company": company}


def _deferred(sheet: Sheet) -> dict[str, str]:
    return {
        "condition": _told(sheet, "condition", "It is not said what would allow it."),
        "pays": _needed(sheet, "pays", "It is not said who pays the return.", "Name the company."),
        "owner": _needed(sheet, "owner", "It is not said who sees to it.", "Name the person."),
        "by": _needed(sheet, "by", "It is not said by when.", "Choose the day."),
    }


_ENDS: Mapping[str, Callable[[Sheet], dict[str, str]]] = {
    "aborted": _aborted,
    "wasted": _wasted,
    "deferred": _deferred,
}
