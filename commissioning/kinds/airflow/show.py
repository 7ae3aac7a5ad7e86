"""A measurement opened down to its readings: inputs, equation, correction, uncertainty budget, instrument."""

from collections.abc import Mapping
from typing import Any

from commissioning.blocks import Block, Column, Sentence, Table, Working, WorkingLine
from commissioning.dossier import printing
from commissioning.dossier.shows import CALIBRATIONS, GRADES, METHODS, PORTS, airflow_with_uncertainty


def headline(measurement: Mapping[str, Any], display: str) -> str:
    return airflow_with_uncertainty(measurement["airflow_m3_s"], measurement["expanded_uncertainty_m3_s"], display)


def show(measurement: Mapping[str, Any], display: str) -> tuple[Block, ...]:
    printed = headline(measurement, display)
    stage = f"{measurement['stage']}, session {measurement['session']}"
    return (
        Sentence(
            f"{PORTS[measurement['port']]} {printed} by {METHODS[measurement['method']]}, "
            f"{GRADES[measurement['grade']]}; {stage}, {printing.moment(measurement['observed_at'])}."
        ),
        Working(_lines(measurement, display), "From the readings to the airflow"),
        _budget(measurement, display),
        *(Sentence(f"Not judged: {doubt}.") for doubt in measurement.get("doubts", ())),
        *(Sentence(remark, "aside") for remark in measurement["remarks"]),
    )


def _lines(m: Mapping[str, Any], display: str) -> tuple[WorkingLine, ...]:
    unit = printing.airflow_unit(display)
    first, *further = m.get("instruments") or [m["instrument"] or "none: the value is reported"]
    lines = [WorkingLine(label[0].upper() + label[1:], "", printing.typeset(value)) for label, value in m["inputs"]]
    lines.append(
        WorkingLine("Instrument", "", first, f"calibration {CALIBRATIONS[m['calibration']]} {m['certificate']}".strip())
    )
    lines += [WorkingLine("Further instrument", "", one) for one in further]
    lines.append(
        WorkingLine(
            "Actual airflow", m["equation"], f"{printing.airflow_exact(m['actual_airflow_m3_s'], display)} {unit}"
        )
    )
    standard = printing.density(m["standard_density_kg_m3"], display)
    if m["basis"] == "standard":
        correction = WorkingLine(
            "Standard airflow",
            f"q ρ / ρ_s, ρ_s = {standard}",
            f"{printing.airflow_exact(m['airflow_m3_s'], display)} {unit}",
            "conservation of mass",
        )
    else:
        correction = WorkingLine(
            "On the design's basis",
            "actual air: no correction",
            f"{printing.airflow_exact(m['airflow_m3_s'], display)} {unit}",
        )
    lines.append(correction)
    freedom = printing.freedom(m["degrees_of_freedom"])
    lines += [
        WorkingLine(
            "Standard uncertainty",
            "u_c, of the budget below",
            f"{printing.airflow_exact(m['standard_uncertainty_m3_s'], display)} {unit}",
            "JCGM 100:2008, 5.2.2",
        ),
        WorkingLine(
            "Expanded uncertainty",
            f"U = k u_c, k = {m['coverage_factor']:.3f}, ν = {freedom}",
            f"{printing.airflow_exact(m['expanded_uncertainty_m3_s'], display)} {unit}",
            "JCGM 100:2008, 6.2",
        ),
    ]
    return tuple(lines)


def _budget(m: Mapping[str, Any], display: str) -> Table:
    rows = tuple(
        (
            part["name"],
            part["kind"],
            printing.airflow_exact(part["standard_uncertainty"], display),
            printing.percent(part["share"]),
            part["source"],
        )
        for part in m["budget"]
    )
    columns = (
        Column("Part"),
        Column("Type"),
        Column("Standard uncertainty", printing.airflow_unit(display), "right"),
        Column("Share of the variance", "", "right"),
        Column("Where it comes from"),
    )
    return Table(columns, rows, "Uncertainty budget")
