"""Pressures opened down to their readings: the profile in the order of the air, then each figure with its working."""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Axis, Block, Caution, Column, Plot, Sentence, Series, Table
from commissioning.dossier import pressure_parts as words
from commissioning.dossier import printing
from commissioning.dossier.figure_shows import read_with, working
from commissioning.engineering import units

CAUTION = (
    "Taps lie beside running fans and live parts. Follow the site's permits, local codes and lockout rules before a "
    "panel is opened, a ladder climbed or a duct drilled."
)
_FIRST = ("external_static", "space_pressure", "controlled_static", "filter_drop", "core_drop", "coil_drop")


def headline(measurement: Mapping[str, Any], display: str) -> str:
    """What the record amounts to, in a line: its most telling figures."""
    figures = measurement["figures"]
    told = sorted(
        (one for one in figures if one["name"] in _FIRST), key=lambda one: (_FIRST.index(one["name"]), one["at"])
    )
    if not told:
        return f"{len(figures)} static pressures along the air"
    more = f" and {len(told) - 2} more" if len(told) > 2 else ""
    return "; ".join(f"{_title(one)} {words.of_json(one, display)}" for one in told[:2]) + more


def show(measurement: Mapping[str, Any], display: str) -> tuple[Block, ...]:
    figures = measurement["figures"]
    stage = f"{measurement['stage']}, session {measurement['session']}"
    blocks: list[Block] = [
        Sentence(
            f"Pressures: {headline(measurement, display)}; {stage}, {printing.moment(measurement['observed_at'])}."
        ),
        Caution(CAUTION, "rotating and live parts"),
    ]
    blocks += _profiles(measurement, display)
    blocks.append(_table(measurement, display))
    blocks.append(read_with(measurement, none="none: the values are reported or read off a controller"))
    for one in figures:
        if one["name"] != "static_pressure":
            blocks += working(one, _title(one), printing.minus(f"{one['value']:.6g} Pa"))
    blocks += [Sentence(remark, "aside") for remark in measurement["remarks"]]
    return tuple(blocks)


def _title(figure: Mapping[str, Any]) -> str:
    name, at = words.WORDS.get(figure["name"], figure["name"].replace("_", " ")), figure["at"].replace("_", " ")
    if figure["name"] == "space_pressure":
        return f"Pressure of {at}"
    return f"{at[:1].upper()}{at[1:]}: {name}"


def _profiles(measurement: Mapping[str, Any], display: str) -> Iterator[Block]:
    held = {one["at"]: one for one in measurement["figures"] if one["name"] == "static_pressure"}
    series = []
    for stream, places in measurement["facts"]["profiles"].items():
        taps = [held[f"{stream} {place}"] for place in places]
        rows = tuple(
            (place.replace("_", " "), words.number(tap["value"], display), _wide(tap, display))
            for place, tap in zip(places, taps, strict=True)
        )
        columns = (Column("Tap"), Column("Static pressure", words.unit(display), "right"), Column("±", "", "right"))
        yield Table(columns, rows, f"{stream.capitalize()} stream, in the order of the air")
        numbers = tuple(float(index) for index in range(1, len(places) + 1))
        code = "in_wc" if display == "ip" else "Pa"
        values = tuple(round(float(units.from_si(tap["value"], code)), 6) for tap in taps)
        series.append(Series(f"{stream} stream", numbers, values, join=True))
    if any(len(one.x) > 1 for one in series):
        label = "Static pressure from tap to tap, in the order of the air."
        yield Plot(label, Axis("tap"), Axis("static pressure", words.unit(display)), tuple(series))


def _table(measurement: Mapping[str, Any], display: str) -> Table:
    conditions = measurement["facts"]["conditions"]
    rows = tuple(
        (
            _title(one),
            words.number(one["value"], display),
            _wide(one, display),
            _told(one, measurement, conditions),
        )
        for one in measurement["figures"]
        if one["name"] != "static_pressure"
    )
    columns = (Column("What"), Column("Value", words.unit(display), "right"), Column("±", "", "right"), Column("Seen"))
    return Table(columns, rows, "What lies between", "Taps on both sides of a part, or a reading across it, fill this.")


def _told(figure: Mapping[str, Any], measurement: Mapping[str, Any], conditions: Mapping[str, str]) -> str:
    if figure["name"] == "space_pressure":
        return f"against {measurement['facts']['spaces'][figure['at']]}"
    seen = conditions.get(f"{figure['name'].removesuffix('_drop')} {figure['at']}", "")
    return seen.replace("_", " ")


def _wide(figure: Mapping[str, Any], display: str) -> str:
    return "" if figure["expanded_uncertainty"] is None else words.spread(figure["expanded_uncertainty"], display)
