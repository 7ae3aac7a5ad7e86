"""Specific fan power: the electric power of all fans per airflow. For information, unless the contract has a limit."""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block, Column, Sentence, Table, WorkingLine
from commissioning.dossier import motor_judging, printing
from commissioning.dossier.fan_power import FanPowers, airflows, fans_of, powers, untold
from commissioning.dossier.figures import Figures
from commissioning.dossier.motor_judging import INFORMATION, Rule, absent, decided
from commissioning.dossier.motor_shows import power
from commissioning.dossier.quantities import si
from commissioning.dossier.results import Absence, Judgement, Measurement
from commissioning.dossier.view import View
from commissioning.engineering import units
from commissioning.engineering.conformity import Limits
from commissioning.engineering.fans import specific_fan_power_class, specific_fan_power_w_m3_s
from commissioning.engineering.uncertainty import Component, combine

CODE = "specific_fan_power"
TITLE = "Specific fan power"
VERSION = 1
PRIORITY = "performance"
OF = "fan"
SOURCE = "EN 16798-3; classes 1 to 3 read in a public note, 0 and 4 to 7 from memory"
_UNIT = {"ip": "W/cfm", "si": "W/(m3/s)"}
_LEAST_AIRFLOW_M3_S = 1e-6
_STEPS = (
    "Airflow and power: were both read in the same state, at design?",
    "Static profile: filters, coils, dampers and the ducts outside, against their design drops.",
    "Fan and drive: speed, belt, and whether dampers throttle what the speed could give.",
)


def judge(view: View) -> Iterator[Judgement]:
    limit = _limit(view)
    read = any(one.named("electrical_power") for one in view.records if one.kind == "electrical")
    if limit is None and not read:
        return
    rule = Rule(CODE, VERSION, limit[1] if limit else "")
    total = powers(view, "electrical_power", "The electric power")
    if isinstance(total, Absence):
        yield untold(rule, total, is_criterion=limit is not None)
        return
    flows = airflows(view, list(total.by_fan))
    if isinstance(flows, Absence):
        yield untold(rule, flows, is_criterion=limit is not None)
    else:
        yield _judge(view, rule, total, flows, limit)


def _limit(view: View) -> tuple[float, str] | None:
    for fan in fans_of(view):
        given = view.place.parts("fans").get(fan, {}).get("specific_power_limit")
        if given is not None:
            return si(given["maximum"]), given.get("clause") or "the design"
    return None


def _judge(
    view: View, rule: Rule, total: FanPowers, flows: list[Measurement], limit: tuple[float, str] | None
) -> Judgement:
    largest = max(flows, key=lambda one: one.actual_airflow_m3_s)
    flow = largest.actual_airflow_m3_s
    if flow <= _LEAST_AIRFLOW_M3_S:
        return untold(rule, Absence("not_judged", "No air moves at all."), is_criterion=limit is not None)
    value = float(specific_fan_power_w_m3_s(electrical_power_w=total.total_w, airflow_m3_s=flow))
    relative = largest.standard_uncertainty_m3_s / largest.airflow_m3_s
    budget = combine(
        [*total.components(1.0 / flow), Component("airflow", relative * value, -1.0)],
        coverage_probability=view.conventions.coverage_probability,
    )
    facts = {
        "powers_w": {fan: one.value for fan, one in total.by_fan.items()},
        "airflow_m3_s": flow,
        "port": largest.port,
        "class": specific_fan_power_class(value),
    }
    finals: list[Figures | Measurement] = [*total.finals, *flows]
    if limit is None:
        return absent(
            rule,
            "",
            Absence("not_given", f"{INFORMATION}{_printed(value, view.conventions.display)}, class {facts['class']}."),
            value=value,
            expanded_uncertainty=budget.expanded_uncertainty,
            unit="W/(m3/s)",
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
        limits=Limits(None, limit[0]),
        unit="W/(m3/s)",
        facts=facts,
        look_next=_STEPS,
    )


def _printed(value: float, display: str) -> str:
    """
    >>> _printed(2240.0, "si"), _printed(2118.88, "ip")
    ('2,240 W/(m³/s)', '1.00 W/cfm')
    """
    if display == "ip":
        return f"{float(units.from_si(value, 'W/cfm')):.2f} W/cfm"
    return f"{round(value / 10.0) * 10:,} W/(m³/s)"


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    if not judgement["facts"]:
        return motor_judging.absent_page(judgement, TITLE)
    facts = judgement["facts"]
    printed = _printed(judgement["value"], display)
    wide = printing.two_digits(float(units.from_si(judgement["expanded_uncertainty"], _UNIT[display])))
    rows = tuple((fan.capitalize(), power(one, shaft=False, display=display)) for fan, one in facts["powers_w"].items())
    table = Table((Column("Fan"), Column("Electric power, drive included", "", "right")), rows)
    unit = printing.airflow_unit(display)
    lines = (
        WorkingLine("Electric power", "Σ P", f"{sum(facts['powers_w'].values()):.6g} W"),
        WorkingLine(
            "Airflow",
            f"q, the larger one, {facts['port']} air",
            f"{printing.airflow_exact(facts['airflow_m3_s'], display)} {unit}",
            "actual air",
        ),
        WorkingLine("Specific fan power", "Σ P / q", f"{judgement['value']:.6g} W/(m³/s)", SOURCE),
        WorkingLine("Class", "0 is the least, 7 the most", str(facts["class"]), SOURCE),
        WorkingLine("Expanded uncertainty", "U; the fans' meter is one error", f"±{wide} {printed.rpartition(' ')[2]}"),
    )
    if judgement["absence"] is not None:
        return (*motor_judging.absent_page(judgement, TITLE), table, *motor_judging.information(lines, TITLE))
    limit = WorkingLine("Limit", "at most", _printed(judgement["high"], display), judgement["clause"])
    text = f"{printed} ± {wide}, class {facts['class']}; at most {_printed(judgement['high'], display)}."
    aside = Sentence("The whole unit with its ducts, as it runs here: not the part inside the unit alone.", "aside")
    return motor_judging.page(judgement, TITLE, text, (*lines, limit), table, aside)
