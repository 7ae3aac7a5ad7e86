"""What the requirements on exchangers have in common: one judgement for the unit, the worst of what was asked."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from commissioning.blocks import Block, Column, Table
from commissioning.dossier import shows
from commissioning.dossier.figures import Figure, Figures
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.view import View
from commissioning.engineering.agreement import normalised_difference
from commissioning.engineering.conformity import Assessment, Limits, Verdict

_WORST_FIRST = (
    "does_not_conform",
    "disputed",
    "not_judged",
    "recheck",
    "not_due",
    "inconclusive",
    "conforms",
    "not_given",
    "not_counted",
)
_NO_UNCERTAINTY = 1e-12


def worst_of(candidates: Sequence[Judgement]) -> Judgement:
    """One cause, one issue: the worst stands for all, which are told in a table."""
    worst = min(candidates, key=lambda one: (_WORST_FIRST.index(_outcome(one)), one.margin or 0.0))
    rests_on = tuple(dict.fromkeys(envelope for one in candidates for envelope in one.rests_on))
    told = [
        {
            "exchanger": one.facts["exchanger"],
            "about": one.facts.get("about", ""),
            "outcome": _outcome(one),
            "value": one.value,
            "expanded_uncertainty": one.expanded_uncertainty,
            "low": one.low,
            "high": one.high,
            "text": one.absence.text if one.absence else "",
        }
        for one in candidates
    ]
    provisional = any(one.provisional for one in candidates)
    return replace(worst, rests_on=rests_on, provisional=provisional, facts={**worst.facts, "all": told})


def _outcome(one: Judgement) -> str:
    return one.verdict.value if one.verdict is not None else one.absence.code if one.absence is not None else ""


def decide(view: View, figure: Figure, limits: Limits, scale: float = 1.0) -> Assessment:
    """By the project's decision rule; `scale` carries the figure's uncertainty to the unit of `limits`."""
    return view.conventions.assess(
        value=figure.value * scale,
        standard_uncertainty=(figure.standard_uncertainty or 0.0) * scale,
        expanded_uncertainty=(figure.expanded_uncertainty or 0.0) * scale,
        limits=limits,
    )


def judged(
    view: View,
    code: str,
    version: int,
    record: Figures,
    assessment: Assessment,
    *,
    look_next: Sequence[str],
    **told: Any,
) -> Judgement:
    """A verdict that rests on one record."""
    facts = {**told.pop("facts", {}), "guard_multiplier": view.conventions.guard_multiplier}
    return Judgement(
        code,
        told.pop("port", ""),
        version,
        verdict=assessment.verdict,
        provisional=view.is_provisional(record),
        unit="1",
        rule=str(view.conventions.decision_rule),
        margin=assessment.margin,
        conformance_probability=assessment.conformance_probability,
        rests_on=(record.envelope,),
        facts=facts,
        look_next=() if assessment.verdict is Verdict.CONFORMS else tuple(look_next),
        **told,
    )


def reason_of(record: Figures, name: str) -> str:
    """Why a figure is missing."""
    return str(record.facts["not_computed"].get(name, "it was not measured"))


def doubts_of(figure: Figure) -> Absence | None:
    return Absence("not_judged", sentence("; ".join(figure.doubts))) if figure.doubts else None


def sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."


def flows_beside_finals(view: View, record: Figures) -> list[dict[str, Any]]:
    """The flows of the test against the as-left finals, both as standard air: E above 1 is more than both allow."""
    found = []
    for one in record.named("standard_airflow"):
        final = view.ground(one.at)
        if isinstance(final, Absence) or final.airflow_m3_s <= 0.0:
            continue
        standard = final.actual_airflow_m3_s * final.density_kg_m3 / final.standard_density_kg_m3
        scale = standard / final.airflow_m3_s
        wide = final.expanded_uncertainty_m3_s * scale
        difference = normalised_difference(
            a=one.value,
            expanded_uncertainty_a=max(one.expanded_uncertainty or 0.0, _NO_UNCERTAINTY),
            b=standard,
            expanded_uncertainty_b=max(wide, _NO_UNCERTAINTY),
        )
        found.append(
            {
                "port": one.at,
                "test_m3_s": one.value,
                "test_expanded_m3_s": one.expanded_uncertainty or 0.0,
                "final_m3_s": standard,
                "final_expanded_m3_s": wide,
                "normalised_difference": float(difference),
            }
        )
    return found


def table_of_all(judgement: Mapping[str, Any]) -> tuple[Block, ...]:
    """All that was asked, where it is more than one."""
    held = judgement["facts"].get("all", ())
    if len(held) < 2:
        return ()
    words = {**shows.VERDICTS, **shows.ABSENCES}
    rows = tuple((one["exchanger"], one["about"], _percent(one), words[one["outcome"]], one["text"]) for one in held)
    columns = (Column("Exchanger"), Column("What"), Column("Measured", "", "right"), Column("Outcome"), Column("Why"))
    return (Table(columns, rows, "All that was asked of the exchangers"),)


def _percent(one: Mapping[str, Any]) -> str:
    if one["value"] is None:
        return ""
    wide = one["expanded_uncertainty"] or 0.0
    return f"{100.0 * one['value']:.1f} % ± {100.0 * wide:.1f} %".replace("-", "−")
