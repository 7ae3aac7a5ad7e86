"""The circumstances in which each method is tried, and for which of them it is said to be good."""

from __future__ import annotations

from dataclasses import dataclass, replace

from tests.simulation.field import tools
from tests.simulation.field.visits import Visit


@dataclass(frozen=True)
class Circumstance:
    """`valid`: nothing tells the method that its uncertainty fails here. `why_not`: why fewer than 94 % hold."""

    key: str
    method: str
    words: str
    visit: Visit
    valid: bool = True
    why_not: str = ""


_GOOD = Visit("traverse")
_POOR = replace(_GOOD, upstream=(1.0, 5.0), downstream=(0.5, 2.5))
_ANEMOMETER = (tools.ANEMOMETER, tools.ANEMOMETER_IP)
_GAUGES = (tools.GAUGE, tools.GAUGE_IP)
_STATION = Visit("station", tools=_GAUGES, leakage=0.0)
_HOOD = Visit("hood", tools=(tools.HOOD, tools.HOOD_IP), leakage=0.0, readings=(3, 5))
_DIRECT = Visit("direct", tools=(tools.METER, tools.METER_IP))

CIRCUMSTANCES = (
    Circumstance("T1", "traverse, velocity pressures", "good plane, log-Tchebycheff, 25 to 49 points", _GOOD),
    Circumstance("T2", "traverse, velocity pressures", "good plane, equal areas", replace(_GOOD, layout="equal_area")),
    Circumstance(
        "T3",
        "traverse, velocity pressures",
        "good plane, round, log-linear, 20 points",
        replace(_GOOD, layout="log_linear", round_duct=True, sides_m=(0.2, 0.8)),
    ),
    Circumstance(
        "T4",
        "traverse, velocity pressures",
        "good plane, another grid of 9 points",
        replace(_GOOD, layout="other"),
    ),
    Circumstance("T5", "traverse, velocity pressures", "poor plane, 1 to 5 diameters, stated", _POOR),
    Circumstance(
        "T6",
        "traverse, velocity pressures",
        "poor plane, another grid of 9 points",
        replace(_POOR, layout="other"),
    ),
    Circumstance(
        "T7",
        "traverse, velocity pressures",
        "2 to 12 diameters, not stated",
        replace(_GOOD, upstream=(2.0, 12.0), downstream=(1.0, 5.0), lengths_stated=False),
    ),
    Circumstance(
        "T8", "traverse, velocity pressures", "good plane, 1.5 to 2.5 m/s", replace(_GOOD, velocity_m_s=(1.5, 2.5))
    ),
    Circumstance(
        "T9",
        "traverse, velocity pressures",
        "good plane, inclined manometer, air not read",
        replace(_GOOD, tools=(tools.FINE_DIAL, tools.FINE_DIAL), air_known=("nothing",)),
    ),
    Circumstance(
        "T10",
        "traverse, velocity pressures",
        "good plane, 2 to 4 m/s on a dial with steps of 0.01 in. w.c.",
        replace(_GOOD, velocity_m_s=(2.0, 4.0), tools=(tools.DIAL, tools.DIAL)),
        valid=False,
        why_not="most readings lie within a step or two of the dial's zero",
    ),
    Circumstance(
        "T11",
        "traverse, velocity pressures",
        "good plane, small round duct of 150 to 250 mm",
        replace(_GOOD, layout="log_linear", round_duct=True, sides_m=(0.15, 0.25)),
    ),
    Circumstance(
        "V1",
        "traverse, velocities",
        "good plane, log-Tchebycheff, 1 to 6 m/s",
        replace(_GOOD, reads="velocity", tools=_ANEMOMETER, velocity_m_s=(1.0, 6.0)),
    ),
    Circumstance(
        "V2",
        "traverse, velocities",
        "poor plane, equal areas, 1 to 6 m/s",
        replace(_POOR, reads="velocity", layout="equal_area", tools=_ANEMOMETER, velocity_m_s=(1.0, 6.0)),
    ),
    Circumstance("H1", "hood", "makes up for its own back pressure, 3 or 5 readings", _HOOD),
    Circumstance("H2", "hood", "the same, one reading", replace(_HOOD, readings=(1,))),
    Circumstance("H3", "hood", "plain, factor from a traverse of the branch", replace(_HOOD, hood="factor_on_site")),
    Circumstance(
        "H4",
        "hood",
        "plain, factor 1",
        replace(_HOOD, hood="plain"),
        valid=False,
        why_not="nothing takes back what the hood itself takes off",
    ),
    Circumstance("S1", "station", "signal 40 to 400 Pa, 3 or 5 readings", replace(_STATION, readings=(3, 5))),
    Circumstance("S2", "station", "signal 5 to 15 Pa, 3 readings", replace(_STATION, signal_pa=(5.0, 15.0))),
    Circumstance("S5", "station", "gusts of 4 %, 2 or 3 readings", replace(_STATION, readings=(2, 3), gusts=0.04)),
    Circumstance("S3", "station", "one reading", replace(_STATION, readings=(1,))),
    Circumstance(
        "S4", "station", "read off the controller, once", replace(_STATION, readings=(1,), grade="controller")
    ),
    Circumstance("D1", "direct", "3 or 5 readings", replace(_DIRECT, readings=(3, 5))),
    Circumstance("D2", "direct", "one reading, air not read", replace(_DIRECT, readings=(1,), air_known=("nothing",))),
    Circumstance(
        "D3",
        "direct",
        "gusts of 4 %, 2 or 3 readings",
        replace(_DIRECT, readings=(2, 3), gusts=0.04),
        why_not="two readings that agree by chance hide the gusts; read five times",
    ),
    Circumstance("R1", "reported", "out of another firm's report", Visit("reported", tools=(tools.NOTHING,) * 2)),
)
