"""Where to put the probe: a duct's size and rule in, holes and depths out, in the units and marks of the reader's rule.

It keeps nothing: what was asked stands in the address, so a page can be sent to whoever is on the ladder.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from django.http import HttpRequest, HttpResponse

from commissioning.engineering import units
from commissioning.engineering.traverse_layout import TraverseLayout, traverse_layout
from commissioning.pages.field_sheet import NotReadable, Sheet
from portfolio.dashboards.display import chosen
from portfolio.dashboards.page import Page, text_of

UNITS = {"in": "in", "mm": "mm", "cm": "cm"}
RULES = {
    "": "the usual one of the shape",
    "log_tchebycheff": "log-Tchebycheff (rectangular)",
    "log_linear": "log-linear (round)",
    "equal_area": "centres of equal areas",
}
MARKS = {"in": ("1/16", "1/8", "1/4"), "mm": ("1", "2", "5"), "cm": ("0.1", "0.5", "1")}
SIDES = ("width", "height", "diameter")
LEAST_M, MOST_M = 0.05, 20.0
FIELDS = (*SIDES, "wall", "mark", "rule", "unit", "points", "lines")


@dataclass(frozen=True, slots=True)
class Hole:
    """One hole as it is printed: where it stands, and how far the probe goes in."""

    number: int
    where: str
    depths: tuple[str, ...]


class TraversePage(Page):
    def get(self, request: HttpRequest) -> HttpResponse:
        typed = {name: text_of(request.GET, name, 100) for name in FIELDS}
        unit = typed["unit"] if typed["unit"] in UNITS else ("mm" if chosen(request) == "si" else "in")
        context: dict[str, Any] = {
            "typed": typed,
            "unit": unit,
            "units": UNITS.items(),
            "rules": RULES.items(),
            "marks": MARKS[unit],
            "wrong": "",
        }
        if not any(typed[side] for side in SIDES):
            return self.show("commissioning/traverse.html", context)
        try:
            layout = layout_of(Sheet("", "", "", "", "ip", typed), unit)
        except NotReadable as fault:
            context |= {"fault": f"{fault.name}: {fault.reason} {fault.remedy}", "wrong": fault.name}
            return self.show("commissioning/traverse.html", context, status=400)
        return self.show("commissioning/traverse.html", context | told_of(layout, typed))


def layout_of(sheet: Sheet, unit: str) -> TraverseLayout:
    sides = {side: _side(sheet, side, unit) for side in SIDES}
    is_round = sides["diameter"] is not None
    if is_round == any(sides[side] is not None for side in ("width", "height")):
        raise NotReadable("diameter", "", "This is both round and rectangular.", "Give the sides, or the diameter.")
    for side in () if is_round else ("width", "height"):
        if sides[side] is None:
            raise NotReadable(side, "", f"The {side} is missing.", "A rectangular duct has two sides.")
    rule = sheet.text("rule") or ("log_linear" if is_round else "log_tchebycheff")
    try:
        return traverse_layout(
            rule=rule,
            unit=unit,
            **sides,
            wall=sheet.number("wall") or 0.0,
            mark=_mark(sheet),
            points_per_line=_count(sheet, "points"),
            lines=_count(sheet, "lines"),
        )
    except ValueError as error:
        reason = f"{error}".rstrip(".")
        remedy = "Choose another rule, mark or number of points."
        raise NotReadable("rule", rule, f"{reason[:1].upper()}{reason[1:]}.", remedy) from None


def _side(sheet: Sheet, name: str, unit: str) -> float | None:
    value = sheet.number(name)
    if value is None:
        return None
    low, high = (float(units.from_si(end, unit)) for end in (LEAST_M, MOST_M))
    if not low <= value <= high:
        reason = f"{value:g} {unit} lies outside {low:.4g} to {high:.4g} {unit}."
        raise NotReadable(name, sheet.text(name), reason, "Is the unit right?")
    return value


def _mark(sheet: Sheet) -> float | None:
    """The smallest mark of the rule; `1/8` is one. Empty: exact."""
    text = sheet.text("mark")
    if not text:
        return None
    try:
        value = float(Fraction(text.replace(",", ".")))
    except (ValueError, ZeroDivisionError):
        value = 0.0
    if value <= 0.0:
        raise NotReadable("mark", text, "This is no mark of a rule.", "Type a fraction like 1/8, or a number.")
    return value


def _count(sheet: Sheet, name: str) -> int | None:
    value = sheet.number(name)
    if value is None:
        return None
    if value != int(value) or not 1 <= value <= 40:
        raise NotReadable(name, sheet.text(name), "This is no number of points or lines.", "Type 1 to 40, or nothing.")
    return int(value)


def told_of(layout: TraverseLayout, typed: Mapping[str, str]) -> dict[str, Any]:
    """The layout as it is printed. Where all holes have the same depths they stand once."""
    printed = _printer(typed["mark"], layout.unit)
    holes = [
        Hole(
            line.line,
            f"{line.angle_deg:.0f}°" if line.offset is None else printed(line.offset),
            tuple(printed(depth) for depth in line.depths),
        )
        for line in layout.lines
    ]
    depths = {hole.depths for hole in holes}
    return {
        "layout": layout,
        "rule_words": layout.rule.value.replace("_", "-"),
        "holes": holes,
        "is_round": layout.lines[0].offset is None,
        "same_depths": enumerate(holes[0].depths, start=1) if len(depths) == 1 else None,
        "numbers": range(1, max(len(hole.depths) for hole in holes) + 1),
        "shift": printed_plain(layout.largest_shift, layout.unit),
    }


def _printer(mark: str, unit: str) -> Callable[[float], str]:
    if unit == "in" and "/" in mark:
        return lambda length: in_fractions(length, Fraction(mark).denominator)
    return lambda length: printed_plain(length, unit)


def in_fractions(length: float, denominator: int) -> str:
    """As a rule is read.

    >>> in_fractions(4.625, 8), in_fractions(0.5, 16), in_fractions(3.0, 8)
    ('4 5/8', '1/2', '3')
    """
    whole, rest = divmod(Fraction(round(length * denominator), denominator), 1)
    parts: Sequence[str] = [str(whole)] if whole or not rest else []
    return " ".join([*parts, str(rest)] if rest else parts)


def printed_plain(length: float, unit: str) -> str:
    """To a hundredth of an inch, a millimetre.

    >>> printed_plain(4.6251, "in"), printed_plain(117.4756, "mm"), printed_plain(11.74, "cm")
    ('4.63', '117', '11.7')
    """
    return f"{length:.{ {'in': 2, 'mm': 0, 'cm': 1}[unit] }f}"
