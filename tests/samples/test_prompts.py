"""Each screen is asked over the readings that it is for, and over no others."""

import uuid
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from commissioning.dossier.given import PortDesign, Tolerance
from commissioning.dossier.results import Measurement
from commissioning.engineering.reading_screens import Screen
from commissioning.samples.comparisons import Compared, compare
from commissioning.samples.prompts import prompts_of
from commissioning.samples.states import measured
from tests.samples.world import built

pytestmark = pytest.mark.django_db

UNIT = uuid.UUID(int=1)
TOLERANCE = Tolerance.from_json({"low": -0.1, "high": 0.1, "clause": "invented", "rounding": "none"})
DESIGNS = {UNIT: {"supply": PortDesign(1.0, "standard", TOLERANCE, None, {})}}
ONE_CFM = {"value": 1, "unit": "cfm"}


@pytest.fixture
def reading() -> Measurement:
    firm = built(1)
    (held,) = measured([firm.units["ERV-1"].pk]).values()
    return next(one for one in held if one.port == "supply")


def asked(finals: Iterable[Measurement], resolution: Any = None) -> dict[str, Screen]:
    found = prompts_of(Compared("", [(UNIT, one) for one in finals]), DESIGNS, resolution)
    return {screen.code: screen for screen in found}


def typed(one: Measurement, values: Iterable[float], unit: str = "cfm", **rest: Any) -> Measurement:
    return replace(one, inputs=(("readings", f"{', '.join(f'{v:g}' for v in values)} {unit}"),), **rest)


def test_the_cliff_is_looked_for_in_verifications_alone(reading: Measurement) -> None:
    """Twelve within 5 % of the limit, all inside: 1 / 2^12 by a fair coin."""
    inside = [replace(reading, airflow_m3_s=0.91 + 0.001 * n) for n in range(12)]
    assert "cliff" not in asked(inside)
    screen = asked(replace(one, purpose="verification") for one in inside)["cliff"]
    assert (screen.readings, screen.look_again) == (12, True)
    assert screen.value == pytest.approx(2.0**-12)


def test_last_digits_are_those_of_repeated_readings_in_the_displays_unit(reading: Measurement) -> None:
    """Sixty readings that end in 0, of flows that scatter by some eight: five steps of the display are needed."""
    finals = [typed(reading, [300.0 + 10 * n, 310.0 + 10 * n, 320.0 + 10 * n]) for n in range(20)]
    screen = asked(finals, ONE_CFM)["last_digits"]
    assert (screen.readings, screen.value, screen.look_again) == (60, 1.0, True)
    assert "last_digits" not in asked(finals)  # without the step of its display nothing can be said
    assert "last_digits" not in asked(finals, {"value": 1, "unit": "L/s"})
    assert "last_digits" not in asked([replace(one, method="traverse") for one in finals], ONE_CFM)


def test_readings_that_repeat_within_a_few_steps_say_nothing_by_their_last_digit(reading: Measurement) -> None:
    finals = [typed(reading, [300.0 + n, 300.0 + n, 301.0 + n]) for n in range(20)]
    assert asked(finals, ONE_CFM)["last_digits"].look_again is None


def test_repeats_are_looked_for_within_one_traverse(reading: Measurement) -> None:
    same = typed(reading, [62.0] * 25, "Pa", method="traverse")
    moving = typed(reading, np.linspace(50.0, 70.0, 25), "Pa", method="traverse")
    assert asked([moving])["repeats"].look_again is False
    assert asked([moving, same])["repeats"].look_again is True
    assert "repeats" not in asked([replace(same, method="hood")])


def test_what_a_controller_says_is_asked_nothing(reading: Measurement) -> None:
    exact = [replace(reading, airflow_m3_s=1.0)] * 12
    assert asked(exact)["exact_to_design"].look_again is True
    assert asked([replace(one, grade="controller") for one in exact]) == {}


def test_readings_that_share_an_instrument_are_no_pair(reading: Measurement) -> None:
    other = replace(reading, instruments=("B", "C"), instrument="B", method="traverse")
    both = replace(reading, instruments=("A", "B"), instrument="A")
    alone = replace(reading, instruments=("A",), instrument="A")
    assert compare({UNIT: [both, other]}, {})["A"].pairs == []
    assert len(compare({UNIT: [alone, other]}, {})["A"].pairs) == 1
