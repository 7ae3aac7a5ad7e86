"""A rule over settings: an id, how bad it is, why, what to do, where it comes from, and a small predicate.

A rule whose settings were not read is said to be not read; nobody may take it for one that holds.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

from commissioning.dossier.settings.catalogue import Plain
from commissioning.dossier.settings.neighbours import Neighbour

Severity = Literal["unsafe", "will_not_run", "wrong_air", "look"]
Outcome = Literal["fires", "holds", "not_read", "does_not_apply"]
SEVERITIES: Mapping[Severity, str] = {
    "unsafe": "can do harm",
    "will_not_run": "will not run",
    "wrong_air": "wrong air",
    "look": "worth a look",
}
"""Worst first. All but the last fail the requirement."""

COMMON = "common practice, no source"
CLOCK, WINTER = "controller_time", "winter_design_temperature"
"""What a rule may need beside settings."""


@dataclass(frozen=True)
class Case:
    """The settings of one moment, in SI, with what they have to fit: the order, the clock, the site, the design."""

    values: Mapping[str, Plain]
    ordered: Mapping[str, Plain] = field(default_factory=dict)
    clock_off_s: float | None = None  # the controller's clock less the site's
    site_zone: str = "UTC"
    at: datetime | None = None
    winter_c: float | None = None
    design_m3_s: Mapping[str, float] = field(default_factory=dict)  # by port
    minimum_m3_s: float | None = None  # of outdoor air
    others: Sequence[Neighbour] | None = None  # units of the site with an address of this one; None: nobody looked

    def knows(self, name: str) -> bool:
        if name == CLOCK:
            return self.clock_off_s is not None
        return self.winter_c is not None if name == WINTER else name in self.values

    def number(self, code: str) -> float:
        value = self.values[code]
        assert isinstance(value, float)
        return value

    def word(self, code: str) -> str:
        """The choice or text, empty where it was not read."""
        return str(self.values.get(code, ""))

    def is_one(self, code: str, *words: str) -> bool:
        return self.word(code) in words

    def yes(self, code: str) -> bool:
        return self.values.get(code) is True

    def no(self, code: str) -> bool:
        return self.values.get(code) is False


Test = Callable[[Case], bool]
_SAME = 1e-9  # two numbers that were read in different units may differ by so much and be one


def less(one: float, other: float) -> bool:
    """
    >>> less(0.24, 0.25), less(0.3 * 0.8, 0.24), less(0.1 + 0.2, 0.3)
    (True, False, False)
    """
    return one < other - _SAME * max(abs(one), abs(other))


def _always(_: Case) -> bool:
    return True


def _nobody(_: Case) -> Sequence[Neighbour]:
    return ()


@dataclass(frozen=True)
class Rule:
    """It fires where it applies, all that it needs was read, and its predicate says so."""

    code: str
    severity: Severity
    reason: str
    remedy: str
    needs: tuple[str, ...]
    fires: Test
    applies: Test = _always
    source: str = COMMON
    others: Callable[[Case], Sequence[Neighbour]] = _nobody  # the units on which it fires too

    def outcome(self, case: Case) -> Outcome:
        if not self.applies(case):
            return "does_not_apply"
        if not all(case.knows(name) for name in self.needs):
            return "not_read"
        return "fires" if self.fires(case) else "holds"


def worst_first(rules: Iterable[Rule]) -> list[Rule]:
    order = list(SEVERITIES)
    return sorted(rules, key=lambda rule: (order.index(rule.severity), rule.code))
