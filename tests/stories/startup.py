"""Starts: as they should be, a fan that is dead in fact, one that does not run, temporary operation."""

from __future__ import annotations

from tests.judging.builder import Result, position
from tests.kinds.startup_records import ALL_GIVEN, damper, fan, judged, loss, record, s

SETTLED = {
    "after": s(600.0),
    "speed": {"value": 1480.0, "unit": "rpm"},
    "pressure_rise": {"value": 0.9, "unit": "in_wc"},
}
STOP = {"cause": "no_power", "note": "feeder not pulled", "company": "Halvard Electric"}
TEMPORARY = {
    "since": "2026-05-04",
    "until": "2026-05-20",
    "hours": "06:00 to 18:00",
    "hours_run": 190.0,
    "filters": "construction",
    "allowed_by": "Ysolde Marr",
    "company": "the owner",
}

LOST = [loss(100.0, alarm=131.0, on_purpose=True), loss(400.0, 12.0)]
EXHAUST = fan("exhaust", commanded=s(60.0), current={}, air={"seen": "moves", "by": "pressure_switch", "at": s(70.0)})
LIMITS = {"damper_proof": s(60.0), "fan_proof": s(30.0), "source": "Sequence of operation, 4.2"}
SWAPPED = position({"supply": {}}, machine={"serial": "M-2", "since": "2026-05-05"})

STORIES: dict[str, Result] = {
    "as it should be": judged(
        record(
            start_command="2026-05-04T10:00:00-05:00",
            dampers=[damper(closed=s(60.0)), damper("bypass", proven=None, proof="by_eye")],
            fans=[fan(settled=SETTLED, lost=LOST, stopped=s(8.0)), EXHAUST],
            limits=LIMITS,
        )
    ),
    "started": judged(record(controller="none", fans=[fan(), fan("exhaust")])),
    "started with safeties jumpered": judged(record(permissives={**ALL_GIVEN, "safeties": "missing"})),
    "dead in fact": judged(
        record(fans=[fan(commanded=s(30.0), air={"seen": "still"}, current={"seen": "none"}), fan("exhaust")])
    ),
    "backwards, proof lost": judged(
        record(fans=[fan(rotation="reversed", lost=[loss(100.0)]), fan("exhaust", air={})])
    ),
    "does not run": judged(record(fans=[], dampers=[], not_running=STOP)),
    "temporary operation": judged(record(temporary_operation=TEMPORARY)),
    "nobody timed it": judged(record(dampers=[damper(proven=None)], fans=[{"fan": "supply"}])),
    "another machine": judged(record(), place=SWAPPED),
    "not counted": judged(record(), place=position({"supply": {}}, scope="deferred")),
}
