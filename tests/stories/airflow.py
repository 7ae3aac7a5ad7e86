"""Records of airflow: every outcome, every method."""

from __future__ import annotations

from tests.judging.builder import (
    Result,
    all_ports,
    cfm,
    conventions,
    direct,
    envelope,
    instrument,
    judged,
    port_design,
    position,
    reading,
    state,
)
from tests.requirements.test_two_methods_agree import both as two_methods
from tests.requirements.test_two_methods_agree import metered, station
from tests.requirements.test_ventilation_rate import place as of_rooms
from tests.requirements.test_ventilation_rate import reset, room

LATER = "2026-05-06T09:00:00-05:00"
PLACE = position({port: port_design(minimum=cfm(930.0)) for port in ("supply", "return", "outdoor", "exhaust")})
REPORT = {"method": "reported", "airflow": cfm(990.0), "basis": "standard", "report": "TAB 7", "by": "Orrin Air"}
HOOD = {"method": "hood", "readings": {"values": [980.0], "unit": "cfm"}, "factor": 1.02, "basis": "actual"}
STATION = {
    "method": "station",
    "factor": {"value": 120.0, "unit": "m3/h/Pa^0.5"},
    "reference_density": {"value": 1.2, "unit": "kg/m3"},
    "readings": {"values": [200.0, 202.0, 201.0], "unit": "Pa"},
}
TRAVERSE = {
    "method": "traverse",
    "reads": "velocity_pressure",
    "plane": {"shape": "round", "diameter": {"value": 14.0, "unit": "in"}},
    "layout": "log_linear",
    "readings": {"values": [0.05, 0.06, 0.07] * 6 + [-0.001], "unit": "in_wc"},
}

STORIES: dict[str, Result] = {
    "conforms": judged(envelope(all_ports()), place=PLACE),
    "fails": judged(envelope(all_ports(700.0)), place=PLACE),
    "inconclusive": judged(
        envelope(all_ports(905.0)), place=PLACE, conventions=conventions(decision_rule="guarded_acceptance")
    ),
    "nothing measured": judged(place=PLACE),
    "not given": judged(envelope(all_ports())),
    "not counted": judged(envelope(all_ports()), place=position(scope="deferred")),
    "wrong state": judged(envelope(all_ports(), state=state(bypass="open")), place=PLACE),
    "re-check": judged(
        envelope(all_ports()), envelope({"supply": 1000.0}, name="again", at=LATER, session="AL-2"), place=PLACE
    ),
    "disputed": judged(
        envelope(all_ports()),
        envelope({"supply": 600.0}, name="repeat", at=LATER, session="V-1", purpose="verification"),
        place=PLACE,
    ),
    "agreed": judged(
        envelope(all_ports()),
        envelope({"supply": 990.0}, name="repeat", at=LATER, session="V-1", purpose="verification"),
        place=PLACE,
    ),
    "verified before": judged(
        envelope(all_ports()),
        envelope({"supply": 990.0}, name="repeat", at=LATER, session="V-1", purpose="verification"),
        envelope(all_ports(), name="new", at="2026-05-09T09:00:00Z", session="AL-2"),
        place=PLACE,
    ),
    "lapsed": judged(envelope(all_ports()), place=PLACE, instruments=[instrument(calibrations=[])]),
    "unknown instrument": judged(envelope(all_ports()), place=PLACE, instruments=[]),
    "one side, rounded": judged(
        envelope({"supply": 954.0}),
        place=position(
            {"supply": port_design(basis="not_stated", tolerance={"low": -0.05, "high": None, "rounding": "percent_1"})}
        ),
    ),
    "every method": judged(
        envelope(
            [
                reading("supply", TRAVERSE),
                reading("return", HOOD),
                reading("outdoor", STATION),
                reading("exhaust", REPORT, None),
            ]
        ),
        place=PLACE,
    ),
    "rooms ask for outdoor air": judged(envelope({"outdoor": 300.0}), place=of_rooms({"101": room()})),
    "on its CO2 line": reset(200.0),
    "off its CO2 line": reset(120.0, controller=950.0),
    "air that is missing": judged(envelope(all_ports() | {"outdoor": 600.0}), place=PLACE),
    "found outside": judged(
        envelope(all_ports()),
        place=PLACE,
        instruments=[
            instrument(
                calibrations=[
                    {"certificate": "C-1", "on": "2026-01-10", "due": "2027-01-10", "as_found": "within"},
                    {"certificate": "C-2", "on": "2026-06-10", "due": "2027-06-10", "as_found": "outside"},
                ]
            )
        ],
    ),
    "two methods agree": two_methods(station(900.0), metered(1.02)),
    "two methods differ": two_methods(station(900.0, 95.0, 154.0), metered(1.27)),
    "no readings to speak of": judged(envelope([reading("supply", direct(0.0))]), place=PLACE),
}
