"""The start's form, in the order of the work: what allows it, dampers, fans by command and by proof; the rest folded.

Times are typed as the stopwatch shows them that was started with the start command. Nothing is chosen beforehand.
"""

from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError

from commissioning.dossier.faults import problems_of
from commissioning.dossier.startup.words import CAUTION, DAMPERS
from commissioning.judging import KINDS
from commissioning.pages.field_page import RecordPage, design_of
from commissioning.pages.field_photos import photo_of
from commissioning.pages.field_sheet import NotReadable, Sheet
from commissioning.pages.startup_asked import FANS, PHOTOS, losses_asked, sections, with_another_loss
from portfolio.models import Position

_PERMISSIVE = "permissive-"


class StartupPage(RecordPage):
    kind = "startup"
    template = "commissioning/field_startup.html"

    def readings(self, sheet: Sheet) -> dict[str, Any]:
        parts: dict[str, Any] = {
            "permissives": {
                name.removeprefix(_PERMISSIVE): sheet.text(name)
                for name in sheet.typed
                if name.startswith(_PERMISSIVE) and sheet.text(name)
            },
            "dampers": [held for name in DAMPERS if (held := _damper(sheet, name)) is not None],
            "fans": [held for fan in FANS if (held := _fan(sheet, fan)) is not None],
            "limits": _limits(sheet),
            "not_running": _not_running(sheet),
            "temporary_operation": _temporary(sheet),
            "controller": sheet.text("controller"),
        }
        frame = {
            "stage": sheet.text("stage") or "final",
            "session": {"id": "start", "purpose": "as_left"},
            "grade": "witnessed",
        }
        made = {**frame, **{name: one for name, one in parts.items() if one}}
        _check(made)
        return made

    def photos(self, sheet: Sheet) -> list[dict[str, str]]:
        held = {name: photo_of(sheet, name) for name in PHOTOS}
        return [{"sha256": sha256, "caption": PHOTOS[name]} for name, sha256 in held.items() if sha256]

    def again(self, typed: Mapping[str, str]) -> Mapping[str, str] | None:
        """Another line for a loss of proof: nothing is sent yet."""
        return with_another_loss(typed) if typed.get("more") else None

    def asked(self, unit: Position, display: str, typed: Mapping[str, str]) -> dict[str, Any]:
        return {"caution": CAUTION, "sections": sections(design_of(unit), display, typed)}


def _check(made: Mapping[str, Any]) -> None:
    """As the record will be read: what it would be refused for is told at its field, before anything is sent."""
    try:
        KINDS["startup"].Payload.model_validate(made)
    except ValidationError as error:
        problem = problems_of(error, made)[0]
        raise NotReadable(_field(problem.pointer, made), problem.value, problem.reason, problem.remedy) from None


def _field(pointer: str, made: Mapping[str, Any]) -> str:
    """The form's field that a place in the payload was typed in, as near as it can be told."""
    first, _, rest = pointer.strip("/").partition("/")
    number, _, inner = rest.partition("/")
    name = inner.partition("/")[0]
    if first == "dampers":
        return f"{made[first][int(number)]['damper']}_damper-{name or 'opening'}"
    if first == "fans":
        return f"{made[first][int(number)]['fan']}-{name or 'command'}"
    if first in ("permissives", "temporary_operation"):
        return f"{first.removesuffix('s').removesuffix('_operation')}-{number or 'since'}"
    return {"limits": "delay-source", "not_running": "cause"}.get(first, "permissive-power")


def _held(**parts: Any) -> dict[str, Any]:
    return {name: one for name, one in parts.items() if one not in (None, "", {}, [])}


def _seconds(sheet: Sheet, name: str) -> dict[str, Any] | None:
    return sheet.quantity(name, "s")


def _damper(sheet: Sheet, damper: str) -> dict[str, Any] | None:
    named = f"{damper}_damper"
    held = _held(
        opening=sheet.text(f"{named}-opening"),
        proof=sheet.text(f"{named}-proof"),
        proven=_seconds(sheet, f"{named}-proven"),
        closed=_seconds(sheet, f"{named}-closed"),
    )
    return {"damper": damper, **held} if held else None


def _fan(sheet: Sheet, fan: str) -> dict[str, Any] | None:
    air, current = sheet.text(f"{fan}-air"), sheet.text(f"{fan}-current")
    held = _held(
        command=sheet.text(f"{fan}-command"),
        commanded=_seconds(sheet, f"{fan}-commanded"),
        current=_held(seen=current, at=_seconds(sheet, f"{fan}-current_at")),
        air=_held(seen=air, by=sheet.text(f"{fan}-air_by"), at=_seconds(sheet, f"{fan}-air_at")),
        rotation=sheet.text(f"{fan}-rotation"),
        rotation_by=sheet.text(f"{fan}-rotation_by"),
        lost=[loss for n in losses_asked(sheet.typed, fan) if (loss := _loss(sheet, fan, n)) is not None],
        stopped=_seconds(sheet, f"{fan}-stopped"),
        settled=_settled(sheet, fan),
        electrical=sheet.text(f"{fan}-electrical"),
    )
    if held and "command" not in held:
        raise NotReadable(f"{fan}-command", "", "It is not said whether the fan was commanded.", "Choose it.")
    return {"fan": fan, **held} if held else None


def _loss(sheet: Sheet, fan: str, number: int) -> dict[str, Any] | None:
    at = _seconds(sheet, f"{fan}-lost-{number}")
    held = _held(
        of=sheet.text(f"{fan}-lost_of-{number}"),
        lasted=_seconds(sheet, f"{fan}-lasted-{number}"),
        alarm=_seconds(sheet, f"{fan}-alarm-{number}"),
    )
    if at is None and (held or sheet.text(f"{fan}-purpose-{number}")):
        raise NotReadable(f"{fan}-lost-{number}", "", "It is not said when proof was lost.", "Type the seconds.")
    if at is None:
        return None
    return {"at": at, "on_purpose": sheet.text(f"{fan}-purpose-{number}") == "yes", **held}


def _settled(sheet: Sheet, fan: str) -> dict[str, Any]:
    read = _held(
        speed=sheet.quantity(f"{fan}-speed", "rpm"),
        pressure_rise=sheet.quantity(f"{fan}-rise", sheet.unit("pressure")),
        airflow=sheet.quantity(f"{fan}-flow", sheet.unit("airflow")),
    )
    after = sheet.quantity(f"{fan}-after", "min")
    return {**read, **_held(after=after)} if read else {}


def _limits(sheet: Sheet) -> dict[str, Any]:
    held = _held(
        damper_proof=_seconds(sheet, "delay-damper"),
        fan_proof=_seconds(sheet, "delay-fan"),
        exhaust_after_supply=_seconds(sheet, "delay-exhaust"),
    )
    source = sheet.text("delay-source")
    if held and len(source) < 2:
        raise NotReadable("delay-source", "", "It is not said who gave these delays.", "Name the document.")
    return {**held, "source": source} if held else {}


def _not_running(sheet: Sheet) -> dict[str, Any]:
    held = _held(cause=sheet.text("cause"), note=sheet.text("cause-note"), company=sheet.text("cause-company"))
    if held and "cause" not in held:
        raise NotReadable("cause", "", "It is not said why it does not run.", "Choose the cause.")
    return held


def _temporary(sheet: Sheet) -> dict[str, Any]:
    names = ("since", "until", "hours", "filters", "allowed_by", "company")
    held = _held(
        **{name: sheet.text(f"temporary-{name}") for name in names}, hours_run=sheet.number("temporary-hours_run")
    )
    for name, what in (("since", "since when"), ("filters", "with which filters"), ("allowed_by", "who allowed it")):
        if held and name not in held:
            raise NotReadable(f"temporary-{name}", "", f"It is not said {what}.", "Fill it in.")
    return held
