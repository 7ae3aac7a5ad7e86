"""A row of a schedule as what a revision says about a position: only what it names, in the design's form."""

from typing import Any

from portfolio.schedules.understanding.equipment import OPTIONS, SENSORS, OwnWord, codes_in, is_none
from portfolio.schedules.understanding.result import DesignRow, FanDesign, PortDesign, Quantity, Written

# field of the row -> field of the design
_PORT_FIELDS = {"airflow": "airflow", "minimum": "minimum", "static_pressure": "static_pressure"}
_FAN_FIELDS = {
    "motor_power": "motor_power",
    "speed": "speed",
    "max_speed": "maximum_speed",
    "amps": "nameplate_current",
    "volts": "voltage",
}


def fields_of(row: DesignRow, *, partial: bool, own: tuple[OwnWord, ...] = ()) -> dict[str, Any]:
    """`{"ports": {...}, "fans": {...}}`. What a full schedule expressly leaves open becomes null: not given.

    A partial one touches nothing that it leaves open.
    """
    basis = row.air_basis.code.replace(" ", "_") if row.air_basis else None
    if partial and basis == "not_stated":
        basis = None  # it says nothing of the air, so it changes nothing of it
    ports = {name: _port(port, basis) for name, port in row.ports.items()}
    fans = {name: _fan(fan) for name, fan in row.fans.items()}
    if not partial:
        for path in row.not_given:
            group, _, field = path.rpartition(".")
            if group in ports and field in _PORT_FIELDS:
                ports[group].setdefault(_PORT_FIELDS[field], None)
    equipment = _equipment(row, partial=partial, own=own)
    return {
        "ports": {name: values for name, values in ports.items() if values},
        "fans": {name: values for name, values in fans.items() if values},
    } | ({"equipment": {"unit": equipment}} if equipment else {})


def cells_of(row: DesignRow) -> dict[str, str]:
    """Where each field of the entry is written, for people who want to see it: `supply airflow` -> `Sheet1!D7`."""
    cells = {}
    for name, port in row.ports.items():
        for source, field in _PORT_FIELDS.items():
            written: Quantity | None = getattr(port, source)
            if written is not None:
                cells[f"{name} {field}"] = str(written.at)
    for field in (OPTIONS, SENSORS) if row.equipment is not None else ():
        name = field.partition(".")[2]
        said: Written | None = getattr(row.equipment, name)
        if said is not None:
            cells[f"unit {name}"] = str(said.at)
    return cells


def _quantity(written: Quantity) -> dict[str, Any]:
    return {"value": written.value, "unit": written.unit}


def _port(port: PortDesign, basis: str | None) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for source, field in _PORT_FIELDS.items():
        written: Quantity | None = getattr(port, source)
        if written is not None:
            values[field] = _quantity(written)
    if "airflow" in values and basis is not None:
        values["basis"] = basis
    return values


def _fan(fan: FanDesign) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for source, field in _FAN_FIELDS.items():
        written: Quantity | None = getattr(fan, source)
        if written is not None:
            values[field] = _quantity(written)
    if fan.phases is not None:
        values["phases"] = int(fan.phases.value)
    if fan.service_factor is not None:
        values["service_factor"] = fan.service_factor.value
    if fan.variable_speed is not None:
        values["drive"] = _is_yes(fan.variable_speed.text)
    motor = " ".join(w.text.lower() for w in (fan.motor_type, fan.drive) if w is not None)
    if motor or fan.phases is not None:
        values["motor"] = _motor(motor, values.get("phases"))
    return values


def _equipment(row: DesignRow, *, partial: bool, own: tuple[OwnWord, ...]) -> dict[str, Any]:
    """The codes that a cell names. One with nothing but unknown words says nothing; `NONE` says that there are none.

    A belt in the column of the drive is an option too, where the schedule tells the options.
    """
    fields: dict[str, Any] = {}
    for field in (OPTIONS, SENSORS):
        name = field.partition(".")[2]
        written: Written | None = getattr(row.equipment, name) if row.equipment else None
        if written is not None:
            codes, strange = codes_in(field, written.text, own)
            if codes or (not strange and is_none(written.text)):
                fields[name] = list(codes)
        elif not partial and field in row.not_given:
            fields[name] = None
    belts = any("belt" in fan.drive.text.lower() for fan in row.fans.values() if fan.drive is not None)
    if belts and fields.get("options") is not None and "belt_drive" not in fields["options"]:
        fields["options"].append("belt_drive")
    return fields


def _is_yes(text: str) -> bool:
    """A column for a variable speed drive: `YES`, `VFD`, `INTEGRAL`, a tick; and not `NO`, `N/A`, `-`."""
    return text.strip().lower().rstrip(".") not in ("", "no", "n", "n/a", "na", "none", "-", "–", "—")


def _motor(said: str, phases: int | None) -> str:
    if "ecm" in said or "ec " in f"{said} " or "commutated" in said:
        return "electronically_commutated"
    return "three_phase" if phases == 3 else "single_phase"
