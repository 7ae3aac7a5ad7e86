"""All rules over settings, worst first, and what they find in the settings of one moment."""

from dataclasses import dataclass

from commissioning.dossier.settings import (
    rules_of_control,
    rules_of_enabling,
    rules_of_neighbours,
    rules_of_numbers,
    rules_of_temperature,
)
from commissioning.dossier.settings.rules import Case, Rule, worst_first

RULES: tuple[Rule, ...] = tuple(
    worst_first(
        (
            *rules_of_enabling.RULES,
            *rules_of_neighbours.RULES,
            *rules_of_control.RULES,
            *rules_of_numbers.RULES,
            *rules_of_temperature.RULES,
        )
    )
)
BY_CODE = {rule.code: rule for rule in RULES}


@dataclass(frozen=True)
class Findings:
    """Rules that fire, worst first; how many hold; and those that apply and could not be looked at."""

    fired: tuple[Rule, ...]
    held: int
    not_read: tuple[Rule, ...]


def findings(case: Case) -> Findings:
    outcomes = [(rule, rule.outcome(case)) for rule in RULES]
    return Findings(
        fired=tuple(rule for rule, outcome in outcomes if outcome == "fires"),
        held=sum(outcome == "holds" for _, outcome in outcomes),
        not_read=tuple(rule for rule, outcome in outcomes if outcome == "not_read"),
    )
