"""The table of diagnosis: what each likely cause does to what can be read along the stream of one fan.

A cell is a range, per unit of the cause's size, of the natural logarithm of a quantity's ratio to its reference. The
size is the logarithm of the airflow that the cause takes or adds, so -1 is "as the airflow falls", -2 "with its
square", 0 "unchanged". The numbers follow from three things: a duct's pressure goes with the square of its airflow
(a core's with the power 1 to 2), on the falling part of its curve a fan gives more pressure when it moves less air,
and the fan laws. A quantity without a cell may do anything. Common practice, no source; what the table can tell apart
and what not is shown on docs/diagnosis.md by a simulation that does not know it.

The rows stand in the order of diagnosis: what is looked at first comes first where the readings do not decide.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum
from typing import TypeAlias

INF = math.inf


class Quantity(Enum):
    """What can be read along the stream of one fan, in words; before the fan lie inlet, filter and core."""

    INLET_FLOW = "airflow at the inlet"
    OUTLET_FLOW = "airflow after the fan"
    OUTLETS = "sum of the outlets"
    INTAKE = "pressure lost before the filter"
    FILTER = "pressure lost over the filter"
    CORE = "pressure lost over the core or coil"
    DISCHARGE = "static pressure after the fan"
    RISE = "pressure rise of the fan"
    SPEED = "fan speed"
    CURRENT = "motor current"


class FanWheel(Enum):
    """Which way the blades lean; it decides what the current does when the air is throttled."""

    BACKWARD = "backward"
    FORWARD = "forward"
    NOT_KNOWN = "not_known"


Cell: TypeAlias = tuple[float, float]
Seen: TypeAlias = tuple[tuple[str, str], ...]
Q = Quantity

SAME: Cell = (0.0, 0.0)
UP_WITH_FLOW, DOWN_WITH_FLOW = (1.0, 1.0), (-1.0, -1.0)
DOWN_SQUARED, UP_SQUARED = (-2.1, -1.7), (1.7, 2.1)
DOWN_IN_CORE, UP_IN_CORE = (-2.1, -1.0), (1.0, 2.1)
THROTTLED_CURRENT: dict[FanWheel, Cell] = {
    FanWheel.BACKWARD: (-0.9, 0.5),
    FanWheel.FORWARD: (-1.8, -0.5),
    FanWheel.NOT_KNOWN: (-1.8, 0.5),
}
_FLOWS = (Q.INLET_FLOW, Q.OUTLET_FLOW, Q.OUTLETS)


@dataclass(frozen=True, slots=True)
class Signature:
    """One row of the table.

    Attributes:
        code: short name of the cause.
        sentence: the cause in plain words.
        look: what to look at to confirm it.
        cells: what it does to each quantity, per unit of its size.
        least, most: range of its size [-]; negative where the cause also works the other way.
        current_is_throttled: the current is that of a fan whose air is throttled (per unit of size; by its wheel).
        judged: what it does to the airflow that is judged and to no other, as a wrong reading does; None otherwise.
        shown_by, excluded_by: parts of the operating state that speak for it or against it.
        needs: at least one of these must have been seen, or the row does not apply.
        stops_at: sizes nearer to 0 than this are no case of the cause [-].
        leaves_speed: where only such causes stand, another fan speed is a remedy.
        rarity: added to its score where a cause is seldom met on a new unit [-].
    """

    code: str
    sentence: str
    look: str
    cells: dict[Quantity, Cell]
    least: float
    most: float
    current_is_throttled: float = 0.0
    judged: Cell | None = None
    shown_by: Seen = ()
    excluded_by: Seen = ()
    needs: Seen = ()
    stops_at: float = 0.0
    leaves_speed: bool = False
    rarity: float = 0.0

    @property
    def has_sign(self) -> bool:
        """Whether it shows in the airflow at all."""
        return bool(self.cells or self.shown_by)


def _throttled(own: Quantity | None) -> dict[Quantity, Cell]:
    """One part of the way resists more: its own pressure rises, all the others' fall with the airflow."""
    cells: dict[Quantity, Cell] = dict.fromkeys(_FLOWS, DOWN_WITH_FLOW)
    cells |= {Q.INTAKE: DOWN_SQUARED, Q.FILTER: DOWN_SQUARED, Q.CORE: DOWN_IN_CORE, Q.DISCHARGE: DOWN_SQUARED}
    cells |= {Q.RISE: (0.0, 2.5), Q.SPEED: SAME}
    return cells | ({own: (0.7 if own is Q.DISCHARGE else 1.5, INF)} if own else {})


def _opened(own: Quantity) -> dict[Quantity, Cell]:
    """One part of the way resists less."""
    cells: dict[Quantity, Cell] = dict.fromkeys(_FLOWS, UP_WITH_FLOW)
    cells |= {Q.INTAKE: UP_SQUARED, Q.FILTER: UP_SQUARED, Q.CORE: UP_IN_CORE, Q.DISCHARGE: UP_SQUARED}
    cells |= {Q.RISE: (-2.5, 0.0), Q.SPEED: SAME}
    return cells | {own: (-INF, -0.7 if own is Q.DISCHARGE else -2.0)}


def _weaker(speed: Cell, current: Cell) -> dict[Quantity, Cell]:
    """The fan itself gives less; the system is what it was."""
    cells: dict[Quantity, Cell] = dict.fromkeys(_FLOWS, DOWN_WITH_FLOW)
    cells |= {Q.INTAKE: DOWN_SQUARED, Q.FILTER: DOWN_SQUARED, Q.CORE: DOWN_IN_CORE, Q.DISCHARGE: DOWN_SQUARED}
    return cells | {Q.RISE: DOWN_SQUARED, Q.SPEED: speed, Q.CURRENT: current}


_UNTOUCHED: dict[Quantity, Cell] = dict.fromkeys(Quantity, SAME)
_LEAK_AFTER: dict[Quantity, Cell] = {
    Q.OUTLETS: (-15.0, -0.5),
    Q.OUTLET_FLOW: UP_WITH_FLOW,
    Q.INLET_FLOW: UP_WITH_FLOW,
    Q.INTAKE: UP_SQUARED,
    Q.FILTER: UP_SQUARED,
    Q.CORE: UP_IN_CORE,
    Q.DISCHARGE: (-15.0, -0.7),
    Q.RISE: (-2.5, 0.0),
    Q.SPEED: SAME,
    Q.CURRENT: (-0.5, 1.8),
}
_LEAK_BEFORE: dict[Quantity, Cell] = {
    Q.INLET_FLOW: DOWN_WITH_FLOW,
    Q.OUTLET_FLOW: (0.0, 0.9),
    Q.OUTLETS: (0.0, 0.9),
    Q.INTAKE: DOWN_SQUARED,
    Q.FILTER: DOWN_SQUARED,
    Q.CORE: (-2.1, 0.9),
    Q.DISCHARGE: (0.0, 1.9),
    Q.RISE: (-2.0, 0.3),
    Q.SPEED: SAME,
    Q.CURRENT: (-0.3, 1.0),
}

_LEAK_ACROSS: dict[Quantity, Cell] = {
    Q.OUTLET_FLOW: DOWN_WITH_FLOW,
    Q.OUTLETS: DOWN_WITH_FLOW,
    Q.INLET_FLOW: (-0.5, 6.0),
    Q.INTAKE: (-1.0, 12.0),
    Q.FILTER: (-1.0, 12.0),
    Q.CORE: (-2.1, 12.0),
    Q.DISCHARGE: DOWN_SQUARED,
    Q.RISE: (-0.5, 2.5),
    Q.SPEED: SAME,
}

SIGNATURES: tuple[Signature, ...] = (
    Signature(
        "wrong_unit",
        "The readings are another unit's.",
        "the serial on the nameplate, and the readings of the units beside it",
        {},
        0.0,
        0.0,
        shown_by=(("serial", "another"), ("sister", "matches")),
        needs=(("serial", "another"), ("sister", "matches")),
    ),
    Signature(
        "bypass_open",
        "The bypass of the core is open.",
        "the bypass damper and its actuator",
        _opened(Q.CORE),
        0.0,
        0.5,
        current_is_throttled=-1.0,
        shown_by=(("bypass", "open"),),
        excluded_by=(("bypass", "closed"), ("bypass", "none")),
    ),
    Signature(
        "reversed",
        "The wheel turns backwards.",
        "the arrow on the housing against the wheel as it coasts to rest, seen without reaching in; phases are "
        "exchanged by a licensed person, locked out",
        _weaker(SAME, (-0.6, 0.6)),
        0.4,
        1.5,
        shown_by=(("rotation", "reversed"),),
        excluded_by=(("rotation", "correct"), ("motor", "electronically_commutated"), ("motor", "single_phase")),
        stops_at=0.4,
    ),
    Signature(
        "suction_closed",
        "A damper, louvre or screen before the fan is closed or blocked.",
        "every damper, louvre and screen from the outside to the filter",
        _throttled(Q.INTAKE),
        0.0,
        2.0,
        current_is_throttled=1.0,
        shown_by=(("inlet_damper", "closed"),),
        excluded_by=(("inlet_damper", "open"),),
    ),
    Signature(
        "filter_loaded",
        "The filter is loaded.",
        "the filter itself, and the pressure over it against its clean and its final value",
        _throttled(Q.FILTER),
        0.0,
        2.0,
        current_is_throttled=1.0,
        shown_by=(("filters", "loaded"),),
        excluded_by=(("filters", "clean"), ("filters", "missing"), ("filters", "construction")),
    ),
    Signature(
        "construction_filter",
        "Filters of the construction period are still in.",
        "the filter's marking; put in the ones of the submittal and read again",
        _throttled(Q.FILTER),
        0.0,
        2.0,
        current_is_throttled=1.0,
        shown_by=(("filters", "construction"),),
        needs=(("filters", "construction"),),
    ),
    Signature(
        "filter_missing",
        "A filter is missing, or air passes beside it.",
        "the filter rack: every filter in, seals and blank-offs in place",
        _opened(Q.FILTER),
        0.0,
        0.4,
        current_is_throttled=-1.0,
        shown_by=(("filters", "missing"),),
        excluded_by=(("filters", "clean"), ("filters", "loaded")),
    ),
    Signature(
        "core_blocked",
        "The core, wheel or coil is fouled, wet or iced, or its film was left on.",
        "both faces of the core or coil, and the pressure before and after it",
        _throttled(Q.CORE),
        0.0,
        2.0,
        current_is_throttled=1.0,
        rarity=1.0,
    ),
    Signature(
        "leak_before",
        "A door, panel or recirculation damper before the fan is open, or the casing leaks there.",
        "doors, panels, drain traps and the recirculation damper between the inlet and the fan, fan stopped and locked "
        "out where hands go in",
        _LEAK_BEFORE,
        0.0,
        1.5,
        shown_by=(("doors", "open"),),
    ),
    Signature(
        "leak_across",
        "Air leaves this stream for the other one before the fan.",
        "the recirculation damper or door, the seals of the core or wheel, and the pressures on both sides of them",
        _LEAK_ACROSS,
        0.0,
        1.0,
        current_is_throttled=1.0,
        needs=(("streams", "two"),),
    ),
    Signature(
        "leak_after",
        "The duct after the fan leaks, or an access door there is open.",
        "access doors, flexible connections and end caps after the fan; traverse at the unit against the outlets",
        _LEAK_AFTER,
        0.0,
        0.5,
        shown_by=(("doors", "open"),),
    ),
    Signature(
        "discharge_closed",
        "A damper after the fan or a branch is closed.",
        "volume, fire and smoke dampers from the fan on, then branches and outlets; a fire or smoke damper is worked "
        "only by those who may, with the alarm company's knowledge",
        _throttled(Q.DISCHARGE),
        0.0,
        2.0,
        current_is_throttled=1.0,
        shown_by=(("outlet_damper", "closed"),),
        excluded_by=(("outlet_damper", "open"),),
    ),
    Signature(
        "others_on_riser",
        "Other units on the same riser run or stand still otherwise than at design.",
        "which units on the riser run, and at what; read again when all do",
        _opened(Q.DISCHARGE),
        -0.5,
        0.5,
        current_is_throttled=-1.0,
        shown_by=(("others_on_riser", "off"),),
        excluded_by=(("others_on_riser", "on"),),
        needs=(("others_on_riser", "off"), ("others_on_riser", "on"), ("others_on_riser", "not_seen")),
    ),
    Signature(
        "wrong_factor",
        "The station's factor is another size's.",
        "the size on the plate and the factor that belongs to it; a traverse beside the station",
        _UNTOUCHED,
        -0.5,
        0.5,
        judged=UP_WITH_FLOW,
        needs=(("method", "station"),),
        stops_at=0.04,
    ),
    Signature(
        "wrong_plane",
        "The size of the plane, or the hood's factor, is entered wrongly.",
        "the duct measured again, lining off; the hood's factor for this kind of outlet",
        _UNTOUCHED,
        -0.7,
        0.7,
        judged=UP_WITH_FLOW,
        needs=(("method", "traverse"), ("method", "hood")),
        stops_at=0.04,
    ),
    Signature(
        "duct_heavier",
        "The duct resists more than designed.",
        "the run as built against the drawing: turns, flexible duct, sizes; only then a higher speed",
        _throttled(Q.DISCHARGE),
        0.0,
        2.0,
        current_is_throttled=1.0,
        leaves_speed=True,
    ),
    Signature(
        "duct_lighter",
        "The duct resists less than designed.",
        "branches and outlets once more; if all are set, the fan may run slower",
        _opened(Q.DISCHARGE),
        0.0,
        0.5,
        current_is_throttled=-1.0,
        leaves_speed=True,
    ),
    Signature(
        "speed",
        "The fan turns at another speed: a slipping belt, another sheave, a limit or a setting of the drive.",
        "the speed by a tachometer against the schedule; belt and sheaves locked out; the drive's limits",
        _weaker(DOWN_WITH_FLOW, (-3.0, -0.8)),
        -0.5,
        1.0,
        leaves_speed=True,
    ),
    Signature(
        "wheel_stopped",
        "The recovery wheel stands still; that has no sign in the airflow and explains none of this.",
        "the wheel's drive, for its own sake",
        {},
        0.0,
        0.0,
        needs=(("wheel", "stopped"),),
    ),
)
