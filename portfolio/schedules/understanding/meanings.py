"""The closed list of what a column can mean, and how its cells are read."""

from dataclasses import dataclass

from portfolio.schedules.understanding.result import FANS, PORTS

TEXT = "text"
NUMBER = "number"
MAX_MIN = "maximum and minimum"
ELECTRICAL = "volts, phases, hertz"

IGNORE = "ignore"


@dataclass(frozen=True, slots=True)
class Meaning:
    """One meaning of a column.

    Attributes:
        code: what is stored and chosen, e.g. 'supply.airflow', 'fan.exhaust.motor_power', 'location'.
        label: the same in words.
        form: how a cell is read: one of TEXT, NUMBER, MAX_MIN, ELECTRICAL.
        quantity: what the number measures, as the unit table calls it; '' for text and counts.
        unit: the unit where none need be written (hertz are hertz), else ''.
        by_kind: the port or fan is not said; the kind of unit in the row decides.
    """

    code: str
    label: str
    form: str
    quantity: str = ""
    unit: str = ""
    by_kind: bool = False


# field -> (words, form, quantity, unit that goes without saying)
_PORT_FIELDS = {
    "airflow": ("airflow", NUMBER, "airflow", ""),
    "minimum": ("minimum airflow", NUMBER, "airflow", ""),
    "airflow_and_minimum": ("airflow, maximum / minimum", MAX_MIN, "airflow", ""),
    "minimum_and_airflow": ("airflow, minimum / maximum", MAX_MIN, "airflow", ""),
    "static_pressure": ("external static pressure", NUMBER, "pressure", ""),
    "total_static_pressure": ("total static pressure", NUMBER, "pressure", ""),
}
_FAN_FIELDS = {
    "motor_power": ("motor power", NUMBER, "power", ""),
    "brake_power": ("power at the shaft", NUMBER, "power", ""),
    "speed": ("fan speed", NUMBER, "rotational speed", "rpm"),
    "max_speed": ("highest fan speed", NUMBER, "rotational speed", "rpm"),
    "motor_speed": ("motor speed", NUMBER, "rotational speed", "rpm"),
    "volts": ("volts", NUMBER, "voltage", "V"),
    "phases": ("phases", NUMBER, "", "1"),
    "hertz": ("hertz", NUMBER, "frequency", "Hz"),
    "amps": ("nameplate amperes", NUMBER, "current", "A"),
    "service_factor": ("service factor", NUMBER, "", "1"),
    "motors": ("number of motors", NUMBER, "", "1"),
    "electrical": ("volts / phases / hertz", ELECTRICAL, "", ""),
    "drive": ("drive", TEXT, "", ""),
    "motor_type": ("motor type", TEXT, "", ""),
    "variable_speed": ("variable speed drive", TEXT, "", ""),
}
_UNIT_FIELDS = {
    "volts": ("volts of the unit", NUMBER, "voltage", "V"),
    "phases": ("phases of the unit", NUMBER, "", "1"),
    "hertz": ("hertz of the unit", NUMBER, "frequency", "Hz"),
    "amps": ("full-load amperes of the unit", NUMBER, "current", "A"),
    "minimum_circuit_amps": ("minimum circuit amperes", NUMBER, "current", "A"),
    "overcurrent_amps": ("overcurrent protection amperes", NUMBER, "current", "A"),
    "supply": ("volts / phases / hertz of the unit", ELECTRICAL, "", ""),
}
_EXCHANGER_FIELDS = {
    f"{part}{season}": (f"{part} effectiveness{words}", NUMBER, "ratio", "")
    for part in ("sensible", "latent", "total")
    for season, words in (("", ""), ("_summer", ", summer"), ("_winter", ", winter"))
} | {
    "eatr": ("exhaust air transfer ratio", NUMBER, "ratio", ""),
    "oacf": ("outdoor air correction factor", NUMBER, "ratio", "1"),
    "supply_pressure_drop": ("pressure drop, supply side", NUMBER, "pressure", ""),
    "exhaust_pressure_drop": ("pressure drop, exhaust side", NUMBER, "pressure", ""),
    "pressure_drop": ("pressure drop of the exchanger", NUMBER, "pressure", ""),
}
_TEXTS = {
    "tag": "tag",
    "type": "type",
    "quantity": "number of units",
    "kind": "kind of unit",
    "location": "location",
    "serves": "space or system served",
    "building": "building",
    "manufacturer": "maker",
    "model": "model",
    "maker_and_model": "maker and model",
    "remarks": "remarks",
    "notes": "notes cited",
    "scope": "scope",
    "unit.options": "options of the unit",
    "unit.field_sensors": "field sensors of the unit",
    IGNORE: "left out",
}


def _all() -> dict[str, Meaning]:
    found = [Meaning(code, label, TEXT) for code, label in _TEXTS.items()]
    for port in ("", *PORTS):
        for name, (words, form, quantity, unit) in _PORT_FIELDS.items():
            code = f"{port}.{name}" if port else name
            found.append(Meaning(code, f"{port} {words}".strip(), form, quantity, unit, not port))
    for fan in ("", *FANS):
        for name, (words, form, quantity, unit) in _FAN_FIELDS.items():
            code = f"fan.{fan}.{name}" if fan else f"fan.{name}"
            found.append(Meaning(code, f"{fan} fan, {words}".strip(), form, quantity, unit, not fan))
    for name, (words, form, quantity, unit) in _UNIT_FIELDS.items():
        found.append(Meaning(f"electrical.{name}", words, form, quantity, unit))
    for name, (words, form, quantity, unit) in _EXCHANGER_FIELDS.items():
        found.append(Meaning(f"exchanger.{name}", words, form, quantity, unit))
    return {meaning.code: meaning for meaning in found}


MEANINGS: dict[str, Meaning] = _all()


def meaning_choices() -> tuple[tuple[str, str], ...]:
    """Code and label of every meaning, for a form."""
    return tuple((meaning.code, meaning.label) for meaning in MEANINGS.values())
