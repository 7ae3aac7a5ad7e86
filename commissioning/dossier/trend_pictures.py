"""A trend log as a plot over time: which lines share a panel, what is marked, what the axis of time says."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from commissioning.blocks import Limit, Mark, Panel, Tick, TimeLine, TimePlot
from commissioning.dossier.printing import minus
from commissioning.dossier.trends import printed
from commissioning.engineering import units
from commissioning.logs.roles import MODE, STATE, roles

LINES_IN_PANEL = 4
_PANELS = {  # by quantity, in this order; code in SI and in inch-pound units
    "ratio": ("Outputs and positions", ("%", "%")),
    "airflow": ("Airflow", ("L/s", "cfm")),
    "temperature": ("Temperature", ("degC", "degF")),
    "mole fraction": ("CO2", ("ppm", "ppm")),
    "pressure": ("Pressure", ("Pa", "in_wc")),
    "rotational speed": ("Speed", ("rpm", "rpm")),
    "frequency": ("Frequency", ("Hz", "Hz")),
    "current": ("Current", ("A", "A")),
    "power": ("Power", ("W", "W")),
}
_LEVELS = {"low": "at least", "least": "at least", "high": "at most", "most": "at most"}
_STEPS_H = (1, 2, 3, 6, 12, 24, 48, 96, 168, 336)
MOST_TICKS = 5
GAPS_MARKED, STARTS_MARKED = 5, 4


def unit_of(role: str, display: str) -> str:
    """The code in which a role's values are shown; empty for states and words."""
    quantity = roles()[role].quantity
    if quantity in (STATE, MODE):
        return ""
    return _PANELS[quantity][1][display == "ip"] if quantity in _PANELS else units.SI_CODES[quantity]


def picture(trend: Mapping[str, Any], zone: str, display: str, *, events: Iterable[Mark] = ()) -> TimePlot:
    """The plot of what a judging document carries of a log; `events` are others' marks, in seconds of the epoch."""
    begin, end = trend["from_s"], trend["to_s"]
    marked = sorted((*found(trend, zone, display), *happened(trend, zone), *events), key=lambda one: one.from_s)
    marks = tuple(Mark(one.words, one.from_s - begin, one.to_s - begin, one.is_fault) for one in marked)
    faults = sum(one.is_fault for one in marks)
    return TimePlot(
        f"{span(begin, end, zone)}: {_count(len(trend['lines']), 'point')} drawn, "
        f"{_count(faults, 'finding')} and {_count(len(marks) - faults, 'event')} marked.",
        end - begin,
        tuple(ticks(begin, end, zone)),
        tuple(_panels(trend, display)),
        marks,
    )


# --- marks -------------------------------------------------------------------------------------------------------
def found(trend: Mapping[str, Any], zone: str, display: str) -> Iterator[Mark]:
    """What fails, where it fails first in this window; the rest of its places are counted."""
    for one in trend["results"]:
        inside = [mark for mark in one["marks"] if mark[1] >= trend["from_s"] and mark[0] <= trend["to_s"]]
        if one["outcome"] == "fails" and inside:
            (begin, end), more = inside[0], len(one["marks"]) - 1
            times = f" {_count(more, 'more time')} in this log." if more else ""
            yield Mark(
                f"{moment(begin, zone)}: {printed(one['words'], one['amounts'], display)}{times}", begin, end, True
            )


def happened(trend: Mapping[str, Any], zone: str) -> Iterator[Mark]:
    """Where nothing is logged, and the starts of a fan where they are few."""
    inside = [gap for gap in trend["gaps"] if gap[1] >= trend["from_s"] and gap[0] <= trend["to_s"]]
    for begin, end in inside[:GAPS_MARKED]:
        yield Mark(f"{moment(begin, zone)}: nothing is logged for {lasting(end - begin)}.", begin, end)
    for line in trend["lines"]:
        if line["role"] in ("supply_fan_command", "exhaust_fan_command"):
            at = [trend["from_s"] + one for one in _rises(line)]
            if len(at) <= STARTS_MARKED:
                for one in at:
                    yield Mark(f"{moment(one, zone)}: {roles()[line['role']].title} comes on.", one, one)


def _rises(line: Mapping[str, Any]) -> list[float]:
    pairs = zip(line["times_s"][1:], line["values"][:-1], line["values"][1:], strict=True)
    return [at for at, before, after in pairs if before is not None and after is not None and before <= 0.5 < after]


# --- panels ------------------------------------------------------------------------------------------------------
def _panels(trend: Mapping[str, Any], display: str) -> Iterator[Panel]:
    by_quantity: dict[str, list[Mapping[str, Any]]] = {}
    for line in trend["lines"]:
        by_quantity.setdefault(roles()[line["role"]].quantity, []).append(line)
    states = [one for quantity in (STATE, MODE) for one in by_quantity.get(quantity, ())]
    if states:
        yield Panel("States", "", tuple(_line(one, "") for one in states), lanes=True)
    for quantity in (*_PANELS, *(one for one in by_quantity if one not in (*_PANELS, STATE, MODE))):
        lines = by_quantity.get(quantity, [])
        for start in range(0, len(lines), LINES_IN_PANEL):
            yield _panel(quantity, lines[start : start + LINES_IN_PANEL], trend, display)


def _panel(quantity: str, lines: Sequence[Mapping[str, Any]], trend: Mapping[str, Any], display: str) -> Panel:
    title = _PANELS[quantity][0] if quantity in _PANELS else quantity.capitalize()
    code = unit_of(lines[0]["role"], display)
    limits = _limits({one["role"] for one in lines}, trend, units.SI_CODES[quantity], code)
    return Panel(title, units.unit(code).label, tuple(_line(one, code) for one in lines), tuple(limits))


def _line(line: Mapping[str, Any], code: str) -> TimeLine:
    values = tuple(None if one is None else in_unit(one, code) for one in line["values"])
    return TimeLine(roles()[line["role"]].title, tuple(line["times_s"]), values, line["steps"])


def in_unit(value: float, code: str) -> float:
    return float(f"{float(units.from_si(value, code)):.4g}") if code else value


def _limits(drawn: set[str], trend: Mapping[str, Any], si: str, code: str) -> Iterator[Limit]:
    """The levels that an expectation sets to a point of this panel."""
    for one in trend["results"]:
        if one["roles"] and one["roles"][0] in drawn:
            for name, limit in one["limits"].items():
                if name in _LEVELS and limit["unit"] == si and limit["value"] is not None:
                    value = in_unit(limit["value"], code)
                    said = f"{_LEVELS[name]} {minus(f'{value:,.4g}')} {units.unit(code).label}"
                    yield Limit(f"{one['title']}: {said}", value)


# --- time --------------------------------------------------------------------------------------------------------
def moment(at_s: float, zone: str) -> str:
    """As the site's clocks showed it.

    >>> moment(1777903200.0, "America/Denver")
    'Mon 4 May, 08:00'
    """
    at = datetime.fromtimestamp(at_s, ZoneInfo(zone))
    return f"{at:%a} {at.day} {at:%b, %H:%M}"


def span(begin_s: float, end_s: float, zone: str) -> str:
    """
    >>> span(1777903200.0, 1778000000.0, "America/Denver")
    'Mon 4 May 2026, 08:00 to Tue 5 May, 10:53'
    """
    begin, end = (datetime.fromtimestamp(one, ZoneInfo(zone)) for one in (begin_s, end_s))
    year = f" {end.year}" if end.year != begin.year else ""
    since = f"{begin:%a} {begin.day} {begin:%b} {begin.year}, {begin:%H:%M}"
    return f"{since} to {end:%a} {end.day} {end:%b}{year}, {end:%H:%M}"


def lasting(seconds: float) -> str:
    """
    >>> lasting(50.0), lasting(600.0), lasting(5400.0), lasting(200000.0)
    ('50 s', '10 min', '1.5 h', '2.3 days')
    """
    for least, unit, size in ((172800.0, "days", 86400.0), (5400.0, "h", 3600.0), (120.0, "min", 60.0)):
        if seconds >= least:
            return f"{seconds / size:.1f}".removesuffix(".0") + f" {unit}"
    return f"{seconds:.0f} s"


def ticks(begin_s: float, end_s: float, zone: str) -> Iterator[Tick]:
    """Full hours or midnights of the site's clock, five at most."""
    hours = next((one for one in _STEPS_H if (end_s - begin_s) / 3600.0 / one <= MOST_TICKS), _STEPS_H[-1])
    local = datetime.fromtimestamp(begin_s, ZoneInfo(zone)).replace(minute=0, second=0, microsecond=0, tzinfo=None)
    at = local.replace(hour=0)
    while True:
        at_s = at.replace(tzinfo=ZoneInfo(zone)).timestamp()
        if at_s > end_s:
            return
        if at_s >= begin_s:
            is_day = at.hour == 0
            yield Tick(at_s - begin_s, f"{at:%a} {at.day} {at:%b}" if is_day else f"{at:%H:%M}")
        at += timedelta(hours=hours)


def _count(number: int, noun: str) -> str:
    return f"{number or 'no'} {noun}{'' if number == 1 else 's'}"
