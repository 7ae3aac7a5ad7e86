"""The design that holds for a unit, with the revision that each field comes from. A contract's numbers are as given."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from commissioning.dossier import printing
from commissioning.dossier.pressure_parts import DESIGN_NAMES
from commissioning.dossier.pressure_parts import WORDS as PRESSURES
from commissioning.dossier.quantities import si
from commissioning.dossier.shows import PORTS, limits_in_words
from commissioning.engineering import units
from portfolio.dashboards.words import natural, opening
from portfolio.models import DesignEntry, Position
from portfolio.models.design import fold_entries

_PORT_FIELDS = (
    ("airflow", "Airflow"),
    ("basis", "Air basis"),
    ("tolerance", "Tolerance"),
    ("minimum", "Ventilation minimum"),
    ("static_pressure", "External static pressure"),
)
_FAN_FIELDS = (
    ("motor_power", "Motor"),
    ("motor", "Motor kind"),
    ("speed", "Speed"),
    ("maximum_speed", "Highest speed"),
    ("nameplate_current", "Nameplate current"),
    ("voltage", "Voltage"),
    ("phases", "Phases"),
    ("service_factor", "Service factor"),
    ("drive", "Drive"),
)
_PARTS = (
    ("outlets", "Outlet"),
    ("rooms", "Room"),
    ("exchangers", "Exchanger"),
    ("pressures", "Pressure"),
    ("equipment", "Equipment"),
)
_NAMED = {"unit": "The unit has"}
_STREAMS = ("supply", "exhaust")
MOST_OPEN = 6  # rows of a table of parts that stand open; more are folded under their number
_PRINTED_IN = {
    "airflow": {"ip": "cfm", "si": "L/s"},
    "pressure": {"ip": "in_wc", "si": "Pa"},
    "power": {"ip": "hp", "si": "kW"},
}


@dataclass(frozen=True)
class Cell:
    value: str
    source: str  # left out where the whole row has one source


@dataclass(frozen=True)
class Row:
    title: str
    cells: list[Cell]
    source: str


@dataclass(frozen=True)
class Sheet:
    heads: list[str]
    rows: list[Row]
    is_part: bool = False

    @property
    def is_folded(self) -> bool:
        return self.is_part and len(self.rows) > MOST_OPEN


@dataclass(frozen=True)
class Design:
    sheets: list[tuple[str, Sheet]]  # what the rows are, and the rows
    revisions: list[str]


def read(unit: Position, display: str) -> Design:
    entries = list(DesignEntry.objects.filter(position=unit).select_related("revision"))
    held = fold_entries(entries)
    names = {name: title for name, title in PORTS.items() if name}
    sheets = [
        ("Port", _sheet(held["ports"], _PORT_FIELDS, names, display)),
        ("Fan", _sheet(held["fans"], _FAN_FIELDS, {"supply": "Supply fan", "exhaust": "Exhaust fan"}, display)),
        *((title, _part_sheet(group, held[group], display)) for group, title in _PARTS if group in held),
    ]
    revisions = [str(entry.revision) for entry in sorted(entries, key=lambda e: e.revision.number, reverse=True)]
    return Design([(head, sheet) for head, sheet in sheets if sheet is not None], revisions)


def _fields_of(group: Mapping[str, Mapping[str, Any]]) -> tuple[tuple[str, str], ...]:
    """The fields that any part of a group names, in the order in which they were first named."""
    names = dict.fromkeys(name for values in group.values() for name in values if name != "sources")
    return tuple((name, name.replace("_", " ").capitalize()) for name in names)


def _part_sheet(group: str, parts: Mapping[str, Mapping[str, Any]], display: str) -> Sheet | None:
    in_order = sorted(parts, key=natural)
    names = {name: _pressure(name) if group == "pressures" else _NAMED.get(name, name) for name in in_order}
    sheet = _sheet(parts, _fields_of(parts), names, display)
    return None if sheet is None else replace(sheet, is_part=True)


def _pressure(name: str) -> str:
    """
    >>> _pressure("core_drop_exhaust"), _pressure("controlled_static"), _pressure("external_supply")
    ('Core drop, exhaust', 'Duct static pressure', 'External static pressure, supply')
    """
    stream = next((one for one in _STREAMS if name.endswith(f"_{one}")), "")
    what = name.removesuffix(f"_{stream}") if stream else name
    figure = next((figure for figure, designed in DESIGN_NAMES.items() if designed == what), "")
    said = opening(PRESSURES.get(figure, what.replace("_", " ")))
    return f"{said}, {stream}" if stream else said


def _sheet(
    group: Mapping[str, Mapping[str, Any]], fields: tuple[tuple[str, str], ...], names: Mapping[str, str], display: str
) -> Sheet | None:
    shown = [(name, title) for name, title in fields if any(name in values for values in group.values())]
    if not shown:
        return None
    order = [name for name in names if name in group] + sorted(set(group) - set(names), key=natural)
    rows = []
    for name in order:
        values, sources = group[name], group[name].get("sources", {})
        whole = set(sources.values())
        one_source = whole.pop() if len(whole) == 1 else ""
        cells = [
            Cell(words(values[f], display) if f in values else "", "" if one_source else sources.get(f, ""))
            for f, _ in shown
        ]
        rows.append(Row(names.get(name, name), cells, one_source or "as said beside each value"))
    return Sheet([title for _, title in shown], rows)


def words(value: Any, display: str) -> str:
    """
    >>> words({"value": 1200, "unit": "cfm"}, "ip"), words(None, "ip"), words(True, "ip")
    ('1,200 cfm', 'not given', 'yes')
    >>> words({"value": 5, "unit": "L/s"}, "si"), words({"value": 138.75, "unit": "L/s"}, "si")
    ('5 L/s', '138.75 L/s')
    >>> words({"value": 138.75, "unit": "L/s"}, "ip"), words({"value": 0.5, "unit": "in_wc"}, "si")
    ('294 cfm', '124.5 Pa')
    >>> words([{"season": "heating", "sensible": 0.72, "latent": None}], "ip")
    'season heating, sensible 0.72'
    """
    if value is None:
        return "not given"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Mapping) and "unit" in value:
        return _quantity(value, display)
    if isinstance(value, list):
        return "; ".join(words(one, display) for one in value) or "none"
    if isinstance(value, Mapping) and not {"low", "high"} & set(value):
        told = [
            f"{name.replace('_', ' ')} {words(one, display)}" for name, one in value.items() if one not in (None, "")
        ]
        return ", ".join(told)
    if isinstance(value, Mapping):
        clause = f" ({value['clause']})" if value.get("clause") else ""
        return f"{limits_in_words(value.get('low'), value.get('high'))}{clause}"
    return str(value).replace("_", " ")


def _quantity(value: Mapping[str, Any], display: str) -> str:
    """As it is given; where the reader's units are others, in those, to four digits."""
    code = _PRINTED_IN.get(units.quantity_of(value["unit"]), {}).get(display, value["unit"])
    label = units.unit(code).label
    if code == value["unit"]:
        return f"{printing.as_given(value['value'])} {label}"
    return f"{printing.four_digits(float(units.from_si(si(value), code)))} {label}"
