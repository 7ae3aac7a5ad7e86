"""What a unit has, as schedules word it: cells such as `bypass; OA damper` into the codes by which checks are chosen.

Common practice, no source. A word that is in no list decides nothing: it is told, and stays beside in the schedule.
"""

import re
from dataclasses import dataclass
from functools import lru_cache

from portfolio.schedules.understanding.memory import remembered
from portfolio.schedules.understanding.words import tokens_of

OPTIONS = "unit.options"
SENSORS = "unit.field_sensors"

_OPTION_WORDS = {
    "fixed_core": "FIXED CORE|FIXED EXCHANGER CORE|CORE|PLATE EXCHANGER|PLATE|FIXED PLATE|ENTHALPY CORE|PLATE CORE",
    "wheel": "WHEEL|EXCHANGER WHEEL|ENTHALPY WHEEL|ENERGY WHEEL|ENERGY RECOVERY WHEEL|HEAT WHEEL|ROTARY WHEEL",
    "bypass": "BYPASS|BYPASS DAMPER|EXCHANGER BYPASS|CORE BYPASS|WHEEL BYPASS|ECONOMIZER BYPASS|ECONOMISER BYPASS"
    "|BYPASS AROUND THE EXCHANGER|FACE AND BYPASS",
    "outdoor_damper": "OUTDOOR DAMPER|OUTDOOR AIR DAMPER|OA DAMPER|OSA DAMPER|INTAKE DAMPER|OUTSIDE AIR DAMPER"
    "|MOTORISED OUTDOOR AIR DAMPER|MOTORIZED OUTDOOR AIR DAMPER|MOTORIZED OA DAMPER|MOTORIZED INTAKE DAMPER",
    "exhaust_damper": "EXHAUST DAMPER|EXHAUST AIR DAMPER|EA DAMPER|RELIEF DAMPER|MOTORISED EXHAUST AIR DAMPER"
    "|MOTORIZED EXHAUST AIR DAMPER|MOTORIZED EXHAUST DAMPER|MOTORIZED EA DAMPER|DISCHARGE DAMPER",
    "return_damper": "RETURN DAMPER|RETURN AIR DAMPER|RA DAMPER|MIXING DAMPER|RECIRCULATION DAMPER"
    "|MOTORISED RETURN OR MIXING DAMPER|MOTORIZED RETURN DAMPER",
    "backdraft_damper": "BACKDRAFT DAMPER|BDD|GRAVITY DAMPER|BAROMETRIC DAMPER|BACK DRAFT DAMPER|BACKDRAUGHT DAMPER",
    "fire_smoke_dampers": "FIRE SMOKE DAMPERS|FIRE SMOKE DAMPER|FSD|FIRE DAMPER|FIRE DAMPERS|SMOKE DAMPER|SMOKE DAMPERS"
    "|FIRE OR SMOKE DAMPERS IN ITS DUCTS|COMBINATION FIRE SMOKE DAMPER",
    "belt_drive": "BELT DRIVE|BELT|BELT DRIVEN|BELT DRIVEN FAN|BELTS|V BELT DRIVE",
    "drain_pan": "DRAIN PAN|CONDENSATE PAN|CONDENSATE DRAIN|DRAIN",
    "overflow_switch": "OVERFLOW SWITCH|CONDENSATE SWITCH|FLOAT SWITCH|OVERFLOW SWITCH IN THE DRAIN PAN|PAN SWITCH",
    "water_coil": "WATER COIL|HOT WATER COIL|CHILLED WATER COIL|HW COIL|CHW COIL|HOT WATER PREHEAT|HYDRONIC COIL"
    "|HOT WATER REHEAT|HOT OR CHILLED WATER COIL|HOT WATER PREHEAT COIL|GLYCOL COIL",
    "dx_cooling": "DX COOLING|DX COIL|DX|DIRECT EXPANSION COOLING|DIRECT EXPANSION|DX COOLING COIL",
    "electric_heater": "ELECTRIC HEATER|ELECTRIC PREHEAT|ELECTRIC PREHEATER|ELECTRIC HEAT|ELECTRIC COIL|ELECTRIC REHEAT"
    "|ELECTRIC DUCT HEATER|ELECTRIC HEATING COIL|ELECTRIC PREHEAT COIL",
    "gas_heater": "GAS HEATER|GAS HEAT|GAS FURNACE|INDIRECT GAS HEATER|INDIRECT FIRED GAS HEATER|GAS PREHEAT"
    "|GAS BURNER",
    "humidifier": "HUMIDIFIER|STEAM HUMIDIFIER",
    "uv_lamps": "UV LAMPS|UV LAMP|UVC LAMPS|UV LIGHT|UV LIGHTS|ULTRAVIOLET LAMPS|UVC|UVGI",
    "roof_curb": "ROOF CURB|CURB|CURB MOUNTED|ROOF MOUNTING CURB",
    "network": "NETWORK|BMS CONNECTION|BAS CONNECTION|NETWORK CARD|BAS INTERFACE|BMS INTERFACE|COMMUNICATION CARD"
    "|CONNECTION TO A CONTROLS NETWORK|NETWORK INTERFACE|BAS NETWORK|BMS NETWORK",
}
_SENSOR_WORDS = {
    "outdoor_temperature": "OUTDOOR TEMPERATURE|OUTDOOR AIR TEMPERATURE|OA TEMPERATURE|OAT|OA TEMP|OUTDOOR TEMP"
    "|OUTSIDE AIR TEMPERATURE",
    "supply_temperature": "SUPPLY TEMPERATURE|SUPPLY AIR TEMPERATURE|SA TEMPERATURE|SAT|SA TEMP|DISCHARGE TEMPERATURE"
    "|DISCHARGE AIR TEMPERATURE|DAT|SUPPLY TEMP",
    "return_temperature": "RETURN TEMPERATURE|RETURN AIR TEMPERATURE|RA TEMPERATURE|RAT|RA TEMP|RETURN TEMP",
    "humidity": "HUMIDITY|RELATIVE HUMIDITY|RH|HUMIDISTAT|DEW POINT|ENTHALPY",
    "co2": "CO2|CARBON DIOXIDE|CO2 WALL|CO2 DUCT",
    "voc": "VOC|VOCS|TVOC|VOLATILE ORGANICS",
    "duct_static": "DUCT STATIC|DUCT STATIC PRESSURE|DSP|DUCT PRESSURE",
    "space_static": "SPACE STATIC|SPACE STATIC PRESSURE|ROOM PRESSURE|SPACE PRESSURE|BUILDING STATIC|BUILDING PRESSURE"
    "|BUILDING STATIC PRESSURE",
    "filter_pressure": "FILTER PRESSURE|FILTER DP|FILTER DELTA P|FILTER SWITCH|DIRTY FILTER|DIRTY FILTER SWITCH"
    "|FILTER PRESSURE DROP|PRESSURE DROP OF THE FILTERS|FILTER STATUS",
    "airflow": "AIRFLOW|AIR FLOW|AFMS|AIRFLOW STATION|AIRFLOW MEASURING STATION|FLOW STATION|AFS",
    "end_switch": "END SWITCH|END SWITCHES|DAMPER END SWITCH|DAMPER END SWITCHES|END SWITCH OF A DAMPER|PROOF OF OPEN",
    "fan_proof": "FAN PROOF|FAN STATUS|CURRENT SWITCH|FAN CURRENT SWITCH|AIRFLOW PROVING SWITCH|PROOF OF FLOW|CT",
    "freeze_stat": "FREEZE STAT|FREEZESTAT|LOW LIMIT|LOW TEMPERATURE LIMIT|LOW LIMIT THERMOSTAT|FREEZE PROTECTION",
    "static_limit": "STATIC LIMIT|HIGH STATIC LIMIT|HIGH STATIC SWITCH|DUCT STATIC PRESSURE LIMIT|HIGH STATIC CUTOUT"
    "|HIGH LIMIT STATIC",
    "smoke_detector": "SMOKE DETECTOR|SMOKE DETECTORS|DUCT SMOKE DETECTOR|DUCT SMOKE DETECTORS|DSD|DUCT DETECTOR",
}
WORDS = {
    field: {spelled: code for code, text in held.items() for spelled in text.split("|")}
    for field, held in ((OPTIONS, _OPTION_WORDS), (SENSORS, _SENSOR_WORDS))
}
_EMPTY = {"WITH", "INTEGRAL", "FACTORY", "FIELD", "INSTALLED", "MOUNTED", "PROVIDED", "SENSOR", "SENSORS", "OPTION"}
_EACH = re.compile(r"\s*[;,\n•|+]\s*")
_PARTS = re.compile(r"\s*(?:/|&|\bAND\b)\s*", re.IGNORECASE)
_NONE = frozenset({"NONE", "NO", "NIL", "NO OPTIONS", "NO SENSORS"})


@dataclass(frozen=True, slots=True)
class OwnWord:
    """An option or a sensor of a firm's own, and how its schedules write it. Without kinds any unit may have it."""

    field: str
    code: str
    title: str
    spelled: tuple[str, ...] = ()
    kinds: tuple[str, ...] = ()


@remembered(4096)
def codes_in(field: str, text: str, own: tuple[OwnWord, ...] = ()) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The codes that a cell names, each once, and the words that are in no list.

    >>> codes_in(OPTIONS, "Bypass; electric preheat; O/A damper; hinged doors")
    (('bypass', 'electric_heater', 'outdoor_damper'), ('hinged doors',))
    >>> codes_in(SENSORS, "SAT/RAT, CO2 sensor"), codes_in(OPTIONS, "none")
    ((('supply_temperature', 'return_temperature', 'co2'), ()), ((), ()))
    """
    found: list[str] = []
    strange: list[str] = []
    for piece in _EACH.split(text):
        parts = [_code(field, one, own) for one in _PARTS.split(piece)]
        whole = _code(field, piece, own)
        if whole:
            found.append(whole)
        elif all(parts):
            found += parts
        elif piece.strip() and piece.strip().upper() not in _NONE:
            strange.append(piece.strip())
    return tuple(dict.fromkeys(found)), tuple(dict.fromkeys(strange))


def is_none(text: str) -> bool:
    """Whether the cell says that there are none, which is something else than saying nothing."""
    return text.strip(" .").upper() in _NONE


def _code(field: str, text: str, own: tuple[OwnWord, ...]) -> str:
    words = _spelled(text)
    while words and (words[0].isdigit() or words[0] in ("W", "QTY")):
        words = words[1:]
    spellings = (" ".join(words), " ".join(word for word in words if word not in _EMPTY))
    known, firm = WORDS[field], _own_spellings(own).get(field, {})
    return next((code for one in spellings if one and (code := known.get(one) or firm.get(one))), "")


def _spelled(text: str) -> list[str]:
    return [token for token in tokens_of(text.replace("_", " ")) if token not in ("/", "&")]


@lru_cache(maxsize=32)
def _own_spellings(own: tuple[OwnWord, ...]) -> dict[str, dict[str, str]]:
    held: dict[str, dict[str, str]] = {}
    for one in own:
        for text in (one.code, one.title, *one.spelled):
            held.setdefault(one.field, {})[" ".join(_spelled(text))] = one.code
    return held
