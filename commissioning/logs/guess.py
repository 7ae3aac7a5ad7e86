"""Which role a point's name hints at: a proposal that a person confirms, never a reading.

Names are parted into words; the first rule all of whose words stand in the name counts. Common abbreviations of
building systems, no source.
"""

import re
from dataclasses import dataclass

_RULES: tuple[tuple[str, str], ...] = (
    ("supply_fan_status", "sf s|sf sts|sf status|supply fan status|supply fan proof|saf status"),
    ("supply_fan_command", "sf c|sf ss|sf cmd|sf command|supply fan command|supply fan start|saf command"),
    ("supply_fan_speed_command", "sf spd|sf speed|sf vfd|supply fan speed|supply fan vfd"),
    ("exhaust_fan_status", "ef s|ef sts|ef status|exhaust fan status|exhaust fan proof"),
    ("exhaust_fan_command", "ef c|ef ss|ef cmd|ef command|exhaust fan command|exhaust fan start"),
    ("exhaust_fan_speed_command", "ef spd|ef speed|ef vfd|exhaust fan speed|exhaust fan vfd"),
    ("supply_temperature_setpoint", "sat sp|sat setpoint|sat stpt|supply temperature setpoint|supply temp sp|dat sp"),
    ("supply_temperature", "sat|dat|supply temp|supply temperature|supply air temperature|discharge temp"),
    ("outdoor_temperature", "oat|outdoor temp|outside temp|outdoor temperature|outside air temperature"),
    ("return_temperature", "rat|return temp|return temperature|return air temperature"),
    ("exhaust_temperature", "eat|exhaust temp|exhaust temperature|exhaust air temperature"),
    ("co2_setpoint", "co2 sp|co2 setpoint|co2 stpt"),
    ("return_co2", "return co2|ra co2"),
    ("room_co2", "co2"),
    ("duct_static_pressure_setpoint", "dsp sp|dsp setpoint|static pressure setpoint|static sp|dsp stpt"),
    ("duct_static_pressure", "dsp|duct static|static pressure"),
    ("building_pressure", "bsp|building pressure|bldg pressure"),
    ("supply_airflow_setpoint", "supply airflow setpoint|sa cfm sp|supply flow sp"),
    ("supply_airflow", "sa cfm|saf|supply cfm|supply airflow|supply flow|sa flow"),
    ("exhaust_airflow", "ea cfm|eaf|exhaust cfm|exhaust airflow|exhaust flow|ea flow"),
    ("outdoor_airflow", "oa cfm|oaf|oa flow|outdoor airflow|outside airflow"),
    ("outdoor_damper_position", "oad pos|oad position|oa damper position|outdoor damper position|oa dmpr pos"),
    ("outdoor_damper_command", "oad|oa damper|outdoor damper|outside air damper|oa dmpr"),
    ("exhaust_damper_command", "ead|exhaust damper|ea damper"),
    ("bypass_position", "bypass position|bypass pos|byp pos"),
    ("bypass_command", "bypass|byp"),
    ("heating_valve", "htg|hw valve|heating valve|heating output|reheat|heat valve|hwv"),
    ("cooling_valve", "clg|chw valve|cooling valve|cooling output|cool valve|chwv"),
    ("low_temperature_trip", "freezestat|freeze stat|low limit|fz"),
    ("frost_state", "frost|defrost active"),
    ("smoke_state", "smoke|fire alarm"),
    ("occupied", "occ|occupied|occupancy schedule"),
    ("supply_filter_pressure_drop", "filter dp|supply filter"),
    ("room_temperature_setpoint", "zone temp sp|room temp sp|space temp sp"),
    ("room_temperature", "zone temp|room temp|space temp|znt|room temperature|zone temperature"),
    ("room_humidity", "room rh|zone rh|space rh"),
    ("return_humidity", "return rh|ra rh"),
    ("outdoor_humidity", "oa rh|outdoor rh|outside rh"),
    ("enable", "enable|enabled|unit enable"),
)


@dataclass(frozen=True, slots=True)
class _Rule:
    role: str
    words: frozenset[str]


def _rules() -> tuple[_Rule, ...]:
    made = [_Rule(role, frozenset(one.split())) for role, said in _RULES for one in said.split("|")]
    order = {role: number for number, (role, _) in enumerate(_RULES)}
    return tuple(sorted(made, key=lambda rule: (-len(rule.words), order[rule.role])))


_SORTED = _rules()


def guess_role(name: str) -> str:
    """
    >>> guess_role("ERV-2 SF-S"), guess_role("B1.AHU3.SAT (°F)"), guess_role("SupplyAirTemperature"), guess_role("x")
    ('supply_fan_status', 'supply_temperature', 'supply_temperature', '')
    """
    parted = re.sub(r"([a-z])([A-Z])", r"\1 \2", re.sub(r"[(\[{].*$", "", name))
    words = {re.sub(r"(?<=[a-z])\d+$", "", word) or word for word in re.split(r"[^a-z0-9]+", parted.casefold())}
    words |= set(re.split(r"[^a-z0-9]+", parted.casefold()))
    return next((rule.role for rule in _SORTED if rule.words <= words), "")
