"""Which requirement notices a blunder: the share of units at which it says anything but that all is well."""

from __future__ import annotations

from collections import Counter
from typing import Any

import numpy as np

from commissioning import judging
from tests.simulation import records
from tests.simulation.field.blunders import BLUNDERED, Blunder, unit
from tests.simulation.field.visits import Truth
from tests.simulation.records import Trial, Unit

WATCHED = ("design_airflow", "ventilation_minimum", "mass_balance", "two_finals_agree", "remark", "problem")


def shares(blunder: Blunder, units: int, seed: int, deviation: float = 0.0) -> dict[str, float]:
    """At units whose four flows truly deviate as told. `remark` counts any remark on the blundered reading."""
    dice = np.random.default_rng([seed, *blunder.key.encode()])
    counts: Counter[str] = Counter()
    for number in range(units):
        left, verified = unit(dice, blunder)
        counts.update(_noticed(_judged(f"{blunder.key} {number}", blunder, deviation, left, verified)))
    return {name: counts[name] / units for name in WATCHED}


def _judged(
    name: str, blunder: Blunder, deviation: float, left: dict[str, Truth], verified: dict[str, Truth]
) -> dict[str, Any]:
    made, again = (
        Unit(
            name,
            blunder.elevation_m,
            {port: Trial(f"{which} {name} {port}", one, deviation, "standard") for port, one in truths.items()},
        )
        for which, truths in (("left", left), ("again", verified))
    )
    document = records.document([made], "simple")
    for port in document["positions"][0]["design"]["ports"].values():
        port["minimum"] = {"value": 0.95 * port["airflow"]["value"], "unit": "m3/s"}
    with_both = {
        **document,
        "instruments": [*document["instruments"], *records.document([again], "simple")["instruments"]],
        "envelopes": [
            *document["envelopes"],
            records.envelope(again, purpose="verification", at="2026-05-05T10:15:00-06:00"),
        ],
    }
    alone = judging.judge_document(document)
    return {"alone": alone, "both": judging.judge_document(with_both)}


def _noticed(result: dict[str, Any]) -> set[str]:
    found = set()
    for one in result["alone"]["positions"][0]["judgements"]:
        concerns = one["port"] in ("", BLUNDERED)
        if concerns and one["verdict"] in ("does_not_conform", "inconclusive"):
            found.add(one["requirement"])
    for one in result["both"]["positions"][0]["judgements"]:
        if one["requirement"] == "two_finals_agree" and one["port"] == BLUNDERED:
            found |= {"two_finals_agree"} if one["verdict"] == "does_not_conform" else set()
    for one in result["alone"]["positions"][0]["measurements"]:
        if one["port"] == BLUNDERED and one["remarks"]:
            found.add("remark")
    if result["alone"]["problems"]:
        found.add("problem")
    return found
