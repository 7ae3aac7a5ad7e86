"""CO2 reset: away from the design maximum, a port delivers what its reset line asks for at the CO2 of that moment.

The loop goes by its own sensor. Where what the controller shows was recorded beside a reading of ours, the line is
entered at the controller's and the sensor's error is known; else it is entered at ours, and what an allowed error of
the sensor would do is printed.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block, Working, WorkingLine
from commissioning.dossier import printing, shows
from commissioning.dossier.quantities import si
from commissioning.dossier.results import Absence, Judgement, Measurement
from commissioning.dossier.view import View
from commissioning.engineering import co2_control
from commissioning.engineering.co2_control import ResetLine
from commissioning.engineering.conformity import Verdict
from commissioning.engineering.uncertainty import Component, combine

CODE = "co2_reset"
TITLE = "CO2 reset"
VERSION = 1
PRIORITY = "code"
MODES = ("other", "minimum")
ALLOWED_ERROR = 75e-6
ALLOWED_SOURCE = "±75 ppm: California Title 24, 120.1 (from memory)"
OUTDOOR = co2_control.OUTDOOR_CO2_NOT_MEASURED
LEAST_RISE = 50e-6
_STEPS = (
    "Sensor: the controller's CO2 against a calibrated one beside it, after ten steady minutes.",
    "Line: low and high CO2 and their airflows in the controller against the design.",
    "Damper and fan: do they reach what the controller asks for at this moment?",
)


def judge(view: View) -> Iterator[Judgement]:
    for port, design in view.place.parts("ports").items():
        if design.get("co2_reset"):
            yield _judge(view, port, design["co2_reset"])


def line_of(given: Mapping[str, Any]) -> ResetLine:
    return ResetLine(
        low_co2=si(given["low_co2"]),
        high_co2=si(given["high_co2"]),
        airflow_at_low_m3_s=si(given["airflow_at_low"]),
        airflow_at_high_m3_s=si(given["airflow_at_high"]),
    )


def _judge(view: View, port: str, given: Mapping[str, Any]) -> Judgement:
    ground = view.ground(port, MODES)
    if isinstance(ground, Absence):
        return _absent(port, ground)
    if "co2" not in ground.facts:
        return _absent(port, Absence("not_due", "No CO2 was read with the final away from the design maximum."))
    line, told = line_of(given), ground.facts["co2"]
    seen = told["value"] if told["controller"] is None else told["controller"]
    expected = float(co2_control.reset_airflow_m3_s(line=line, co2=seen))
    if expected <= 0.0:
        return _absent(port, Absence("not_judged", "At this CO2 the line asks for no air: nothing to compare with."))
    return _compare(view, ground, given, line, expected)


def _absent(port: str, absence: Absence) -> Judgement:
    return Judgement(CODE, port, VERSION, absence=absence)


def _compare(
    view: View, final: Measurement, given: Mapping[str, Any], line: ResetLine, expected_m3_s: float
) -> Judgement:
    told, conventions = final.facts["co2"], view.conventions
    design = view.place.ports.get(final.port)
    tolerance = (design.tolerance if design else None) or conventions.default_tolerance
    parts = [
        Component("airflow", final.standard_uncertainty_m3_s, 1.0 / expected_m3_s),
        Component("CO2 on the line", _of_reading(line, told), final.airflow_m3_s / expected_m3_s**2),
    ]
    budget = combine(parts, coverage_probability=conventions.coverage_probability)
    deviation = final.airflow_m3_s / expected_m3_s - 1.0
    assessment = conventions.assess(
        value=deviation,
        standard_uncertainty=budget.standard_uncertainty,
        expanded_uncertainty=budget.expanded_uncertainty,
        limits=tolerance.limits,
    )
    return Judgement(
        CODE,
        final.port,
        VERSION,
        verdict=assessment.verdict,
        provisional=view.is_provisional(final),
        value=deviation,
        expanded_uncertainty=budget.expanded_uncertainty,
        unit="1",
        low=tolerance.low,
        high=tolerance.high,
        clause=given.get("clause") or tolerance.clause,
        rule=str(conventions.decision_rule),
        margin=assessment.margin,
        conformance_probability=assessment.conformance_probability,
        rests_on=(final.envelope,),
        sources=dict(design.sources) if design else {},
        facts={
            "mode": final.mode,
            "measured_m3_s": final.airflow_m3_s,
            "expanded_uncertainty_m3_s": final.expanded_uncertainty_m3_s,
            "expected_m3_s": expected_m3_s,
            "co2": told["value"],
            "controller_co2": told["controller"],
            "low_co2": line.low_co2,
            "high_co2": line.high_co2,
            "airflow_at_low_m3_s": line.airflow_at_low_m3_s,
            "airflow_at_high_m3_s": line.airflow_at_high_m3_s,
            "sensor": _sensor(line, final),
            "guard_multiplier": conventions.guard_multiplier,
        },
        look_next=() if assessment.verdict is Verdict.CONFORMS else _STEPS,
    )


def _of_reading(line: ResetLine, told: Mapping[str, Any]) -> float:
    """What the uncertainty of our CO2 does on the line; a controller's own display enters it as it is."""
    if told["controller"] is not None:
        return 0.0
    wide = told["standard_uncertainty"]
    ends = [
        float(co2_control.reset_airflow_m3_s(line=line, co2=min(max(told["value"] + step, 0.0), 0.02)))
        for step in (-wide, wide)
    ]
    return abs(ends[1] - ends[0]) / 2.0


def _sensor(line: ResetLine, final: Measurement) -> dict[str, Any]:
    """The sensor's error, found or allowed, and what it does: at once, and after the loop has settled."""
    told = final.facts["co2"]
    found = None if told["controller"] is None else told["controller"] - told["value"]
    low, high = co2_control.SENSOR_ERROR_RANGE
    error = ALLOWED_ERROR if found is None else min(max(found, low), high)
    at_once = float(co2_control.airflow_error_m3_s(line=line, co2=told["value"], sensor_error=error))
    return {
        "error": error,
        "is_found": found is not None,
        "at_once_m3_s": at_once,
        "settled_share": _settled(line, final, error),
    }


def _settled(line: ResetLine, final: Measurement, error: float) -> float | None:
    """Relative change of the airflow once CO2 has answered, for the people who were there; None where not known."""
    generation = final.airflow_m3_s * (final.facts["co2"]["value"] - OUTDOOR)
    rises = line.airflow_at_high_m3_s > line.airflow_at_low_m3_s
    if not rises or generation <= final.airflow_m3_s * LEAST_RISE or generation > 1.0:
        return None
    effect = co2_control.sensor_error_effect(
        line=line, generation_m3_s=generation, outdoor_co2=OUTDOOR, sensor_error=error
    )
    return effect.relative_airflow_change


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    absent = shows.absent(judgement, TITLE)
    if absent:
        return absent
    facts, unit = judgement["facts"], printing.airflow_unit(display)
    printed = shows.airflow_with_uncertainty(facts["measured_m3_s"], facts["expanded_uncertainty_m3_s"], display)
    off = printing.percent_beside_limits(judgement["value"], (judgement["low"], judgement["high"]))
    seen = facts["co2"] if facts["controller_co2"] is None else facts["controller_co2"]
    asked = f"{printing.airflow(facts['expected_m3_s'], display)} {unit} by the line at {_ppm(seen)}"
    return (
        shows.lead(judgement, f"{shows.port_of(judgement)}: {printed} against {asked}, {off}."),
        Working(_lines(judgement, display), TITLE),
        *shows.next_steps(judgement),
    )


def _lines(judgement: Mapping[str, Any], display: str) -> tuple[WorkingLine, ...]:
    facts, unit = judgement["facts"], printing.airflow_unit(display)

    def flow(name: str) -> str:
        return f"{printing.airflow_exact(facts[name], display)} {unit}"

    ends = (
        f"{flow('airflow_at_low_m3_s')} at {_ppm(facts['low_co2'])}, "
        f"{flow('airflow_at_high_m3_s')} at {_ppm(facts['high_co2'])}"
    )
    lines = [WorkingLine("Reset line", "level, straight, level", ends, judgement["clause"])]
    lines.append(WorkingLine("CO2, read by us", "C", _ppm(facts["co2"]), facts["mode"].replace("_", " ")))
    if facts["controller_co2"] is not None:
        lines.append(WorkingLine("CO2, as the controller shows it", "C_s", _ppm(facts["controller_co2"])))
    lines += [
        WorkingLine("Asked for by the line", "q(C_s), or q(C) where it was not read", flow("expected_m3_s")),
        WorkingLine("Measured", "q", flow("measured_m3_s")),
        *_sensor_lines(facts["sensor"], display),
        WorkingLine("Deviation", "(q - q_line) / q_line", printing.signed_percent(judgement["value"], 2)),
        WorkingLine("Limits", "", shows.limits_in_words(judgement["low"], judgement["high"]), judgement["clause"]),
        WorkingLine(
            "Expanded uncertainty", "U, of airflow and CO2", f"\u00b1{100 * judgement['expanded_uncertainty']:.2f} %"
        ),
    ]
    return (*lines, *shows.decision(judgement))


def _sensor_lines(sensor: Mapping[str, Any], display: str) -> tuple[WorkingLine, ...]:
    error = printing.minus(f"{1e6 * sensor['error']:+.0f} ppm")
    label = "Sensor's error, as found" if sensor["is_found"] else "Sensor's error, if it is the most allowed"
    change = printing.airflow_exact(sensor["at_once_m3_s"], display)
    rows = [
        WorkingLine(label, "e", error, "" if sensor["is_found"] else ALLOWED_SOURCE),
        WorkingLine(
            "What it changes at once", "q(C + e) - q(C)", f"{change} {printing.airflow_unit(display)}", "the line"
        ),
    ]
    if sensor["settled_share"] is not None:
        rows.append(
            WorkingLine(
                "After CO2 has answered",
                "k x² + A x - G = 0",
                printing.percent(sensor["settled_share"], signed=True),
                f"mass balance of one well-mixed space, {1e6 * OUTDOOR:.0f} ppm outdoors",
            )
        )
    return tuple(rows)


def _ppm(mole_fraction: float) -> str:
    return f"{1e6 * mole_fraction:,.0f} ppm"
