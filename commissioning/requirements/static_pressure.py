"""Static pressure: external static pressure and the drops of filter, core and coil against the design, by stream.

Only what the contract gives a tolerance is a criterion, and a filter's drop against that at which it is changed. The
rest is for information. Where the airflow was measured, the drop to be expected at that airflow stands beside.
"""

from collections.abc import Iterator, Mapping
from functools import partial
from typing import Any

from commissioning.blocks import Block, Column, Sentence, Table, Working, WorkingLine
from commissioning.dossier import parts, printing, shows
from commissioning.dossier import pressure_parts as pressures
from commissioning.dossier.figures import Figure, Figures
from commissioning.dossier.pressure_parts import PressureDesign
from commissioning.dossier.results import Absence, Judgement, Measurement
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Limits, relative_deviation
from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.pressure_drop import pressure_drop_airflow_m3_s
from commissioning.engineering.static_pressure import expected_pressure_drop_pa

CODE = "static_pressure"
TITLE = "Static pressure"
VERSION = 2
PRIORITY = "performance"
NAMES = ("external_static", "filter_drop", "core_drop", "coil_drop")
SYSTEM_EXPONENT = 2.0  # of ducts, which the external static pressure overcomes
_STEPS = (
    "Operating state: dampers, bypass and fans as the design has them; the airflow of this stream first.",
    "Dampers and filters: an open damper and a clean filter before any drop is compared.",
    "Static profile: the step that is furthest from its expected drop, from inlet to outlet.",
    "Outlets and branches: a closed one raises the external static pressure.",
    "Fan speed: only after the four above are in order.",
)


def judge(view: View) -> Iterator[Judgement]:
    for stream in pressures.PORTS_OF_STREAM:
        designs = {name: _design(view, name, stream) for name in NAMES}
        due = pressures.has_stream(view.place, stream) and any(design.is_criterion for design in designs.values())
        if due or pressures.holds(view, partial(_wanted, stream=stream)):
            yield _judge(view, stream, designs)


def _wanted(figure: Figure, stream: str) -> bool:
    return figure.at == stream and figure.name in NAMES


def _design(view: View, name: str, stream: str) -> PressureDesign:
    inch = view.conventions.inch_of_water_pa
    return pressures.design_of(view.place, name, stream, inch_of_water_pa=inch)


def _judge(view: View, stream: str, designs: Mapping[str, PressureDesign]) -> Judgement:
    sources = {name: design.source for name, design in designs.items() if design.source}
    record = pressures.newest(view, partial(_wanted, stream=stream), mode="design_maximum")
    if isinstance(record, Absence):
        return Judgement(CODE, stream, VERSION, absence=record, sources=sources)
    flow = _flow(view, stream)
    found = [part for name in NAMES for part in _parts(view, record, designs[name], name, stream, flow)]
    missing = [
        pressures.WORDS[name]
        for name, design in designs.items()
        if design.is_criterion and record.figure(name, stream) is None
    ]
    return parts.judgement(
        view,
        found,
        requirement=CODE,
        port=stream,
        rule_version=VERSION,
        absence=pressures.open_parts(found, missing, _for_information(found, view.conventions.display)),
        provisional=view.is_provisional(record),
        rests_on=(record.envelope,),
        sources=sources,
        look_next=_STEPS,
        facts={"parts": found, "rise": _rises(record, stream), "flow": flow},
    )


def _flow(view: View, stream: str) -> dict[str, Any] | None:
    """The stream's airflow over its design, from the final that stands; None where there is none."""
    for port in pressures.PORTS_OF_STREAM[stream]:
        final, design = view.ground(port), view.place.ports.get(port)
        if isinstance(final, Measurement) and design is not None and design.airflow_m3_s:
            return {
                "port": port,
                "measured_m3_s": final.airflow_m3_s,
                "design_m3_s": design.airflow_m3_s,
                "envelope": final.envelope,
            }
    return None


def _parts(
    view: View, record: Figures, design: PressureDesign, name: str, stream: str, flow: dict[str, Any] | None
) -> Iterator[dict[str, Any]]:
    figure = record.figure(name, stream)
    if figure is None:
        return
    condition = record.facts["conditions"].get(f"{name.removesuffix('_drop')} {stream}", "clean")
    told = {
        "name": pressures.WORDS[name],
        "pressure_pa": figure.value,
        "expanded_pa": figure.expanded_uncertainty or 0.0,
        "design_pa": design.pressure_pa,
        "condition": condition,
        **_at_this_airflow(figure, design, name, condition, flow),
    }
    yield told | _against_design(view, figure, design, condition)
    if design.final_pa is not None and name == "filter_drop":
        yield told | _against_final(view, figure, design.final_pa)


def _against_design(view: View, figure: Figure, design: PressureDesign, condition: str) -> dict[str, Any]:
    if not design.pressure_pa or design.pressure_pa <= 0.0:
        return {"value": figure.value, "unit": figure.unit} | parts.not_assessed("not_given")
    deviation = float(relative_deviation(measured=figure.value, required=design.pressure_pa))
    why = _why_not(figure, condition)
    if design.tolerance is None or why:
        unjudged = parts.not_assessed("not_judged", why) if design.tolerance else parts.not_assessed("not_given")
        return {"value": deviation, "unit": "1"} | unjudged
    return parts.against_design(
        view.conventions,
        measured=figure.value,
        standard_uncertainty=figure.standard_uncertainty or 0.0,
        expanded_uncertainty=figure.expanded_uncertainty or 0.0,
        design=design.pressure_pa,
        tolerance=design.tolerance,
    )


def _against_final(view: View, figure: Figure, final_pa: float) -> dict[str, Any]:
    told = {"name": "filter drop, against the drop at which it is changed", "final_pa": final_pa}
    if figure.doubts:
        return told | parts.not_assessed("not_judged", "; ".join(figure.doubts))
    return told | parts.assessed(
        view.conventions,
        value=figure.value,
        standard_uncertainty=figure.standard_uncertainty or 0.0,
        expanded_uncertainty=figure.expanded_uncertainty or 0.0,
        limits=Limits(high=final_pa),
        clause="the filter's final pressure drop, as designed",
        unit=figure.unit,
    )


def _why_not(figure: Figure, condition: str) -> str:
    """Why a drop is not compared with the design's, which is that of a clean and dry part."""
    if figure.doubts:
        return "; ".join(figure.doubts)
    if condition == "clean":
        return ""
    if condition == "not_seen":
        return "nobody noted whether it was clean and dry, and the design's drop is"
    return f"it was {condition}, and the design's drop is of a clean and dry one"


def _at_this_airflow(
    figure: Figure, design: PressureDesign, name: str, condition: str, flow: dict[str, Any] | None
) -> dict[str, Any]:
    """What the design's drop comes to at the measured airflow, and which airflow the drop itself would tell.

    Without an exponent the drop lies between those of 1 and 2, and no airflow is told.
    """
    if flow is None or not design.pressure_pa:
        return {}
    rated = design.airflow_m3_s or flow["design_m3_s"]
    exponent = SYSTEM_EXPONENT if name == "external_static" else design.exponent
    ends = (exponent, exponent) if exponent is not None else (1.0, 2.0)
    try:
        expected = sorted(
            float(
                expected_pressure_drop_pa(
                    design_pressure_drop_pa=design.pressure_pa,
                    airflow_ratio=flow["measured_m3_s"] / rated,
                    exponent=n,
                )
            )
            for n in ends
        )
        told: dict[str, Any] = {"expected_pa": expected, "exponent": exponent, "rated_m3_s": rated}
        if name != "external_static" and design.exponent is not None and condition == "clean" and figure.value > 0.0:
            told["told_airflow_m3_s"] = float(
                pressure_drop_airflow_m3_s(
                    pressure_drop_pa=figure.value,
                    rated_airflow_m3_s=rated,
                    rated_pressure_drop_pa=design.pressure_pa,
                    exponent=design.exponent,
                )
            )
    except OutOfRange:
        return {}
    return told


def _rises(record: Figures, stream: str) -> dict[str, float]:
    held = (record.figure(name, stream) for name in ("fan_static_rise", "fan_total_rise"))
    return {one.name: one.value for one in held if one is not None}


def _for_information(found: list[dict[str, Any]], display: str) -> str:
    told = []
    for part in found:
        value = pressures.printed(part["pressure_pa"], part["expanded_pa"], display)
        design = part["design_pa"]
        against = f" against {pressures.printed(design, None, display)} designed" if design is not None else ""
        told.append(f"{part['name']} {value}{against}")
    return f"The contract makes it no criterion. For information: {'; '.join(told)}."


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    found = judgement["facts"].get("parts", [])
    absent = shows.absent(judgement, TITLE)
    if absent and not found:
        return absent
    opening = absent or (shows.lead(judgement, f"{shows.port_of(judgement)}: {_sentence(judgement, display)}"),)
    blocks: list[Block] = [*opening, _table(found, display)]
    blocks += _beside(judgement["facts"], display)
    if not absent:
        blocks.append(Working(tuple(_lines(judgement, found)), TITLE))
    return (*blocks, *shows.next_steps(judgement))


def _sentence(judgement: Mapping[str, Any], display: str) -> str:
    worst = parts.worst_of(judgement, judgement["facts"]["parts"])
    value = pressures.printed(worst["pressure_pa"], worst["expanded_pa"], display)
    if worst["unit"] == "1":
        off = printing.percent_beside_limits(worst["value"], (worst["low"], worst["high"]))
        design = pressures.printed(worst["design_pa"], None, display)
        return f"{worst['name']} {value} against {design} designed, {off}."
    return f"{worst['name']} {value}; it is changed at {pressures.printed(worst['final_pa'], None, display)}."


def _table(found: list[dict[str, Any]], display: str) -> Table:
    unit = pressures.unit(display)
    columns = (
        Column("What"),
        Column("Measured", unit, "right"),
        Column("Design", unit, "right"),
        Column("Expected at this airflow", unit, "right"),
        Column("Outcome"),
    )
    rows = tuple(
        (
            one["name"],
            pressures.number(one["pressure_pa"], display),
            _design_cell(one, display),
            " to ".join(dict.fromkeys(pressures.number(value, display) for value in one.get("expected_pa", ()))) or "–",
            _outcome(one),
        )
        for one in found
    )
    return Table(columns, rows, "Each part")


def _design_cell(one: Mapping[str, Any], display: str) -> str:
    limit = one.get("final_pa", one["design_pa"])
    return "not given" if limit is None else pressures.number(limit, display)


def _outcome(one: Mapping[str, Any]) -> str:
    if one["verdict"]:
        return str(one["verdict"]).replace("_", " ")
    return one["why"] or "for information"


def _beside(facts: Mapping[str, Any], display: str) -> Iterator[Block]:
    for name, value in facts["rise"].items():
        yield Sentence(f"The {pressures.WORDS[name]} is {pressures.printed(value, None, display)}, for information.")
    unit = printing.airflow_unit(display)
    for one in facts["parts"]:
        if "told_airflow_m3_s" in one and "final_pa" not in one:
            told = printing.airflow(one["told_airflow_m3_s"], display)
            yield Sentence(
                f"By its {one['name']} alone (power {one['exponent']:g}) about {told} {unit} would flow, "
                "to 10 % or worse: only clean, dry and without bypass.",
                "aside",
            )
    flow = facts["flow"]
    if flow:
        measured, design = (printing.airflow(flow[name], display) for name in ("measured_m3_s", "design_m3_s"))
        powers = {one["name"]: one.get("exponent") for one in facts["parts"] if "expected_pa" in one}
        told = ", ".join(
            f"{name} {'1 to 2, not given' if power is None else f'{power:g}'}" for name, power in powers.items()
        )
        beside = f" Powers: {told}." if told else ""
        yield Sentence(
            f"Expected: the design's pressure times (q / q_d)^n at {measured} of {design} {unit}, {flow['port']} air."
            f"{beside}",
            "aside",
        )


def _lines(judgement: Mapping[str, Any], found: list[dict[str, Any]]) -> Iterator[WorkingLine]:
    for one in found:
        if one["verdict"] is None:
            continue
        if one["unit"] == "1":
            yield WorkingLine(
                one["name"].capitalize(),
                f"d = ({one['pressure_pa']:.6g} - {one['design_pa']:.6g}) / {one['design_pa']:.6g}",
                f"{printing.signed_percent(one['value'], 4)} ± {100 * one['expanded_uncertainty']:.4f} %",
                f"{shows.limits_in_words(one['low'], one['high'])}, {one['clause']}",
            )
        else:
            most, clause = f"at most {one['high']:.6g} Pa", one["clause"]
            value = printing.minus(f"{one['value']:.6g} ± {one['expanded_uncertainty']:.4g} Pa")
            yield WorkingLine(one["name"].capitalize(), most, value, clause)
    yield from shows.decision(judgement)
