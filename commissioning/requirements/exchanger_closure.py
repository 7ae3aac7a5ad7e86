"""Closure of energy over an exchanger: what one stream gives, the other takes. It checks the test, not the contract.

Up to 10 % conforms, up to 20 % asks for a look, above that the test says nothing; each end is moved out by the
uncertainty of the closure itself.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block, Working, WorkingLine
from commissioning.dossier import exchanger_judging as common
from commissioning.dossier import printing, shows
from commissioning.dossier.exchanger_design import recorded, standing
from commissioning.dossier.exchanger_words import WORDS
from commissioning.dossier.figures import Figure, Figures
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Limits, Verdict, conformance_probability

CODE = "exchanger_closure"
TITLE = "Closure of energy over the exchanger"
VERSION = 1
PRIORITY = "paper"
GOOD, LARGEST = 0.10, 0.20
CLAUSE = "±10 %, to be looked at up to ±20 %: common practice, no source"
_FIGURES = ("total_closure", "sensible_closure")
_BLURRED = "the closure is not known to half of what the supply air takes, which says nothing"
_STEPS = (
    "Flows: read again, both streams within the same minutes, with their air basis.",
    "Sensors: swap the two of one stream; a leaving stream is layered, so read it over the whole plane.",
    "Fan heat: is each fan on the side that was noted, and its power that of the test?",
    "Leakage between the streams, and water that condenses or freezes on the exhaust side.",
    "Steadiness: wait until the entering air stands still, then read all four again.",
)


def judge(view: View) -> Iterator[Judgement]:
    names = recorded(view, *_FIGURES)
    if not names:
        return
    if not view.place.is_counted:
        yield Judgement(CODE, "", VERSION, absence=view.not_counted())
        return
    yield common.worst_of([_of(view, name) for name in names])


def _of(view: View, name: str) -> Judgement:
    record = standing(view, name, *_FIGURES)
    facts = {"exchanger": name}
    if isinstance(record, Absence):
        return Judgement(CODE, "", VERSION, absence=record, facts=facts)
    figure = record.figure(record.facts["closure"] or "")
    if figure is None:
        absence = Absence("not_judged", common.sentence(record.facts["not_computed"].get("sensible_closure", _BLURRED)))
        return Judgement(CODE, "", VERSION, absence=absence, rests_on=(record.envelope,), facts=facts)
    return _compare(view, record, figure, {**facts, "about": WORDS[figure.name], "equation": figure.equation})


def _compare(view: View, record: Figures, figure: Figure, facts: dict[str, Any]) -> Judgement:
    wide = figure.expanded_uncertainty or 0.0
    shared: dict[str, Any] = {
        "value": figure.value,
        "expanded_uncertainty": wide,
        "unit": "1",
        "rests_on": (record.envelope,),
        "facts": facts,
    }
    absence = common.doubts_of(figure)
    if absence is not None:
        return Judgement(CODE, "", VERSION, absence=absence, **shared)
    verdict = _verdict(abs(figure.value) - wide)
    chance = conformance_probability(
        value=figure.value,
        standard_uncertainty=max(figure.standard_uncertainty or 0.0, 1e-12),
        limits=Limits(-GOOD, GOOD),
    )
    return Judgement(
        CODE,
        "",
        VERSION,
        verdict=verdict,
        provisional=view.is_provisional(record),
        low=-GOOD,
        high=GOOD,
        clause=CLAUSE,
        margin=GOOD + wide - abs(figure.value),
        conformance_probability=float(chance),
        look_next=() if verdict is Verdict.CONFORMS else _STEPS,
        **shared,
    )


def _verdict(beyond_doubt: float) -> Verdict:
    """By how much energy is missing for certain."""
    if beyond_doubt <= GOOD:
        return Verdict.CONFORMS
    return Verdict.INCONCLUSIVE if beyond_doubt <= LARGEST else Verdict.DOES_NOT_CONFORM


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    absent = shows.absent(judgement, TITLE)
    if absent:
        return (*absent, *common.table_of_all(judgement))
    off = printing.percent(judgement["value"], signed=True)
    wide = printing.percent_uncertainty(judgement["expanded_uncertainty"])
    beyond = abs(judgement["value"]) - judgement["expanded_uncertainty"]
    lines = (
        WorkingLine("Closure", judgement["facts"]["equation"], printing.signed_percent(judgement["value"], 4)),
        WorkingLine("Expanded uncertainty", "U", f"±{100 * judgement['expanded_uncertainty']:.4f} %"),
        WorkingLine("Missing for certain", "|d| − U, not below 0", f"{100 * max(beyond, 0.0):.4f} %"),
        WorkingLine("Limits", "conforms to 10 %, a look to 20 %, above that it says nothing", "", CLAUSE),
        WorkingLine(
            "Verdict", "", shows.VERDICTS[judgement["verdict"]].lower(), f"version {judgement['rule_version']}"
        ),
    )
    text = f"What the exhaust stream gives and the supply stream takes differ by {off} ± {wide}."
    return (
        shows.lead(judgement, text),
        Working(lines, TITLE),
        *common.table_of_all(judgement),
        *shows.next_steps(judgement),
    )
