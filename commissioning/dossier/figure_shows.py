"""Figures opened down to their readings: inputs, equation, budget, source. For the pages of every kind but airflow."""

from collections.abc import Mapping
from typing import Any

from commissioning.blocks import Block, Column, Sentence, Table, Working, WorkingLine
from commissioning.dossier import printing
from commissioning.dossier.shows import CALIBRATIONS

BUDGET = "Uncertainty budget"


def working(figure: Mapping[str, Any], title: str, printed: str) -> tuple[Block, ...]:
    """The arithmetic of one figure and its uncertainty budget; `printed` is its value as the trade prints it."""
    lines = [
        WorkingLine(label[:1].upper() + label[1:], "", printing.typeset(value)) for label, value in figure["inputs"]
    ]
    lines.append(WorkingLine("Result", figure["equation"], printed, figure["source"]))
    if figure["standard_uncertainty"] is None:
        return (Working(tuple(lines), title), *_doubts(figure))
    freedom = printing.freedom(figure["degrees_of_freedom"])
    label = printing.unit_label(figure["unit"])
    unit = f" {label}" if label else ""
    lines += [
        WorkingLine(
            "Standard uncertainty",
            "u_c, of the budget below",
            f"{printing.two_digits(figure['standard_uncertainty'])}{unit}",
            "JCGM 100:2008, 5.2.2",
        ),
        WorkingLine(
            "Expanded uncertainty",
            f"U = k u_c, k = {figure['coverage_factor']:.3f}, ν = {freedom}",
            f"{printing.two_digits(figure['expanded_uncertainty'])}{unit}",
            "JCGM 100:2008, 6.2",
        ),
    ]
    return (Working(tuple(lines), title), *_budget(figure), *_doubts(figure))


def read_with(measurement: Mapping[str, Any], *, none: str) -> Working:
    """The instruments, each with its own calibration; `none` says what stands for them where there is none."""
    names = measurement["instruments"]
    worst = [measurement["calibration"], measurement["certificate"]]
    own = measurement["facts"].get("calibrations", [worst] * len(names))
    lines = tuple(
        WorkingLine("Instrument", "", name, f"calibration {CALIBRATIONS[state]} {certificate}".strip())
        for name, (state, certificate) in zip(names, own, strict=True)
    )
    return Working(lines or (WorkingLine("Instrument", "", none),), "Read with")


def _budget(figure: Mapping[str, Any]) -> tuple[Block, ...]:
    rows = tuple(
        (
            part["name"],
            part["kind"],
            printing.two_digits(part["standard_uncertainty"]),
            printing.percent(part["share"]),
            part["source"],
        )
        for part in figure["budget"]
    )
    columns = (
        Column("Part"),
        Column("Type"),
        Column("Standard uncertainty", printing.unit_label(figure["unit"]), "right"),
        Column("Share of the variance", "", "right"),
        Column("Where it comes from"),
    )
    return (Table(columns, rows, BUDGET),)


def _doubts(figure: Mapping[str, Any]) -> tuple[Block, ...]:
    return tuple(Sentence(f"Not judged: {doubt}.") for doubt in figure["doubts"])
