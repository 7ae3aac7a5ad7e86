"""Snapshots of a controller: as it should be, with what can do harm, as found and again as left, hardly read."""

from __future__ import annotations

from tests.judging.builder import Result, all_ports, envelope, position
from tests.kinds.settings_records import judged, q, record, values

LATER = "2026-05-06T09:00:00-05:00"

STORIES: dict[str, Result] = {
    "as it should be": judged(record()),
    "held by a contact": judged(record(values(interlock_in_use=True), now={"contact": "open", "power": "off"})),
    "CO2 band upside down": judged(record(values(reset_low_co2=q(1000.0, "ppm"), reset_high_co2=q(800.0, "ppm")))),
    "frost limit far down, clock of another zone": judged(
        record(values(frost_limit=q(-30.0, "degC"), daylight_saving=False, time_zone="UTC"))
    ),
    "as found, then set": judged(
        record(values(exhaust_ratio=q(50.0, "%")), moment="as_found"),
        record(name="left", at=LATER, controller_time="2026-05-06T09:00:10"),
    ),
    "set otherwise after the finals": judged(
        record(at="2026-05-03T09:00:00-05:00"),
        envelope(all_ports(), name="finals"),
        record(values(exhaust_ratio=q(70.0, "%")), name="later", moment="follow_up", at=LATER),
        place=position(),
    ),
    "read after the finals alone": judged(
        envelope(all_ports(), name="finals"), record(name="later", at=LATER, session="AL-2"), place=position()
    ),
    "device instance of another unit": judged(
        record(),
        place=position(
            {"supply": {}}, neighbours=[{"tag": "ERV-2", "device_instance": 30021}, {"network_address": 21}]
        ),
    ),
    "hardly read": judged(record({"device_instance": 30021})),
    "deferred": judged(record(), place=position({"supply": {}}, scope="deferred")),
}
