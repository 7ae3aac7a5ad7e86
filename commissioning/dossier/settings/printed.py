"""Settings as they are printed, in the project's units."""

from commissioning.dossier import printing
from commissioning.dossier.settings.catalogue import CATALOGUE, Plain
from commissioning.engineering import units

_CODES = {  # by quantity: the unit in each display
    "airflow": {"ip": "cfm", "si": "L/s"},
    "pressure": {"ip": "in_wc", "si": "Pa"},
    "temperature": {"ip": "degF", "si": "degC"},
    "ratio": {"ip": "%", "si": "%"},
    "mole fraction": {"ip": "ppm", "si": "ppm"},
}
_HOURLY = ("occupied_from", "occupied_to")
_WORDS = {"co2": "CO2", "voc": "VOC", "bacnet": "BACnet", "modbus": "Modbus", "ip": "IP", "mstp": "MS/TP", "tcp": "TCP"}


def unit_of(code: str, display: str) -> str:
    """The unit code in which a setting is asked for and printed; empty where it has none."""
    setting = CATALOGUE.settings[code]
    if setting.quantity == "time":
        return "h" if code in _HOURLY else "s"
    return _CODES[setting.quantity][display] if setting.quantity else ""


def title_of(code: str) -> str:
    return CATALOGUE.settings[code].title


def lower_title_of(code: str) -> str:
    """As it stands within a sentence.

    >>> lower_title_of("exhaust_ratio"), lower_title_of("co2_setpoint")
    ('exhaust to supply ratio', 'CO2 setpoint')
    """
    title = title_of(code)
    return title if title[:2].isupper() else f"{title[:1].lower()}{title[1:]}"


def words(choice: str) -> str:
    """
    >>> words("airflow_reset_on_co2"), words("bacnet_mstp")
    ('airflow reset on CO2', 'BACnet MS/TP')
    """
    return " ".join(_WORDS.get(word, word) for word in choice.split("_"))


def value(code: str, held: Plain | None, display: str) -> str:
    """
    >>> value("supply_airflow", 0.4719474432, "ip"), value("frost_limit", 2.0, "ip"), value("co2_alarm", 9e-4, "si")
    ('1,000 cfm', '35.6 °F', '900 ppm')
    >>> value("option_heating", True, "si"), value("enabling", "schedule", "si"), value("supply_speed", None, "si")
    ('yes', 'schedule', 'not read')
    """
    if held is None:
        return "not read"
    if isinstance(held, bool):
        return "yes" if held else "no"
    if isinstance(held, str):
        return words(held) if CATALOGUE.settings[code].kind == "choice" else held
    if code in _HOURLY:
        return time_of_day(held)
    unit = unit_of(code, display)
    if not unit:
        return f"{held:.0f}" if CATALOGUE.settings[code].kind == "whole" else f"{held:g}"
    if unit in ("cfm", "L/s"):
        return f"{printing.airflow(held, display)} {units.unit(unit).label}"
    number = float(units.from_si(held, unit))
    return f"{_plain(number, unit)} {units.unit(unit).label}"


def in_cells(code: str, held: Plain | None, display: str) -> tuple[float | str, str]:
    """For a spreadsheet: a number that can be reckoned with and its unit, or the word and nothing.

    >>> in_cells("supply_airflow", 0.4719474432, "ip"), in_cells("frost_limit", -2.0, "si")
    ((1000.0, 'cfm'), (-2.0, '°C'))
    >>> in_cells("enabling", "schedule", "si"), in_cells("supply_speed", None, "si")
    (('schedule', ''), ('not read', ''))
    """
    unit = unit_of(code, display)
    if not unit or code in _HOURLY or held is None or isinstance(held, bool | str):
        return value(code, held, display), ""
    return float(f"{float(units.from_si(held, unit)):.6g}"), units.unit(unit).label


def time_of_day(held_s: float) -> str:
    """
    >>> time_of_day(23400.0), time_of_day(86400.0)
    ('06:30', '24:00')
    """
    minutes = round(held_s / 60.0)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def speed(held: float | None) -> str:
    return "" if held is None else f"{_plain(100.0 * held, '%')} %"


def airflow(held: float | None, display: str, *, signed: bool = False) -> str:
    if held is None:
        return ""
    text = printing.airflow(held, display)
    return f"+{text}" if signed and held > 0.0 and text != "0" else text


def _plain(number: float, unit: str) -> str:
    digits = {"in_wc": 3, "degF": 1, "degC": 1, "%": 1, "h": 2}.get(unit, 1)
    text = f"{number:.{digits}f}".rstrip("0").rstrip(".") if digits else f"{number:.0f}"
    return ("0" if text == "-0" else text).replace("-", printing.MINUS)
