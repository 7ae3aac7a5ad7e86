"""Ventilation rate: the outdoor air that the rooms ask for, beside the designed and the measured. For information.

A designer's check, never a verdict: whether the minimum is met is the matter of `ventilation_minimum`. All three are
standard air here, since the rates are.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block, Column, Sentence, Table, Working, WorkingLine
from commissioning.dossier import printing, shows, ventilation_need
from commissioning.dossier.results import Absence, Judgement, Measurement
from commissioning.dossier.ventilation_need import Need, RoomNeed, need_of
from commissioning.dossier.view import View
from commissioning.engineering import units

CODE = "ventilation_rate"
TITLE = "Ventilation rate"
VERSION = 1
PRIORITY = "code"
RECIRCULATES = 0.95  # outdoor over supply design; below it some of the supply is return air


def judge(view: View) -> Iterator[Judgement]:
    need = need_of(view.place)
    if need.rooms or need.incomplete:
        yield _judge(view, "outdoor" if "outdoor" in view.ports else "supply", need)


def _judge(view: View, port: str, need: Need) -> Judgement:
    if not view.place.is_counted:
        return Judgement(CODE, port, VERSION, absence=view.not_counted())
    if need.airflow_m3_s is None:
        text = f"A designer's check. People, area or rates are missing of {', '.join(need.incomplete)}."
        return Judgement(CODE, port, VERSION, absence=Absence("not_given", text))
    ground = view.ground(port)
    final = ground if isinstance(ground, Measurement) else None
    flows = _flows(view, port, need.airflow_m3_s, final)
    return Judgement(
        CODE,
        port,
        VERSION,
        absence=Absence("not_given", _text(flows, view.conventions.display)),
        value=need.airflow_m3_s,
        unit="m3/s",
        clause=ventilation_need.SOURCE,
        rests_on=(final.envelope,) if final else (),
        facts={
            "side_by_side": flows,
            "rooms": [_told(room) for room in need.rooms],
            "recirculates": _recirculates(view),
        },
    )


def _flows(view: View, port: str, required_m3_s: float, final: Measurement | None) -> dict[str, Any]:
    """All of standard air: an actual design is carried over by the density of the measurement, or not known."""
    design = view.place.ports.get(port)
    designed = design.airflow_m3_s if design else None
    if final is None:
        stated = design.basis if design and design.basis != "not_stated" else view.conventions.basis_when_not_stated
        return ventilation_need.side_by_side(required_m3_s, designed if stated == "standard" else None, None)
    to_standard = 1.0 if final.basis == "standard" else final.density_kg_m3 / final.standard_density_kg_m3
    return ventilation_need.side_by_side(
        required_m3_s,
        None if designed is None else designed * to_standard,
        final.airflow_m3_s * to_standard,
        final.expanded_uncertainty_m3_s * to_standard,
    )


def _recirculates(view: View) -> bool:
    outdoor, supply = (view.place.ports.get(port) for port in ("outdoor", "supply"))
    if not (outdoor and supply and outdoor.airflow_m3_s and supply.airflow_m3_s):
        return False
    return outdoor.airflow_m3_s < RECIRCULATES * supply.airflow_m3_s


def _text(flows: Mapping[str, Any], display: str) -> str:
    unit = printing.airflow_unit(display)

    def said(name: str) -> str:
        return "not known" if flows[name] is None else f"{printing.airflow(flows[name], display)} {unit}"

    return (
        "The contract makes it no criterion: a designer's check. For information, of standard air: the rooms ask for "
        f"{said('required_m3_s')}, designed {said('design_m3_s')}, measured {said('measured_m3_s')}."
    )


def _told(room: RoomNeed) -> dict[str, Any]:
    return {
        "name": room.name,
        "people": room.people,
        "area_m2": room.area_m2,
        "people_rate_m3_s": room.people_rate_m3_s,
        "area_rate_m3_s_m2": room.area_rate_m3_s_m2,
        "effectiveness": room.effectiveness,
        "airflow_m3_s": room.airflow_m3_s,
    }


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    absent = shows.absent(judgement, TITLE)
    facts = judgement["facts"]
    if not facts:
        return absent
    note = (
        (Sentence("Some of the supply is return air, so the system needs more than this sum (62.1, 6.2.4).", "aside"),)
        if facts["recirculates"]
        else ()
    )
    total = f"{printing.airflow_exact(judgement['value'], display)} {printing.airflow_unit(display)}"
    lines = (
        WorkingLine("Breathing zone", "V_bz = R_p P_z + R_a A_z", "by room, below", judgement["clause"]),
        WorkingLine("Zone", "V_oz = V_bz / E_z", "by room, below", "ASHRAE 62.1, 6.2.1.3"),
        WorkingLine("Unit of outdoor air alone", "V_ot = ΣV_oz", total, "ASHRAE 62.1, 6.2.3, from memory"),
    )
    return (
        *absent,
        ventilation_need.table(facts["side_by_side"], "by the rooms", display),
        *note,
        Working(lines, TITLE),
        _rooms(facts["rooms"], display),
    )


def _rooms(rooms: list[Mapping[str, Any]], display: str) -> Table:
    area, per_area = ("ft2", "cfm/ft2") if display == "ip" else ("m2", "L/s/m2")
    flow = "cfm" if display == "ip" else "L/s"

    def printed(value: float, code: str) -> str:
        return f"{float(units.from_si(value, code)):.3g}"

    columns = (
        Column("Room"),
        Column("People P_z", "", "right"),
        Column("Area A_z", units.unit(area).label, "right"),
        Column("R_p", f"{flow} a person", "right"),
        Column("R_a", units.unit(per_area).label, "right"),
        Column("E_z", "", "right"),
        Column("V_oz", flow, "right"),
    )
    rows = tuple(
        (
            room["name"],
            f"{room['people']:g}",
            f"{float(units.from_si(room['area_m2'], area)):,.0f}",
            printed(room["people_rate_m3_s"], flow),
            printed(room["area_rate_m3_s_m2"], per_area),
            f"{room['effectiveness']:g}",
            printing.airflow_exact(room["airflow_m3_s"], display),
        )
        for room in rooms
    )
    return Table(columns, rows, "What each room asks for")
