"""Printed numbers below zero have a minus sign, in every kind and requirement: a hyphen at a line's end is lost."""

import re
from pathlib import Path

import pytest

from commissioning.blocks import Sentence, Working
from commissioning.kinds import airflow
from commissioning.requirements import design_airflow, mass_balance
from tests.judging.builder import PORTS, envelope, judged

ROOT = Path(__file__).parents[2] / "commissioning"
SHOWN = sorted([*(ROOT / "requirements").glob("*.py"), *(ROOT / "kinds").glob("*/show.py")])
SIGNED = re.compile(r"\{[^{}]*:\+[^{}]*\}")  # a format that prints a sign


@pytest.mark.parametrize("path", SHOWN, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_whatever_prints_a_sign_prints_ours(path: Path) -> None:
    for line in path.read_text(encoding="utf-8").splitlines():
        assert not SIGNED.search(line) or "printing." in line, line


def test_a_shortfall_reads_with_a_minus_and_a_day_with_its_name() -> None:
    result = judged(envelope(dict.fromkeys(PORTS, 850.0) | {"outdoor": 600.0}))
    blocks = [
        *design_airflow.show(result.judgement("design_airflow", "supply"), {}, "ip"),
        *mass_balance.show(result.judgement("mass_balance"), {}, "ip"),
        *airflow.show(result.measurement("supply"), "ip"),
    ]
    told = [one.text for one in blocks if isinstance(one, Sentence)]
    told += [line.value for one in blocks if isinstance(one, Working) for line in one.lines]
    assert any("−15 %" in one for one in told)
    assert any("−15.0000 %" in one for one in told)
    assert not any(re.search(r"(^|[\s(])-\d", one) for one in told)
    assert any("Monday 4 May 2026, 10:15 (UTC−05:00)" in one for one in told)
