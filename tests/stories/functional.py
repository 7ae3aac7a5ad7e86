"""Functional tests: planned, run, failing, deferred, aborted, a call-out wasted, changed since, of another machine."""

from __future__ import annotations

from commissioning.catalogue.procedures import LIBRARY
from tests.judging.builder import Result, named
from tests.kinds.settings_records import q
from tests.kinds.test_run_records import (
    ABORTED,
    DEFERRED,
    LATER,
    WASTED,
    judged,
    place,
    run,
    settings,
)
from tests.kinds.trend_records import record, state, steady, trend

SHORT = {"readings": {"values": [330.0] * 3, "unit": "cfm"}, "instrument": named("meter"), "basis": "actual"}
LATE = {"times": {"first": q(100.0, "s"), "then": q(139.0, "s")}, "note": "no alarm before"}
RETEST = {"id": named("run of minimum"), "issue": 12}
HUNTING = {  # by 3 K, once in 5 min × 2 pi × 9 = 283 min
    "supply_temperature": steady(20.0, swing=3.0),
    "supply_temperature_setpoint": steady(20.0, swing=0.0),
    "heating_valve": steady(0.5, swing=0.0),
    "supply_fan_status": state((0.0, 1.0), (23.9, 1.0)),
}
ALONE = place(equipment={"unit": {"options": ["fixed_core"], "tests": ["bypass", "enabling"]}})

STORIES: dict[str, Result] = {
    "planned, not run": judged(settings(), where=place(["all_that_apply"])),
    "planned without settings": judged(where=place(["frost", "interlock"])),
    "listed and not there": judged(where=ALONE),
    "all run": judged(settings(), *(run(code) for code in LIBRARY.procedures)),
    "too little air": judged(settings(), run("minimum", otherwise={"outdoor_at_minimum": SHORT})),
    "late alarm": judged(settings(), run("dampers", otherwise={"supply_proof_lost": LATE})),
    "retested": judged(
        settings(),
        run("minimum", otherwise={"outdoor_at_minimum": SHORT}),
        run("minimum", name="again", at=LATER, run="FT-2", retest_of=RETEST),
    ),
    "deferred": judged(run("frost", deferred=DEFERRED), where=place(["frost"])),
    "aborted": judged(run("power", aborted=ABORTED), where=place(["power"])),
    "call-out wasted": judged(run("demand", wasted=WASTED), where=place(["demand"])),
    "settings changed since": judged(
        settings(), run("frost"), settings(name="changed", at=LATER, frost_limit=q(1.0, "degC"))
    ),
    "not witnessed": judged(run("smoke", witnesses=[], signature=None)),
    "another machine": judged(run("enabling"), where=place(machine={"serial": "M-2", "since": "2026-05-09"})),
    "not counted": judged(run("enabling"), where=place(scope="deferred")),
    "the log decides": judged(
        settings(),
        run("tempering", at="2026-05-04T10:00:00-05:00"),
        record(HUNTING),
        where=place(trends=[trend(HUNTING)]),
    ),
}
