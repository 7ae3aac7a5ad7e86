"""A record of outlets opened: each outlet with its readings, the sums, the working of each port's, what to set next."""

from collections.abc import Mapping
from typing import Any

from commissioning.blocks import Block, Column, Sentence, Table
from commissioning.dossier import balancing_advice, printing
from commissioning.dossier.figure_shows import read_with, working
from commissioning.dossier.outlet_readings import AIRFLOW
from commissioning.dossier.shows import PORTS, airflow_with_uncertainty

_METHODS = {"hood": "capture hood", "direct": "direct reading"}
_NOT_READ = {"closed": "closed", "blocked": "blocked", "no_access": "no access"}
_OF = {"port": "port", "branch": "branch", "room": "room"}


def headline(measurement: Mapping[str, Any], display: str) -> str:
    rows = measurement["facts"]["outlets"]
    read = sum(row["state"] == "read" for row in rows)
    figures = {(one["name"], one["at"]): one for one in measurement["figures"]}
    sums = [one for one in measurement["facts"]["sums"] if one["of"] == "port"]
    told = "; ".join(
        f"{one['port']} {_printed(figures['port_sum', one['at']], display)}"
        for one in sums
        if one["unknown"] < one["outlets"]
    )
    return f"{read} of {len(rows)} outlets read{': ' if told else ''}{told}"


def show(measurement: Mapping[str, Any], display: str) -> tuple[Block, ...]:
    facts = measurement["facts"]
    figures = {(one["name"], one["at"]): one for one in measurement["figures"]}
    stage = f"{measurement['stage']}, session {measurement['session']}, {printing.moment(measurement['observed_at'])}"
    blocks: list[Block] = [
        Sentence(f"{headline(measurement, display)}; by {_METHODS[measurement['method']]}, {stage}."),
        _outlets(facts["outlets"], figures, display),
        _sums(facts["sums"], figures, display),
        read_with(measurement, none="none named"),
    ]
    for one in facts["sums"]:
        if one["of"] == "port":
            figure = figures["port_sum", one["at"]]
            blocks += working(figure, f"{PORTS[one['port']]}, sum of the outlets", _printed(figure, display))
    if measurement["stage"] == "preliminary":  # of finals the requirement says what is still to be set
        blocks += balancing_advice.show(facts["advice"], display)
    blocks += [Sentence(remark, "aside") for remark in measurement["remarks"]]
    return tuple(blocks)


def _printed(figure: Mapping[str, Any], display: str) -> str:
    return airflow_with_uncertainty(figure["value"], figure["expanded_uncertainty"] or 0.0, display)


def _outlets(rows: list[dict[str, Any]], figures: Mapping[tuple[str, str], Any], display: str) -> Table:
    unit = printing.airflow_unit(display)
    printed = tuple(_row(row, figures.get((AIRFLOW, row["name"])), display) for row in rows)
    columns = (
        Column("Outlet"),
        Column("Port"),
        Column("Branch"),
        Column("Room"),
        Column("Device"),
        Column("Readings"),
        Column("Factor", "", "right"),
        Column("Airflow", unit, "right"),
        Column("±", unit, "right"),
        Column("Design", unit, "right"),
        Column("Of design", "", "right"),
        Column("Damper, or why not read"),
    )
    return Table(columns, printed, "Outlets, on the design's air basis")


def _row(row: Mapping[str, Any], figure: Mapping[str, Any] | None, display: str) -> tuple[str, ...]:
    design = row["design_m3_s"]
    designed = "not given" if design is None else printing.airflow_designed(design, display)
    where = (row["name"], row["port"], row["branch"], row["room"], row["device"])
    if figure is None:
        return (*where, "", "", "", "", designed, "", f"{_NOT_READ[row['state']]}: {row['reason']}")
    inputs = dict(figure["inputs"])
    return (
        *where,
        printing.typeset(inputs["readings"]),
        inputs["factor"],
        printing.airflow(figure["value"], display),
        printing.airflow_uncertainty(figure["expanded_uncertainty"], display),
        designed,
        printing.percent(figure["value"] / design) if design else "",
        "; ".join([*([row["setting"]] if row["setting"] else []), *figure["doubts"]]),
    )


def _sums(sums: list[dict[str, Any]], figures: Mapping[tuple[str, str], Any], display: str) -> Table:
    unit = printing.airflow_unit(display)
    rows = []
    for one in sums:
        figure = figures[f"{one['of']}_sum", one["at"]]
        design = one["design_m3_s"]
        rows.append(
            (
                _OF[one["of"]],
                f"{one['port']} {one['name']}".strip(),
                str(one["outlets"]),
                printing.airflow(figure["value"], display),
                printing.airflow_uncertainty(figure["expanded_uncertainty"] or 0.0, display),
                "not given" if design is None else printing.airflow_designed(design, display),
                printing.percent(figure["value"] / design) if design else "",
                "; ".join(figure["doubts"]),
            )
        )
    columns = (
        Column("Sum of"),
        Column("Which"),
        Column("Outlets", "", "right"),
        Column("Airflow", unit, "right"),
        Column("±", unit, "right"),
        Column("Design", unit, "right"),
        Column("Of design", "", "right"),
        Column("Remark"),
    )
    return Table(columns, tuple(rows), "Sums")
