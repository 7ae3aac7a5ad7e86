"""Motors opened down to their readings. The caution stands first: whoever reads again reads on live parts."""

from collections.abc import Mapping
from typing import Any

from commissioning.blocks import Block, Column, Sentence, Table, Working, WorkingLine
from commissioning.dossier import printing
from commissioning.dossier.figure_shows import read_with, working
from commissioning.dossier.motor import LIVE_PARTS, Motor
from commissioning.dossier.motor_shows import WORDS, amps, printed, volts
from commissioning.dossier.shows import GRADES

_ROTATION = {
    "correct": "turns the right way",
    "reversed": "turns the wrong way",
    "not_seen": "nobody saw which way it turns",
}
_PROTECTION = {
    "relay": "overload relay",
    "drive": "overload protection in the drive",
    "in_the_motor": "overload protection inside the motor",
    "none": "no overload protection seen",
    "not_seen": "overload protection not looked at",
}
_READ_AT = {
    "motor": "Read at the motor's supply.",
    "drive_input": "Read on the drive's input: amps and power factor there differ from those of its output.",
    "drive_output": "Read on the drive's output, where its voltage is chopped and a plain meter misreads.",
}
_QUANTITIES = {
    "current_legs": "legs",
    "voltage_unbalance": "voltage unbalance",
    "current_unbalance": "current unbalance",
    "slip": "slip",
    "service_factor": "service factor",
    "overload_setting": "overload setting",
    "power": "power",
}


def headline(measurement: Mapping[str, Any], display: str) -> str:
    """
    >>> fan = {"rotation": "reversed"}
    >>> headline({"facts": {"fans": {"supply": fan}}, "figures": []}, "ip")
    'supply fan: turns the wrong way'
    """
    told = []
    for fan, facts in measurement["facts"]["fans"].items():
        current = next((one for one in measurement["figures"] if (one["name"], one["at"]) == ("current", fan)), None)
        parts = [amps(current["value"])] if current and not current["doubts"] else []
        if facts["rotation"] == "reversed" or not parts:
            parts.append(_ROTATION[facts["rotation"]])
        told.append(f"{fan} fan: {', '.join(parts)}")
    return "; ".join(told)


def show(measurement: Mapping[str, Any], display: str) -> tuple[Block, ...]:
    blocks: list[Block] = [
        LIVE_PARTS,
        Sentence(
            f"Motors, {GRADES[measurement['grade']]}; {measurement['stage']}, session {measurement['session']}, "
            f"{printing.moment(measurement['observed_at'])}."
        ),
    ]
    for fan, facts in measurement["facts"]["fans"].items():
        blocks += _fan(fan, facts, [one for one in measurement["figures"] if one["at"] == fan], display)
    blocks += [Sentence(remark, "aside") for remark in measurement["remarks"]]
    if measurement["instruments"]:
        blocks.append(read_with(measurement, none="none named"))
    return tuple(blocks)


def _fan(fan: str, facts: Mapping[str, Any], figures: list[Mapping[str, Any]], display: str) -> list[Block]:
    motor = Motor(**facts["motor"])
    what = f"{fan.capitalize()} fan, {motor.words}: {_ROTATION[facts['rotation']]}; {_PROTECTION[facts['protection']]}."
    blocks: list[Block] = [Sentence(f"{what} {_READ_AT[facts['read_at']]}")]
    rows = tuple((WORDS[one["name"]], printed(one, display), _how(one)) for one in figures)
    if rows:
        columns = (Column("Quantity"), Column("Value", "", "right"), Column("How"))
        blocks.append(Table(columns, rows, f"{fan.capitalize()} fan"))
    blocks += _nameplate(motor)
    blocks += [
        Sentence(f"Not applicable, {_QUANTITIES[name]}: {why}.", "aside")
        for name, why in facts["not_applicable"].items()
    ]
    for one in figures:
        blocks += working(one, f"{WORDS[one['name']]}, {fan} fan", printed(one, display))
    return blocks


def _how(figure: Mapping[str, Any]) -> str:
    return "; ".join([figure["equation"], *(f"not judged: {doubt}" for doubt in figure["doubts"])])


def _nameplate(motor: Motor) -> list[Block]:
    known = {
        "current_a": amps(motor.current_a) if motor.current_a else "",
        "voltage_v": volts(motor.voltage_v) if motor.voltage_v else "",
        "phases": str(motor.phases or ""),
        "service_factor": f"{motor.service_factor:g}, counted {motor.counted_service_factor:g}",
    }
    words = {"current_a": "Current", "voltage_v": "Voltage", "phases": "Phases", "service_factor": "Service factor"}
    lines = tuple(
        WorkingLine(words[name], "", value, motor.sources.get(name, "")) for name, value in known.items() if value
    )
    return [Working(lines, "Its nameplate")]
