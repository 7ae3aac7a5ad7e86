"""A requirement with several parts: each is assessed by itself, and the verdict of them all is the worst's.

A part is a row of plain JSON values: its `name`, what its requirement tells of it, and the half that is made here.
Parts that cannot be judged, and those for information, have no verdict and say why.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from commissioning.dossier.given import Conventions, Tolerance
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Limits, Verdict, relative_deviation

WORST_FIRST = ("does_not_conform", "inconclusive", "conforms")
_WORDS = {"does_not_conform": "outside", "inconclusive": "inconclusive", "conforms": "within"}


def assessed(
    conventions: Conventions,
    *,
    value: float,
    standard_uncertainty: float,
    expanded_uncertainty: float,
    limits: Limits,
    clause: str,
    unit: str = "1",
) -> dict[str, Any]:
    """A part's value against limits by the project's decision rule: the judged half of its row."""
    found = conventions.assess(
        value=value,
        standard_uncertainty=standard_uncertainty,
        expanded_uncertainty=expanded_uncertainty,
        limits=limits,
    )
    return {
        "value": value,
        "expanded_uncertainty": expanded_uncertainty,
        "unit": unit,
        "low": limits.low,
        "high": limits.high,
        "clause": clause,
        "verdict": found.verdict.value,
        "margin": found.margin,
        "probability": found.conformance_probability,
        "why": "",
    }


def against_design(
    conventions: Conventions,
    *,
    measured: float,
    standard_uncertainty: float,
    expanded_uncertainty: float,
    design: float,
    tolerance: Tolerance,
) -> dict[str, Any]:
    """A part's deviation from its design, as a fraction of it, assessed."""
    deviation = float(relative_deviation(measured=measured, required=design))
    return {"deviation": deviation} | assessed(
        conventions,
        value=tolerance.compared(deviation),
        standard_uncertainty=standard_uncertainty / design,
        expanded_uncertainty=expanded_uncertainty / design,
        limits=tolerance.limits,
        clause=tolerance.clause,
    )


def not_assessed(code: str, why: str = "") -> dict[str, Any]:
    """The same half of the row of a part that is not judged, or that is no criterion (`not_given`)."""
    return {"verdict": None, "code": code, "why": why}


def sign_first(verdict: Verdict, *, margin: float, value: float, expanded_uncertainty: float) -> Verdict:
    """The verdict on a value whose sign is required: inconclusive under any rule where the sign is not certain.

    Unless the true value, as far off as the uncertainty goes, could not be enough anyway.
    """
    if abs(value) > expanded_uncertainty or margin + expanded_uncertainty < 0.0:
        return verdict
    return Verdict.INCONCLUSIVE


def worst_first(rows: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Judged ones by verdict and margin, then the others; equal ones by name."""
    return sorted(rows, key=lambda row: (*_place(row), row["name"]))


def _place(row: Mapping[str, Any]) -> tuple[int, float]:
    if row["verdict"] is None:
        return (len(WORST_FIRST), 0.0)
    return (WORST_FIRST.index(row["verdict"]), row["margin"])


def blocked(rows: Sequence[Mapping[str, Any]], codes: Sequence[str]) -> list[Mapping[str, Any]]:
    """The parts that cannot be judged for the first of these reasons for which there is any."""
    found = ([row for row in rows if row["verdict"] is None and row["code"] == code] for code in codes)
    return next((held for held in found if held), [])


def judgement(
    view: View,
    rows: Sequence[Mapping[str, Any]],
    *,
    requirement: str,
    port: str,
    rule_version: int,
    absence: Absence | None,
    provisional: bool,
    **told: Any,
) -> Judgement:
    """The worst part's verdict. `absence` says why there is none; what fails, fails whatever else is missing.

    `told` are `rests_on`, `sources`, `facts`, and `look_next` of what does not conform or cannot be judged.
    """
    told["facts"] = {**told.get("facts", {}), "guard_multiplier": view.conventions.guard_multiplier}
    worst = min((row for row in rows if row["verdict"]), key=_place, default=None)
    if worst is None or (absence is not None and worst["verdict"] != "does_not_conform"):
        assert absence is not None
        if absence.code != "not_judged":
            told["look_next"] = ()
        return Judgement(requirement, port, rule_version, absence=absence, **told)
    if worst["verdict"] == "conforms":
        told["look_next"] = ()
    return Judgement(
        requirement,
        port,
        rule_version,
        verdict=Verdict(worst["verdict"]),
        provisional=provisional,
        value=worst["value"],
        expanded_uncertainty=worst["expanded_uncertainty"],
        unit=worst["unit"],
        low=worst["low"],
        high=worst["high"],
        clause=worst["clause"],
        rule=str(view.conventions.decision_rule),
        margin=worst["margin"],
        conformance_probability=worst["probability"],
        **told,
    )


def worst_of(judgement: Mapping[str, Any], rows: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """The row whose verdict is that of the whole, from a judgement as it is kept."""
    whole = (judgement["verdict"], judgement["margin"])
    return next(row for row in rows if row["verdict"] and (row["verdict"], row["margin"]) == whole)


def counts(rows: Sequence[Mapping[str, Any]], noun: str) -> str:
    """
    >>> counts([{"verdict": "conforms"}, {"verdict": "does_not_conform"}, {"verdict": None}], "outlets")
    '1 of 2 outlets within, 1 outside; 1 not judged'
    """
    of = {verdict: sum(row["verdict"] == verdict for row in rows) for verdict in WORST_FIRST}
    others = len(rows) - sum(of.values())
    told = [f"{of['conforms']} of {sum(of.values())} {noun} {_WORDS['conforms']}"]
    told += [f"{of[verdict]} {_WORDS[verdict]}" for verdict in ("does_not_conform", "inconclusive") if of[verdict]]
    return ", ".join(told) + (f"; {others} not judged" if others else "")
