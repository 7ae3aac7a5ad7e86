"""Broken submissions: each is told where, which value, why and what to do; a readable frame keeps it as evidence."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from typing import Any

import pytest

from commissioning import judging
from tests.judging.builder import METER, all_ports, direct, envelope, judged, named, reading

Break = Callable[[dict[str, Any]], object]
GOOD = envelope(
    [
        reading("supply", direct(1000.0, 1010.0)),
        reading(
            "return",
            {
                "method": "traverse",
                "reads": "velocity_pressure",
                "plane": {
                    "shape": "rectangular",
                    "width": {"value": 12.0, "unit": "in"},
                    "height": {"value": 12.0, "unit": "in"},
                },
                "layout": "log_tchebycheff",
                "readings": {"values": [0.2, 0.21], "unit": "in_wc"},
            },
        ),
    ],
    fans=[{"fan": "supply", "control": "constant_speed", "speed": {"value": 900.0, "unit": "rpm"}}],
)


def setting(*path: str | int, to: Any) -> Break:
    def change(given: dict[str, Any]) -> None:
        here: Any = given
        for step in path[:-1]:
            here = here[step]
        here[path[-1]] = to

    return change


def without(*path: str | int) -> Break:
    def change(given: dict[str, Any]) -> None:
        here: Any = given
        for step in path[:-1]:
            here = here[step]
        del here[path[-1]]

    return change


PORT = ("payload", "ports", 0)
METHOD = (*PORT, "method")
TRAVERSE = ("payload", "ports", 1, "method")

REFUSED: dict[str, tuple[Break, str, str]] = {
    "no id": (without("id"), "/id", "This field is missing."),
    "an id that is none": (setting("id", to="unit seven"), "/id", "This is no id."),
    "no position": (without("position"), "/position", "This field is missing."),
    "no time": (without("observed_at"), "/observed_at", "This field is missing."),
    "a time without offset": (setting("observed_at", to="2026-05-04T10:15:00"), "/observed_at", "The offset from UTC"),
    "a time that is none": (setting("observed_at", to="yesterday"), "/observed_at", "This is no moment in time."),
    "no person": (without("observed_by"), "/observed_by", "This field is missing."),
    "another schema": (setting("schema", to="ventfolio/envelope/9"), "/schema", "This word is not known here."),
    "no payload": (without("payload"), "/payload", "This field is missing."),
    "a payload that is a list": (setting("payload", to=[]), "/payload", "This is no object."),
    "an unknown field in the frame": (setting("unit", to="ERV-1"), "/unit", "There is no such field."),
    "a supersession without reason": (
        setting("supersedes", to=[{"id": named("x")}]),
        "/supersedes/0/reason",
        "This field is missing.",
    ),
    "a photo whose hash is none": (
        setting("photos", to=[{"sha256": "abc"}]),
        "/photos/0/sha256",
        "This text does not have the form",
    ),
}

KEPT: dict[str, tuple[Break, str, str]] = {
    "an unknown kind": (setting("kind", to="noise"), "/kind", "This kind is not known."),
    "itself superseded": (
        setting("supersedes", to=[{"id": named("first"), "reason": "by mistake"}]),
        "/supersedes",
        "An envelope cannot supersede itself.",
    ),
    "no ports": (setting("payload", "ports", to=[]), "/payload/ports", "There must be at least 1."),
    "an unknown port": (setting(*PORT, "port", to="left"), "/payload/ports/0/port", "This word is not known here."),
    "a port twice": (setting("payload", "ports", 1, "port", to="supply"), "/payload", "A port stands twice"),
    "an unknown method": (
        setting(*METHOD, "method", to="guess"),
        "/payload/ports/0/method",
        "This word is not known here: guess.",
    ),
    "no method": (without(*METHOD, "method"), "/payload/ports/0/method", "It is not said which one this is."),
    "an unknown unit": (
        setting(*METHOD, "readings", "unit", to="CFM"),
        "/payload/ports/0/method/readings",
        "Unknown unit 'CFM': write 'cfm'",
    ),
    "a unit of something else": (
        setting(*METHOD, "readings", "unit", to="Pa"),
        "/payload/ports/0/method/readings",
        "Unit 'Pa' is a unit of pressure, not of airflow",
    ),
    "no unit": (without(*METHOD, "readings", "unit"), "/payload/ports/0/method/readings/unit", "This field is missing"),
    "no readings": (
        setting(*METHOD, "readings", "values", to=[]),
        "/payload/ports/0/method/readings/values",
        "There must be at least 1.",
    ),
    "a reading that is text": (
        setting(*METHOD, "readings", "values", to=[1000.0, "1o10"]),
        "/payload/ports/0/method/readings/values/1",
        "This is no number.",
    ),
    "a reading that is text, though it looks like a number": (
        setting(*METHOD, "readings", "values", to=[1000.0, "1010"]),
        "/payload/ports/0/method/readings/values/1",
        "This is no number.",
    ),
    "a reading that is true": (
        setting(*METHOD, "readings", "values", to=[1000.0, True]),
        "/payload/ports/0/method/readings/values/1",
        "This is no number.",
    ),
    "a reading that is nothing": (
        setting(*METHOD, "readings", "values", to=[1000.0, None]),
        "/payload/ports/0/method/readings/values/1",
        "This is no number.",
    ),
    "a digit too many": (
        setting(*METHOD, "readings", "values", to=[1000.0, 10_000_000.0]),
        "/payload/ports/0/method/readings",
        "1e+07 cfm lies outside 0 to",
    ),
    "a negative airflow": (
        setting(*METHOD, "readings", "values", to=[-1.0]),
        "/payload/ports/0/method/readings",
        "-1 cfm lies outside",
    ),
    "velocity pressure in a unit of velocity": (
        setting(*TRAVERSE, "readings", "unit", to="fpm"),
        "/payload/ports/1/method",
        "Unit 'fpm' is a unit of velocity, not of pressure",
    ),
    "a duct without height": (
        without(*TRAVERSE, "plane", "height"),
        "/payload/ports/1/method/plane/height",
        "This field is missing.",
    ),
    "a duct of no width": (
        setting(*TRAVERSE, "plane", "width", "value", to=0.0),
        "/payload/ports/1/method/plane/width",
        "0 in lies outside",
    ),
    "a round duct with a width": (
        setting(*TRAVERSE, "plane", "shape", to="round"),
        "/payload/ports/1/method/plane/diameter",
        "This field is missing.",
    ),
    "a probe that cannot be": (
        setting(*TRAVERSE, "probe_coefficient", to=11.0),
        "/payload/ports/1/method/probe_coefficient",
        "This must be at most 1.2.",
    ),
    "no instrument": (setting(*PORT, "instrument", to=None), "/payload/ports/0", "Name the instrument"),
    "an instrument that is no id": (
        setting(*PORT, "instrument", to="the blue one"),
        "/payload/ports/0/instrument",
        "This is no id.",
    ),
    "no stage": (without("payload", "stage"), "/payload/stage", "This field is missing."),
    "no session": (without("payload", "session"), "/payload/session", "This field is missing."),
    "a session without a name": (
        setting("payload", "session", "id", to=""),
        "/payload/session/id",
        "This text needs at least 1 characters.",
    ),
    "an unknown grade": (setting("payload", "grade", to="guessed"), "/payload/grade", "This word is not known here."),
    "an unknown state": (
        setting("payload", "state", "bypass", to="half"),
        "/payload/state/bypass",
        "This word is not known here.",
    ),
    "a field nobody knows": (setting("payload", "weather", to="fine"), "/payload/weather", "There is no such field."),
    "a temperature in kelvin differences": (
        setting("payload", "air", "dry_bulb", "unit", to="delta_K"),
        "/payload/air/dry_bulb",
        "Unit 'delta_K' is a unit of temperature difference",
    ),
    "a temperature beyond all weather": (
        setting("payload", "air", "dry_bulb", "value", to=200.0),
        "/payload/air/dry_bulb",
        "200 degC lies outside",
    ),
    "a barometer reduced to a slip of the decimal point": (
        setting("payload", "air", "pressure", "value", to=1013.25),
        "/payload/air/pressure",
        "1013.25 Pa lies outside",
    ),
    "two readings of humidity": (
        setting(
            "payload",
            "air",
            to={
                "dry_bulb": {"value": 20.0, "unit": "degC"},
                "wet_bulb": {"value": 15.0, "unit": "degC"},
                "relative_humidity": {"value": 50.0, "unit": "%"},
            },
        ),
        "/payload/air",
        "Give one of wet bulb",
    ),
    "a wet bulb above the dry bulb": (
        setting(
            "payload",
            "air",
            to={"dry_bulb": {"value": 20.0, "unit": "degC"}, "wet_bulb": {"value": 25.0, "unit": "degC"}},
        ),
        "/payload/air",
        "The wet bulb lies above the dry bulb",
    ),
    "a fan speed in hertz": (
        setting("payload", "fans", 0, "speed", "unit", to="Hz"),
        "/payload/fans/0/speed",
        "Unit 'Hz' is a unit of frequency",
    ),
}


def broken(change: Break) -> dict[str, Any]:
    given = copy.deepcopy(GOOD)
    change(given)
    return given


def test_the_unbroken_one_is_good() -> None:
    read = judging.read_envelope(json.dumps(GOOD).encode())
    assert read.frame is not None
    assert (read.problems, read.frame.is_final, read.frame.session) == ((), True, "AL-1")


@pytest.mark.parametrize(("change", "pointer", "reason"), REFUSED.values(), ids=REFUSED)
def test_a_frame_that_cannot_be_read_is_refused(change: Break, pointer: str, reason: str) -> None:
    read = judging.read_envelope(json.dumps(broken(change)).encode())
    assert read.frame is None
    _told(read.problems, pointer, reason)


@pytest.mark.parametrize(("change", "pointer", "reason"), KEPT.values(), ids=KEPT)
def test_a_payload_that_cannot_be_evaluated_is_kept_with_its_problems(change: Break, pointer: str, reason: str) -> None:
    read = judging.read_envelope(json.dumps(broken(change)).encode())
    assert read.frame is not None
    assert str(read.frame.id) == named("first")
    assert read.frame.problems == read.problems
    _told(read.problems, pointer, reason)


@pytest.mark.parametrize("change", [one[0] for one in KEPT.values()], ids=KEPT)
def test_what_is_kept_with_problems_is_never_evaluated(change: Break) -> None:
    result = judged(broken(change))
    assert result.measurements == []
    assert {one["envelope"] for one in result.problems} == {named("first")}


def test_several_faults_are_told_at_once() -> None:
    def two(given: dict[str, Any]) -> None:
        setting("payload", "grade", to="guessed")(given)
        setting(*PORT, "port", to="left")(given)

    read = judging.read_envelope(json.dumps(broken(two)).encode())
    assert [one.pointer for one in read.problems] == ["/payload/grade", "/payload/ports/0/port"]


@pytest.mark.parametrize("raw", [b"", b"[]", b"7", b'"text"', b"null", b"{", b"\xff\xfe"])
def test_no_object_is_no_envelope(raw: bytes) -> None:
    read = judging.read_envelope(raw)
    assert read.frame is None
    assert read.problems[0].reason


def test_a_broken_one_does_not_stop_its_neighbours() -> None:
    result = judged(broken(setting("payload", "grade", to="guessed")), envelope(all_ports(), name="good"))
    assert result.outcome("design_airflow", "supply") == "conforms"
    assert len(result.problems) == 1


def test_what_only_shows_at_the_site_is_told_and_the_rest_is_judged() -> None:
    """Saturated air at 80 °C has more vapour than a wet bulb of the same reading leaves room for at height."""
    boiling = {
        "dry_bulb": {"value": 20.0, "unit": "degC"},
        "humidity_ratio": {"value": 0.09, "unit": "kg/kg"},
    }
    result = judged(
        envelope([reading("supply", direct(1000.0, 1000.0), METER)], air=boiling),
        envelope({"return": 1000.0}, name="good"),
    )
    assert [one["envelope"] for one in result.problems] == [named("first")]
    assert result.outcome("design_airflow", "return") == "conforms"


def _told(problems: Any, pointer: str, reason: str) -> None:
    one = problems[0]
    assert one.pointer == pointer
    assert one.reason.startswith(reason)
    assert one.reason.endswith(".")
    assert one.remedy.endswith(".")
    assert len(one.value) <= 80
