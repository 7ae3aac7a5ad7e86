"""The pressure form: the profile in the order of the air, what was read across parts, setpoints held, spaces."""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.dossier import pressure_parts
from commissioning.engineering import units
from commissioning.pages.field_page import RecordPage, design_of, measured_before
from commissioning.pages.field_sheet import NotReadable, Sheet
from portfolio.models import Position

STREAMS = ("supply", "exhaust")
PARTS = ("filter", "core", "coil")
CONDITIONS = {"clean": "clean", "loaded": "loaded", "wet": "wet", "not_seen": "not seen"}
ORDERS = {
    "draws": ("unit_inlet", "filter", "core", "coil", "fan", "unit_outlet"),
    "blows": ("unit_inlet", "filter", "fan", "core", "coil", "unit_outlet"),
}
"""Where the fan stands: it draws the air through the core, or blows it."""

ACROSS = {"filter": "filter", "core": "core", "coil": "coil", "unit": "whole unit, outlet less inlet"}
DEMANDS = ("design", "minimum")
AVERAGES = 3
LEAST_SPACES = 2
WIND = {"ip": "mph", "si": "m/s"}


class PressurePage(RecordPage):
    kind = "pressure"
    template = "commissioning/field_pressure.html"

    def readings(self, sheet: Sheet) -> dict[str, Any]:
        held: dict[str, Any] = {
            "profiles": list(_profiles(sheet)),
            "differences": list(_differences(sheet)),
            "controlled": list(_controlled(sheet)),
            "spaces": list(_spaces(sheet)),
        }
        if not any(held.values()):
            name = f"supply-{ORDERS['draws'][0]}"
            raise NotReadable(name, "", "No pressure is filled in.", "Fill in a tap, a drop, a setpoint or a space.")
        if sheet.text("reset_by_zones") in ("yes", "no"):
            held["reset_by_zones"] = sheet.text("reset_by_zones") == "yes"
        return held

    def asked(self, unit: Position, display: str, typed: Mapping[str, str]) -> dict[str, Any]:
        design = design_of(unit)
        before = _before(unit, display)
        return {
            "streams": [_stream(stream, typed, before) for stream in STREAMS if _has(design, stream)],
            "orders": (("draws", "after core and coil"), ("blows", "before core and coil")),
            "controls": [_control(fan, demand, typed, before) for fan in STREAMS for demand in DEMANDS],
            "rooms": list(_rooms(design, typed, before)),
            "wind_unit": units.unit(WIND[display]).label,
            "answers": (("yes", "yes"), ("no", "no"), ("", "not seen")),
        }


def places(order: str) -> Iterator[str]:
    """The taps in the order of the air."""
    for place in ORDERS[order if order in ORDERS else "draws"]:
        if place.startswith("unit"):
            yield place
        else:
            yield from (f"before_{place}", f"after_{place}")


def _read(sheet: Sheet, values: list[float]) -> dict[str, Any]:
    zeroed = sheet.text("zeroed")
    if zeroed not in ("yes", "no"):
        raise NotReadable("zeroed", zeroed, "It is not said whether the zero was set.", "Choose yes or no.")
    series = {"values": values, "unit": sheet.unit("pressure")}
    return {"readings": series, "instrument": sheet.instrument(), "zeroed": zeroed == "yes"}


def _signed(sheet: Sheet, name: str) -> float | None:
    """A number with the sign chosen beside it, as number pads have none; a sign that was typed goes first."""
    value = sheet.number(name)
    if value is None or sheet.text(name)[:1] in ("-", "+"):
        return value
    return -value if sheet.text(f"sign-{name}") == "-" else value


def _profiles(sheet: Sheet) -> Iterator[dict[str, Any]]:
    for stream in STREAMS:
        taps = [
            {**_read(sheet, [value]), "at": place}
            for place in places(sheet.text("fan_stands"))
            if (value := _signed(sheet, f"{stream}-{place}")) is not None
        ]
        if taps:
            yield {"stream": stream, "taps": taps} | {part: _condition(sheet, stream, part) for part in PARTS}


def _condition(sheet: Sheet, stream: str, part: str) -> str:
    return sheet.text(f"is-{stream}-{part}") or "not_seen"


def _differences(sheet: Sheet) -> Iterator[dict[str, Any]]:
    for stream in STREAMS:
        for part in ACROSS:
            value = sheet.number(f"across-{stream}-{part}")
            if value is not None:
                condition = _condition(sheet, stream, part) if part in PARTS else "not_seen"
                yield {**_read(sheet, [value]), "stream": stream, "across": part, "condition": condition}


def _controlled(sheet: Sheet) -> Iterator[dict[str, Any]]:
    for fan in STREAMS:
        for demand in DEMANDS:
            held = sheet.number(f"held-{fan}-{demand}")
            if held is None:
                continue
            name = f"setpoint-{fan}-{demand}"
            setpoint = sheet.quantity(name, sheet.unit("pressure"))
            if setpoint is None:
                raise NotReadable(name, "", "The setpoint of that moment is missing.", "Read it off the controller.")
            given = {**_read(sheet, [held]), "fan": fan, "demand": demand, "setpoint": setpoint}
            settled = sheet.quantity(f"settled-{fan}-{demand}", "s")
            yield given | ({"stabilised_in": settled} if settled else {})


def _spaces(sheet: Sheet) -> Iterator[dict[str, Any]]:
    for number in range(1, 61):
        name, average = f"space-{number}", f"space-{number}-over"
        read = (_signed(sheet, f"{name}-{n}") for n in range(1, AVERAGES + 1))
        values = [value for value in read if value is not None]
        if not values:
            continue
        if not sheet.text(name):
            raise NotReadable(name, "", "The space has no name.", "Name it as the design does.")
        over = sheet.quantity(average, "s")
        if over is None:
            raise NotReadable(average, "", "It is not said how long each reading was averaged.", "A minute or longer.")
        against = sheet.text(f"{name}-against") or "outdoors"
        given = {
            **_read(sheet, values),
            "space": sheet.text(name),
            "against": against,
            "averaged_over": over,
            "door": sheet.text(f"{name}-door") or "not_seen",
        }
        if against == "neighbour" and sheet.text(f"{name}-neighbour"):
            given["neighbour"] = sheet.text(f"{name}-neighbour")
        wind = sheet.quantity("wind", WIND[sheet.display])
        if wind is not None:
            given["wind"] = wind
        if sheet.text("shielded") in ("yes", "no"):
            given["reference_shielded"] = sheet.text("shielded") == "yes"
        yield given


def _before(unit: Position, display: str) -> dict[tuple[str, str], str]:
    """The newest reading of each figure, printed."""
    return {
        (figure["name"], figure["at"]): pressure_parts.number(figure["value"], display)
        for one in measured_before(unit, "pressure")
        for figure in one["figures"]
    }


def _has(design: Mapping[str, Any], stream: str) -> bool:
    """Whether the unit has this stream; where no port is designed, both are asked for."""
    ports = {"supply": {"supply", "outdoor"}, "exhaust": {"exhaust", "return"}}[stream]
    return not design["ports"] or bool(ports & set(design["ports"]))


def _stream(stream: str, typed: Mapping[str, str], before: Mapping[tuple[str, str], str]) -> dict[str, Any]:
    def box(name: str, words: str, figure: tuple[str, str], sign: str = "") -> dict[str, str]:
        held, last = typed.get(name, ""), before.get(figure, "none")
        return {"name": name, "words": words, "held": held, "before": last, "sign": typed.get(f"sign-{name}", sign)}

    along = list(places(typed.get("fan_stands", "")))
    suction = along[: along.index("after_fan")]
    taps = [
        box(
            f"{stream}-{place}",
            place.replace("_", " "),
            ("static_pressure", f"{stream} {place}"),
            "-" if place in suction else "+",
        )
        for place in along
    ]
    across = [
        box(f"across-{stream}-{part}", words, ("external_static" if part == "unit" else f"{part}_drop", stream))
        for part, words in ACROSS.items()
    ]
    conditions = [
        (f"is-{stream}-{part}", part, CONDITIONS.items(), typed.get(f"is-{stream}-{part}", "not_seen"))
        for part in PARTS
    ]
    return {"name": stream, "taps": taps, "across": across, "conditions": conditions}


def _control(fan: str, demand: str, typed: Mapping[str, str], before: Mapping[tuple[str, str], str]) -> dict[str, Any]:
    names = {part: f"{part}-{fan}-{demand}" for part in ("held", "setpoint", "settled")}
    return {
        "words": f"{fan.capitalize()} fan at {demand} demand",
        "before": before.get(("controlled_static", f"{fan} {demand}"), "none"),
        **{part: (name, typed.get(name, "")) for part, name in names.items()},
    }


def _rooms(
    design: Mapping[str, Any], typed: Mapping[str, str], before: Mapping[tuple[str, str], str]
) -> Iterator[dict[str, Any]]:
    designed = list(design.get("rooms", {}).items())
    typed_rows = max((n for n in range(1, 61) if typed.get(f"space-{n}")), default=0)
    for number in range(1, max(len(designed) + 1, LEAST_SPACES, typed_rows) + 1):
        name, room = designed[number - 1] if number <= len(designed) else ("", {})
        key = f"space-{number}"
        held = typed.get(key, name)
        sign = "-" if room.get("relation") == "negative" else "+"
        neighbour = typed.get(f"{key}-neighbour", room.get("neighbour") or "")
        yield {
            "key": key,
            "name": held,
            "relation": room.get("relation") or "",
            "before": before.get(("space_pressure", held), "none"),
            "boxes": [
                (f"{key}-{n}", typed.get(f"{key}-{n}", ""), typed.get(f"sign-{key}-{n}", sign))
                for n in range(1, AVERAGES + 1)
            ],
            "over": typed.get(f"{key}-over", "60"),
            "against": typed.get(f"{key}-against") or ("neighbour" if neighbour else "outdoors"),
            "neighbour": neighbour,
            "door": typed.get(f"{key}-door", ""),
        }
