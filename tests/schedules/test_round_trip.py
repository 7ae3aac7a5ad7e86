"""Rows written in random styles are understood as what was written; noise is never an exception."""

import io
from dataclasses import dataclass
from typing import Any

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from portfolio.schedules.reading import read_pasted, read_workbook
from portfolio.schedules.understanding import Choices, Understanding, understand, understanding_from
from portfolio.schedules.understanding.stored import to_json

# field: (group heading, heading, spellings of the unit)
_FIELDS: dict[str, tuple[str, str, dict[str, str]]] = {
    "supply.airflow": ("SUPPLY AIR", "AIRFLOW", {"CFM": "cfm", "L/s": "L/s", "m³/h": "m3/h"}),
    "outdoor.airflow": ("OUTSIDE AIR", "AIRFLOW", {"CFM": "cfm", "L/S": "L/s", "m3/h": "m3/h"}),
    "exhaust.airflow": ("EXH. AIR", "QUANTITY", {"CFM": "cfm", "LPS": "L/s", "CMH": "m3/h"}),
    "supply.static_pressure": ("SUPPLY FAN", "E.S.P.", {"IN. W.G.": "in_wc", "Pa": "Pa", "in. w.c.": "in_wc"}),
    "fan.exhaust.motor_power": ("EXHAUST FAN", "MOTOR", {"HP": "hp", "kW": "kW"}),
}
_DECIMALS = {"airflow": 0, "static_pressure": 2, "motor_power": 1}


@dataclass(frozen=True)
class Style:
    """How a schedule is written."""

    header: str  # in one cell, groups, units below
    form: str  # workbook, csv, pasted
    numbers: str  # numbers, text
    comma: bool
    grouped: bool
    title: bool
    blanks: bool
    encoding: str
    delimiter: str


STYLES = st.builds(
    Style,
    header=st.sampled_from(["one cell", "groups", "units below"]),
    form=st.sampled_from(["workbook", "csv", "pasted"]),
    numbers=st.sampled_from(["numbers", "text"]),
    comma=st.booleans(),
    grouped=st.booleans(),
    title=st.booleans(),
    blanks=st.booleans(),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]),
    delimiter=st.sampled_from([",", ";", "\t"]),
)


@st.composite
def schedules(draw: st.DrawFn) -> tuple[dict[str, str], list[tuple[str, dict[str, float]]]]:
    """Units by field in a random order, and rows of (tag, value by field)."""
    names = draw(st.lists(st.sampled_from(sorted(_FIELDS)), min_size=1, max_size=len(_FIELDS), unique=True))
    units = {name: draw(st.sampled_from(sorted(_FIELDS[name][2]))) for name in names}
    count = draw(st.integers(min_value=1, max_value=6))
    rows = []
    for number in range(1, count + 1):
        values = {}
        for name in names:
            decimals = _DECIMALS[name.rpartition(".")[2]]
            top = 30_000 if decimals == 0 else 990
            values[name] = round(draw(st.integers(min_value=1, max_value=top)) / 10**decimals, decimals)
        rows.append((f"ERV-{number}", values))
    return units, rows


def _written(name: str, value: float, style: Style) -> str | float:
    if style.form == "workbook" and style.numbers == "numbers":
        return value
    decimals = _DECIMALS[name.rpartition(".")[2]]
    text = f"{value:,.{decimals}f}" if style.grouped else f"{value:.{decimals}f}"
    return text.translate(str.maketrans(",.", ".,")) if style.comma else text


def _header(units: dict[str, str], style: Style) -> list[list[str]]:
    groups, names, below = ["TAG"], [""], [""]
    for name, unit in units.items():
        group, heading, _ = _FIELDS[name]
        if style.header == "one cell":
            groups.append(f"{group} {heading} ({unit})")
        elif style.header == "groups":
            groups.append(group)
            names.append(f"{heading} {unit}")
        else:
            groups.append(f"{group} {heading}")
            below.append(unit)
    return [line for line in (groups, names, below) if len(line) > 1]


def _lines(units: dict[str, str], rows: list[tuple[str, dict[str, float]]], style: Style) -> list[list[Any]]:
    lines: list[list[Any]] = [["ENERGY RECOVERY UNITS, STANDARD AIR"], []] if style.title else []
    lines += _header(units, style)
    for tag, values in rows:
        lines.append([tag, *(_written(name, value, style) for name, value in values.items())])
        if style.blanks:
            lines.append([])
    return lines


def _read(lines: list[list[Any]], style: Style, decimal: str) -> Understanding:
    choices = Choices(air_basis="standard", decimal=decimal)
    if style.form == "workbook":
        made = Workbook()
        for line in lines:
            made["Sheet"].append(line)
        data = io.BytesIO()
        made.save(data)
        return understand(read_workbook("r.xlsx", data.getvalue()), choices=choices)
    if style.form == "pasted":
        return understand(read_pasted("\n".join("\t".join(line) for line in lines)), choices=choices)
    width = max(len(line) for line in lines)
    quoted = [[f'"{cell}"' if "," in cell or ";" in cell else cell for cell in line] for line in lines]
    text = "\r\n".join(style.delimiter.join(line + [""] * (width - len(line))) for line in quoted)
    return understand(read_workbook("r.csv", text.encode(style.encoding)), choices=choices)


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(schedules(), STYLES)
def test_what_is_written_is_understood(
    schedule: tuple[dict[str, str], list[tuple[str, dict[str, float]]]], style: Style
) -> None:
    units, rows = schedule
    assume(not (style.encoding == "cp1252" and "m³/h" in units.values() and style.form != "csv"))
    held = _read(_lines(units, rows, style), style, "comma" if style.comma else "point")
    assert held.errors == ()
    assert held.questions == ()
    assert [one.tag for one in held.rows] == [tag for tag, _ in rows]
    for one, (_, values) in zip(held.rows, rows, strict=True):
        found = {}
        for port, design in one.ports.items():
            for field in ("airflow", "static_pressure"):
                quantity = getattr(design, field)
                if quantity is not None:
                    found[f"{port}.{field}"] = (quantity.value, quantity.unit)
        for fan, fan_design in one.fans.items():
            if fan_design.motor_power is not None:
                found[f"fan.{fan}.motor_power"] = (fan_design.motor_power.value, fan_design.motor_power.unit)
        assert found == {name: (value, _FIELDS[name][2][units[name]]) for name, value in values.items()}


_WORDS = [
    "TAG",
    "MARK",
    "TYPE",
    "SUPPLY AIR",
    "CFM",
    "ESP IN WG",
    "HP",
    "NOTES:",
    "1. STANDARD AIR",
    "ERV-1",
    "ERV-1 thru 3",
    "TYP. OF 4",
    "1,200",
    "0,5",
    "0.5",
    "1200/400",
    "SEE NOTE 1",
    "-",
    "",
    "BY OTHERS",
    "DELETED",
    "460/3/60",
    "QTY",
    "REMARKS",
    "TOTAL",
    "V/PH/HZ",
    "½",
    '"',
    "BUILDING A",
    "EXHAUST FAN SCHEDULE",
    "=A1",
    "'",
    "\u202e",
    "ERV-" + "1" * 30,
    "(",
    "[1]",
    "*",
    "9" * 400,
]
_CELLS = st.one_of(st.sampled_from(_WORDS), st.text(max_size=12), st.integers(-5, 10**6).map(str))


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.lists(_CELLS, max_size=6), max_size=10))
def test_noise_is_never_an_exception(lines: list[list[str]]) -> None:
    held = understand(read_pasted("\n".join("\t".join(line) for line in lines)))
    assert held.rows or held.errors
    assert understanding_from(to_json(held)) == held
    for error in held.errors:
        assert error.code
        assert error.reason
        assert error.remedy


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=400))
def test_bytes_are_never_an_exception(data: bytes) -> None:
    held = understand(read_workbook("noise", data))
    assert held.rows or held.errors
