"""Mass balance: what enters a unit by its four ports leaves it again, within what the readings allow.

Mass flow in (outdoor and return) against mass flow out (supply and exhaust), relative to the mean of the two. A check
of the readings as much as of the unit: a mistyped width or factor shows here first.
"""

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from commissioning.blocks import Block, Column, Sentence, Table, Working, WorkingLine
from commissioning.dossier import printing, shows
from commissioning.dossier.results import Absence, Judgement, Measurement
from commissioning.dossier.view import View
from commissioning.engineering.airflow import mass_closure
from commissioning.engineering.conformity import Limits, Verdict
from commissioning.engineering.uncertainty import Component, combine

CODE = "mass_balance"
TITLE = "Mass balance"
VERSION = 1
PRIORITY = "performance"
IN, OUT = ("outdoor", "return"), ("supply", "exhaust")
_WORST_FIRST = ("disputed", "not_judged", "recheck", "not_due")


def judge(view: View) -> Iterator[Judgement]:
    if set(view.ports) != {*IN, *OUT}:
        return
    if not view.place.is_counted:
        yield Judgement(CODE, "", VERSION, absence=view.not_counted())
        return
    grounds = {port: view.ground(port) for port in (*IN, *OUT)}
    missing = {port: one for port, one in grounds.items() if isinstance(one, Absence)}
    finals = {port: one for port, one in grounds.items() if isinstance(one, Measurement)}
    yield _why_not(missing) if missing else _compare(view, finals)


def _why_not(missing: Mapping[str, Absence]) -> Judgement:
    port, absence = min(missing.items(), key=lambda item: (_WORST_FIRST.index(item[1].code), item[0]))
    text = f"It takes four finals of one session. {shows.PORTS[port]}: {absence.text}"
    return Judgement(CODE, "", VERSION, absence=Absence(absence.code, text))


def _compare(view: View, finals: Mapping[str, Measurement]) -> Judgement:
    flows = {port: one.actual_airflow_m3_s * one.density_kg_m3 for port, one in finals.items()}
    entering, leaving = ([flows[port] for port in side] for side in (IN, OUT))
    if sum(entering) + sum(leaving) <= 0.0:
        return Judgement(CODE, "", VERSION, absence=Absence("not_judged", "No air moves at all."))
    closure = mass_closure(entering_kg_s=np.array(entering), leaving_kg_s=np.array(leaving))
    budget = combine(list(_components(finals, flows)), coverage_probability=view.conventions.coverage_probability)
    mean = 0.5 * (closure.entering_kg_s + closure.leaving_kg_s)
    allowance = view.conventions.mass_balance_allowance
    assessment = view.conventions.assess(
        value=closure.relative_difference,
        standard_uncertainty=budget.standard_uncertainty / mean,
        expanded_uncertainty=budget.expanded_uncertainty / mean,
        limits=Limits(-allowance, allowance),
    )
    return Judgement(
        CODE,
        "",
        VERSION,
        verdict=assessment.verdict,
        provisional=view.is_provisional(*finals.values()),
        value=closure.relative_difference,
        expanded_uncertainty=budget.expanded_uncertainty / mean,
        unit="1",
        low=-allowance,
        high=allowance,
        clause="the project's conventions, mass balance",
        rule=str(view.conventions.decision_rule),
        margin=assessment.margin,
        conformance_probability=assessment.conformance_probability,
        rests_on=tuple(dict.fromkeys(one.envelope for one in finals.values())),
        facts={
            "mass_flows_kg_s": flows,
            "entering_kg_s": closure.entering_kg_s,
            "leaving_kg_s": closure.leaving_kg_s,
            "guard_multiplier": view.conventions.guard_multiplier,
        },
        look_next=() if assessment.verdict is Verdict.CONFORMS else _STEPS,
    )


_STEPS = (
    "Records: duct dimensions, station factors, units and the air basis of each port.",
    "Operating state: were all four read in the same state, within the same visit?",
    "The worst plane: repeat the port with the largest uncertainty, by another method if there is one.",
    "Leakage: bypass, access doors, and between the two airstreams of the exchanger.",
)


def _components(finals: Mapping[str, Measurement], flows: Mapping[str, float]) -> Iterator[Component]:
    """Each port's own part is independent; the part of an instrument is shared by the ports read with it."""
    for port, one in finals.items():
        scale = flows[port] / one.airflow_m3_s if one.airflow_m3_s > 0.0 else 0.0
        sign = scale if port in IN else -scale
        shared = sum(s.standard_uncertainty for s in one.budget if s.name == "instrument")
        own = sum(s.standard_uncertainty**2 for s in one.budget if s.name != "instrument") ** 0.5
        yield Component(f"{port}, its own", own, sign)
        yield Component(f"{port}, instrument", shared, sign, group=one.instrument)


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    absent = shows.absent(judgement, TITLE)
    if absent:
        return absent
    facts = judgement["facts"]
    flows = facts["mass_flows_kg_s"]
    rows = tuple((shows.PORTS[p], "in" if p in IN else "out", f"{flows[p]:.4f}") for p in (*IN, *OUT))
    off = printing.percent(judgement["value"], signed=True)
    wide = printing.percent_uncertainty(judgement["expanded_uncertainty"])
    return (
        shows.lead(judgement, f"In and out differ by {off} ± {wide} of their mean."),
        Table((Column("Port"), Column("Way"), Column("Mass flow", "kg/s", "right")), rows),
        Working(
            (
                WorkingLine("In", "m_outdoor + m_return", f"{facts['entering_kg_s']:.6g} kg/s"),
                WorkingLine("Out", "m_supply + m_exhaust", f"{facts['leaving_kg_s']:.6g} kg/s"),
                WorkingLine("Difference", "(in - out) / mean(in, out)", printing.signed_percent(judgement["value"], 4)),
                WorkingLine(
                    "Expanded uncertainty",
                    "ports independent, an instrument's part shared",
                    f"±{100 * judgement['expanded_uncertainty']:.4f} %",
                    "JCGM 100:2008, 5.2.2",
                ),
                WorkingLine(
                    "Limits", "", shows.limits_in_words(judgement["low"], judgement["high"]), judgement["clause"]
                ),
                *shows.decision(judgement),
            ),
            TITLE,
        ),
        Sentence("Leakage between the airstreams counts on both sides of the exchanger and cancels here.", "aside"),
        *shows.next_steps(judgement),
    )
