"""Simulated records through the public line, and what came of them: coverage, width, wrong decisions."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from commissioning import judging
from tests.simulation import records
from tests.simulation.field.circumstances import Circumstance
from tests.simulation.records import DEVIATIONS, Unit

RULES = ("simple", "guarded_acceptance", "guarded_rejection")
OUTCOMES = ("conforms", "does_not_conform", "inconclusive")
AT_ONCE = 100


@dataclass
class Tally:
    """`outcomes` by rule, deviation and verdict; errors and widths relative to the truth."""

    trials: int = 0
    held: int = 0
    errors: list[float] = field(default_factory=list)
    widths: list[float] = field(default_factory=list)
    outcomes: Counter[tuple[str, float, str]] = field(default_factory=Counter)

    @property
    def coverage(self) -> float:
        return self.held / self.trials

    @property
    def width(self) -> float:
        """Mean half-width of the interval."""
        return math.fsum(self.widths) / self.trials

    @property
    def bias(self) -> float:
        return math.fsum(self.errors) / self.trials

    @property
    def spread(self) -> float:
        return math.sqrt(math.fsum((error - self.bias) ** 2 for error in self.errors) / (self.trials - 1))

    def __add__(self, other: Tally) -> Tally:
        return Tally(
            self.trials + other.trials,
            self.held + other.held,
            self.errors + other.errors,
            self.widths + other.widths,
            self.outcomes + other.outcomes,
        )

    def share(self, rule: str, deviation: float, verdict: str) -> float:
        all_ = sum(self.outcomes[rule, deviation, one] for one in OUTCOMES)
        return self.outcomes[rule, deviation, verdict] / all_

    def wrong(self, rule: str, deviation: float) -> float:
        """Accepted outside the limits, or rejected inside them (on a limit is inside)."""
        is_outside = deviation < -0.1 - 1e-9
        return self.share(rule, deviation, "conforms" if is_outside else "does_not_conform")


def run(circumstance: Circumstance, trials: int, seed: int, rules: Sequence[str] = RULES) -> Tally:
    made = records.units(circumstance.key, circumstance.visit, trials, seed)
    tally = Tally()
    for start in range(0, len(made), AT_ONCE):
        for rule in rules:
            _count(tally, made[start : start + AT_ONCE], rule, measures=rule == rules[0])
    return tally


def _count(tally: Tally, units: Sequence[Unit], rule: str, *, measures: bool) -> None:
    result = judging.judge_document(records.document(units, rule))
    assert not result["problems"], result["problems"][:3]
    for unit, judged in zip(units, result["positions"], strict=True):
        verdicts = {
            one["port"]: one["verdict"] for one in judged["judgements"] if one["requirement"] == "design_airflow"
        }
        for port, trial in unit.trials.items():
            tally.outcomes[rule, trial.deviation, verdicts[port]] += 1
        for one in judged["measurements"] if measures else ():
            true = unit.trials[one["port"]].true_m3_s
            error, width = one["airflow_m3_s"] / true - 1.0, one["expanded_uncertainty_m3_s"] / true
            tally.trials += 1
            tally.held += abs(error) <= width
            tally.errors.append(error)
            tally.widths.append(width)


__all__ = ["DEVIATIONS", "OUTCOMES", "RULES", "Tally", "run"]
