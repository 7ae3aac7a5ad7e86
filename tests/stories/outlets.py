"""Records of outlets: their room's total and offset and their duct's leakage in order, wrong, open and not read."""

from __future__ import annotations

from typing import Any

from tests.judging.builder import Result, cfm, conventions, envelope, judged, port_design
from tests.judging.outlet_records import designed, not_read, outlet, outlets, row

FIVE = {"low": -0.05, "high": 0.05, "clause": "23 05 93, 3.8"}
HELD = {
    "S1": outlet(600.0, room="118", branch="B1"),
    "S2": outlet(400.0, room="118", branch="B1"),
    "R1": outlet(900.0, port="return", room="118"),
}
PORTS = {"supply": port_design(leakage_maximum=0.1), "return": port_design(900.0)}
WHOLE = designed(HELD, {"118": {"relation": "positive", "offset": cfm(50.0), "tolerance": FIVE}}, ports=PORTS)
FREE = designed(HELD, ports={"supply": port_design(), "return": port_design(900.0)})
AT_PORTS = envelope({"supply": 1000.0, "return": 900.0})


def three(first: float, second: float, taken: float, **changes: Any) -> dict[str, Any]:
    rows = [row("S1", *[first] * 4), row("S2", *[second] * 4), row("R1", *[taken] * 4, port="return")]
    return outlets(rows, **changes)


def _again(first: float) -> dict[str, Any]:
    return outlets({"S1": first}, name="again", at="2026-05-08T09:00:00-05:00", session="V-1", purpose="verification")


STORIES: dict[str, Result] = {
    "all in order": judged(AT_PORTS, three(600.0, 400.0, 900.0), place=WHOLE),
    "all wrong": judged(AT_PORTS, three(500.0, 200.0, 1000.0), place=WHOLE),
    "inconclusive": judged(
        AT_PORTS,
        three(545.0, 365.0, 850.0),
        place=WHOLE,
        conventions=conventions(decision_rule="guarded_acceptance"),
    ),
    "more than the port gives": judged(AT_PORTS, three(900.0, 500.0, 900.0), place=WHOLE),
    "for information": judged(AT_PORTS, three(600.0, 400.0, 900.0), place=FREE),
    "nothing read": judged(place=WHOLE),
    "some read": judged(outlets([row("S1", 600.0), not_read("S2", "blocked")]), place=WHOLE),
    "one closed": judged(
        outlets([row("S1", *[600.0] * 4), not_read("S2", "closed"), row("R1", 900.0, port="return")]), place=WHOLE
    ),
    "verified": judged(AT_PORTS, three(600.0, 400.0, 900.0), _again(590.0), place=WHOLE),
    "disputed": judged(AT_PORTS, three(600.0, 400.0, 900.0), _again(450.0), place=WHOLE),
    "verified and set since": judged(
        AT_PORTS,
        three(600.0, 400.0, 900.0),
        _again(450.0),
        three(600.0, 400.0, 900.0, name="since", at="2026-05-09T09:00:00-05:00", session="AL-2"),
        place=WHOLE,
    ),
    "not designed": judged(outlets({"D9": 200.0})),
    "another session since": judged(
        three(600.0, 400.0, 900.0),
        outlets({"S1": 610.0}, name="again", at="2026-05-06T09:00:00-05:00", session="AL-2"),
        place=WHOLE,
    ),
}
