"""All rules over settings, on ten thousand snapshots, against one pass of reading the same snapshots."""

import json
import random
import uuid
from datetime import UTC, datetime
from typing import Any

from commissioning import judging
from commissioning.dossier.settings.all_rules import RULES, findings
from commissioning.dossier.settings.catalogue import CATALOGUE, Plain, value_of
from commissioning.dossier.settings.rules import Case
from tests.bench.timing import Line, cpu, in_turns, ratio
from tests.kinds.settings_records import record, values

SNAPSHOTS = 10_000
LEFT_OUT = 0.1  # of the settings of a snapshot, which nobody read
AT = datetime(2026, 5, 4, 15, 15, tzinfo=UTC)


def lines() -> list[Line]:
    raws = _snapshots()
    cases = [_case(_read(raw)) for raw in raws]
    fired = {rule.code for case in cases for rule in findings(case).fired}
    assert len(fired) > 5, fired

    def rules(_: int) -> None:
        for case in cases:
            findings(case)

    def reading(_: int) -> None:
        for raw in raws:
            _read(raw)

    looked, read = in_turns(rules, reading)
    us = [1e6 * sum(cpu(side)) / len(side) / SNAPSHOTS for side in (looked, read)]
    return [
        ratio(
            "B10",
            f"all {len(RULES)} rules over {SNAPSHOTS:,} snapshots of settings / one pass of reading them, CPU",
            cpu(looked),
            cpu(read),
            floor=0.5,
            goal=0.25,
            more_is_better=False,
            figures=f"{us[0]:.0f} µs against {us[1]:.0f} µs a snapshot; {len(fired)} of the rules fire somewhere",
        )
    ]


def _snapshots() -> list[bytes]:
    """No two alike: airflows of their own, one setting in ten not read, one switch in ten the other way."""
    dice = random.Random(10)
    made = []
    for number in range(SNAPSHOTS):
        held = {code: other(given, dice) for code, given in values().items() if dice.random() > LEFT_OUT}
        made.append(json.dumps(record(held) | {"id": str(uuid.UUID(int=number))}).encode())
    return made


def other(given: Any, dice: random.Random) -> Any:
    if isinstance(given, bool):
        return given is not (dice.random() < LEFT_OUT)
    if isinstance(given, dict) and given["unit"] == "cfm":
        return {**given, "value": round(given["value"] * dice.uniform(0.6, 1.4))}
    return given


def _read(raw: bytes) -> dict[str, Plain]:
    """As judging reads them: strictly, checked against the kind, in SI."""
    read = judging.read_envelope(raw)
    assert read.frame is not None
    assert not read.problems, read.problems
    given: Any = read.frame.payload
    return {code: value_of(CATALOGUE.settings[code], one) for code, one in given.values.items()}


def _case(held: dict[str, Plain]) -> Case:
    return Case(values=held, clock_off_s=20.0, site_zone="America/Chicago", at=AT, winter_c=-18.0)
