"""Fan power against the limit of an energy code with its credits, where the design names it.

For information, unless the contract makes it a criterion. It takes the motors' efficiencies, since the limit is one of
shaft power, and the airflow finals, since it holds for fans that deliver their design.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block, Column, Table, WorkingLine
from commissioning.dossier import motor_judging, printing
from commissioning.dossier.fan_power import FanPowers, airflows, fans_of, powers, untold
from commissioning.dossier.figures import Figures
from commissioning.dossier.motor_judging import INFORMATION, Rule, absent, decided
from commissioning.dossier.motor_shows import power
from commissioning.dossier.quantities import si
from commissioning.dossier.results import Absence, Judgement, Measurement
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Limits
from commissioning.engineering.fan_power_limit import (
    FanSystem,
    fan_power_limit_w,
    pressure_credit_w,
    wheel_credit_pressure_pa,
)
from commissioning.engineering.uncertainty import combine

CODE = "fan_power_limit"
TITLE = "Fan power limit"
VERSION = 1
PRIORITY = "code"
OF = "fan"
SOURCE = "ASHRAE 90.1-2010 to 2016, tables 6.5.3.1-1 and -2 (constants read in a public thread)"
_SYSTEMS = {"constant_volume": FanSystem.CONSTANT_VOLUME, "variable_volume": FanSystem.VARIABLE_VOLUME}
_STEPS = (
    "Airflow: do the fans deliver their design, no less and no more?",
    "Credits: does the unit have each device that a credit was taken for, and is its airflow right?",
    "Static profile: filters, coils, dampers and the ducts outside, against their design drops.",
)


def judge(view: View) -> Iterator[Judgement]:
    given = _given(view)
    if given is None:
        return
    rule = Rule(CODE, VERSION, given.get("clause") or SOURCE)
    supply = view.place.ports.get("supply")
    if supply is None or not supply.airflow_m3_s:
        text = "No design revision gives the supply airflow, on which the limit rests."
        yield absent(rule, "", Absence("not_given", text))
        return
    total = powers(view, "shaft_power", "The power, or the efficiency of the motor,")
    if isinstance(total, Absence):
        yield untold(rule, total, is_criterion=bool(given.get("criterion")))
        return
    flows = airflows(view, list(total.by_fan))
    if isinstance(flows, Absence):
        yield untold(rule, flows, is_criterion=bool(given.get("criterion")))
        return
    yield _judge(view, rule, given, total, flows, supply.airflow_m3_s)


def _given(view: View) -> Mapping[str, Any] | None:
    for fan in fans_of(view):
        found: Mapping[str, Any] | None = view.place.parts("fans").get(fan, {}).get("power_limit")
        if found is not None:
            return found
    return None


def _credits(given: Mapping[str, Any]) -> list[tuple[str, float]]:
    """Each device and the shaft power that it adds to the limit, in W. The inch of water goes in and out again."""
    found = []
    for one in given.get("credits", ()):
        effectiveness = one.get("effectiveness")
        if effectiveness is not None:
            pressure = float(wheel_credit_pressure_pa(effectiveness=effectiveness))
        else:
            pressure = si(one["pressure"])
        added = pressure_credit_w(pressure_pa=pressure, airflow_m3_s=si(one["airflow"]))
        found.append((one["device"], float(added)))
    return found


def _judge(
    view: View,
    rule: Rule,
    given: Mapping[str, Any],
    total: FanPowers,
    flows: list[Measurement],
    design_m3_s: float,
) -> Judgement:
    credited = _credits(given)
    limit = float(
        fan_power_limit_w(
            airflow_m3_s=design_m3_s, system=_SYSTEMS[given["system"]], credits_w=sum(one for _, one in credited)
        )
    )
    budget = combine(total.components(1.0), coverage_probability=view.conventions.coverage_probability)
    facts = {
        "powers_w": {fan: one.value for fan, one in total.by_fan.items()},
        "credits_w": [list(one) for one in credited],
        "limit_w": limit,
        "system": given["system"],
        "design_m3_s": design_m3_s,
        "delivered": {one.port: _share_of_design(view, one) for one in flows},
    }
    finals: list[Figures | Measurement] = [*total.finals, *flows]
    value = total.total_w
    if not given.get("criterion"):
        display = view.conventions.display
        told = f"{power(value, shaft=True, display=display)} of {power(limit, shaft=True, display=display)}."
        return absent(
            rule,
            "",
            Absence("not_given", INFORMATION + told),
            value=value,
            expanded_uncertainty=budget.expanded_uncertainty,
            unit="W",
            rests_on=tuple(dict.fromkeys(one.envelope for one in finals)),
            facts=facts,
        )
    return decided(
        rule,
        view,
        "",
        finals,
        value=value,
        standard_uncertainty=budget.standard_uncertainty,
        expanded_uncertainty=budget.expanded_uncertainty,
        limits=Limits(None, limit),
        unit="W",
        facts=facts,
        look_next=_STEPS,
    )


def _share_of_design(view: View, final: Measurement) -> float | None:
    design = view.place.ports.get(final.port)
    return final.airflow_m3_s / design.airflow_m3_s if design and design.airflow_m3_s else None


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    if not judgement["facts"]:
        return motor_judging.absent_page(judgement, TITLE)
    facts = judgement["facts"]
    value, limit = (power(one, shaft=True, display=display) for one in (judgement["value"], facts["limit_w"]))
    wide = power(judgement["expanded_uncertainty"], shaft=True, display=display)
    table = _delivered(facts, display)
    lines = _lines(judgement, facts, display)
    if judgement["absence"] is not None:
        return (*motor_judging.absent_page(judgement, TITLE), table, *motor_judging.information(lines, TITLE))
    text = f"All fans together take {value} ± {wide} at their shafts; at most {limit}."
    return motor_judging.page(judgement, TITLE, text, lines, table)


def _delivered(facts: Mapping[str, Any], display: str) -> Table:
    rows = []
    for fan, one in facts["powers_w"].items():
        share = facts["delivered"].get(fan)
        told = "no design" if share is None else printing.percent(share)
        rows.append((fan.capitalize(), power(one, shaft=True, display=display), told))
    columns = (Column("Fan"), Column("Shaft power", "", "right"), Column("Airflow, of design", "", "right"))
    caption = "The limit holds for fans that deliver their design: with less air they take less power"
    return Table(columns, tuple(rows), caption)


def _lines(judgement: Mapping[str, Any], facts: Mapping[str, Any], display: str) -> tuple[WorkingLine, ...]:
    flow = f"{printing.airflow_exact(facts['design_m3_s'], display)} {printing.airflow_unit(display)}"
    factor = f"{_SYSTEMS[facts['system']].value:g} bhp/cfm"
    credits_ = (
        WorkingLine(device, "PD q / 4131 [bhp, in. w.g., cfm]", f"{added:.6g} W", SOURCE)
        for device, added in facts["credits_w"]
    )
    return (
        WorkingLine("Shaft power", "Σ P_shaft", f"{judgement['value']:.6g} W"),
        WorkingLine("Expanded uncertainty", "U; the meter is one error", f"±{judgement['expanded_uncertainty']:.6g} W"),
        WorkingLine("Design airflow", "q", flow),
        WorkingLine(f"Limit before credits, {facts['system'].replace('_', ' ')}", "times q", factor, SOURCE),
        *credits_,
        WorkingLine("Limit with its credits", "", f"{facts['limit_w']:.6g} W", judgement["clause"]),
    )
