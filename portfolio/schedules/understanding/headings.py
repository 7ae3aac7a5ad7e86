"""What a column's heading says: a meaning, a unit, an air basis, notes that it cites.

A heading is the path of texts from the top of the header down to the column, e.g. SUPPLY FAN, MOTOR, HP. The lowest
text is read strictly (one unknown word and the column is not understood), what stands above it leniently.
"""

import re
from dataclasses import dataclass
from functools import lru_cache

from commissioning.engineering.units import recognise, recognise_with_air_basis
from portfolio.schedules.understanding.meanings import MEANINGS
from portfolio.schedules.understanding.memory import remembered
from portfolio.schedules.understanding.words import (
    EXHAUST,
    FOREIGN,
    OUTDOOR,
    RETURN,
    SUPPLY,
    concepts_of,
    is_weak_tag_heading,
    tokens_of,
    whole_heading,
)

_PORTS = (SUPPLY, RETURN, OUTDOOR, EXHAUST)
_UNIT_QUANTITIES = frozenset(
    {"airflow", "pressure", "power", "rotational speed", "current", "voltage", "frequency", "ratio"}
)
_NOT_UNITS = frozenset({"ratio", "fraction", "1", "min", "mins", "no", "current", "volume"})
_KEPT_WORDS = frozenset({"bhp", "mhp", "hp", "kw", "rpm", "amps", "amp", "volts", "volt", "v", "hz", "a"})
_CITE = re.compile(
    r"[\(\[]?\s*(?:SEE\s+)?NOTES?\s*[:#]?\s*(\d+(?:\s*(?:,|&|AND|/)\s*\d+)*)\s*[\)\]]?"
    r"|[\(\[](\d{1,2}(?:\s*,\s*\d{1,2})*)[\)\]]",
    re.IGNORECASE,
)
_BRACKETED = re.compile(r"[\(\[]([^()\[\]]*)[\)\]]")
_BY_QUANTITY = {
    "airflow": "airflow",
    "pressure": "sp",
    "power": "power",
    "rotational speed": "speed",
    "current": "amps",
    "voltage": "volts",
    "frequency": "hertz",
}
_PURE_PORT = frozenset({*_PORTS, "max", "min", "fan", "total"})


@dataclass(frozen=True, slots=True)
class Heading:
    """What a heading was understood as; `meaning` is '' where it was not."""

    meaning: str = ""
    unit: str = ""
    basis: str = ""
    cites: tuple[str, ...] = ()
    unsaid_pressure: bool = False


@dataclass(frozen=True, slots=True)
class _Part:
    """One text of the path: its concepts, the words that are none, and the units in it as (quantity, code)."""

    concepts: tuple[str, ...]
    unknown: tuple[str, ...]
    units: tuple[tuple[str, str], ...]
    basis: str
    cites: tuple[str, ...]
    words: str


@remembered(4096)
def unit_in(text: str) -> tuple[str, str, str] | None:
    """(quantity, code, air basis) if the whole text is a unit that a schedule's column can have."""
    spelled = text.strip(" ,.;:-–—()[]") if len(text) > 2 else text.strip()
    if not spelled or spelled.casefold() in _NOT_UNITS or spelled.isdigit():
        return None
    with_basis = recognise_with_air_basis(spelled)
    if with_basis is not None:
        return "airflow", with_basis[0].code, with_basis[1] or ""
    found = recognise(spelled)
    if found is None or found.quantity == "length":
        found = recognise(spelled, quantity="pressure") or found
    if found is None or found.quantity == "time":
        return None
    return found.quantity, found.code, ""


@remembered(4096)
def is_heading_text(text: str) -> bool:
    """Whether a cell's text could stand in a header: words of schedules or units, and nothing else."""
    if len(text) > 80 or not text:
        return False
    if whole_heading(text) or is_weak_tag_heading(text) or unit_in(text):
        return True
    part = _part(text)
    return not part.unknown and bool(part.concepts or part.units)


def is_unit_text(text: str) -> bool:
    return unit_in(text) is not None


@lru_cache(maxsize=4096)
def read_heading(path: tuple[str, ...], default_port: str = "") -> Heading:
    """Understand a heading.

    Args:
        path: the texts from the top of the header to the column, each once.
        default_port: the port or fan that the table's title speaks of, for headings that name none.

    >>> heading = read_heading(("SUPPLY FAN", "E.S.P. IN. W.G."))
    >>> heading.meaning, heading.unit
    ('supply.static_pressure', 'in_wc')
    """
    parts = tuple(_part(text) for text in path if text)
    if not parts:
        return Heading()
    cites = tuple(cite for part in parts for cite in part.cites)
    basis = next((part.basis for part in reversed(parts) if part.basis), "")
    lowest = len(parts) - 1
    while lowest and not parts[lowest].concepts and not parts[lowest].unknown:
        lowest -= 1
    meaning = _text_meaning(parts[: lowest + 1]) or _number_meaning(parts, lowest, default_port)
    unsaid = meaning.endswith("static_pressure") and not _any(parts, "esp") and not _any(parts, "tsp")
    return Heading(meaning, _unit_of(meaning, parts), basis, cites, unsaid)


def _part(text: str) -> _Part:
    cites: list[str] = []

    def cited(match: re.Match[str]) -> str:
        cites.extend(re.findall(r"\d+", match.group(1) or match.group(2)))
        return " "

    rest = _CITE.sub(cited, text)
    units: list[tuple[str, str, str]] = []

    def bracketed(match: re.Match[str]) -> str:
        unit = unit_in(match.group(1))
        if unit is None:
            return f" {match.group(1)} "
        units.append(unit)
        return " "

    rest = _take_units(_BRACKETED.sub(bracketed, rest), units)
    tokens = tokens_of(rest)
    concepts, unknown = concepts_of(tokens)
    foreign = tuple(FOREIGN for quantity, _, _ in units if quantity not in _UNIT_QUANTITIES)
    return _Part(
        concepts=concepts + foreign,
        unknown=unknown,
        units=tuple((quantity, code) for quantity, code, _ in units),
        basis=next((basis for _, _, basis in units if basis), ""),
        cites=tuple(cites),
        words=rest,
    )


def _take_units(text: str, units: list[tuple[str, str, str]]) -> str:
    """Move units out of the text, the longest run of words first; words that also name the quantity stay."""
    words = text.replace(",", " ").split()
    for length in range(min(4, len(words)), 0, -1):
        starts = range(len(words) - length + 1)
        for start in reversed(starts) if length == 1 else starts:
            spelled = " ".join(words[start : start + length])
            bare = spelled.strip(".").casefold()
            if len(words) > 1 and ((len(bare) == 1 and bare != "%") or (bare == "in" and start + 1 < len(words))):
                continue
            unit = unit_in(spelled)
            if unit is None or (length > 1 and unit_in(words[start]) and unit_in(words[start]) != unit):
                continue
            units.append(unit)
            if bare not in _KEPT_WORDS:
                words = words[:start] + words[start + length :]
            return " ".join(words)
    return " ".join(words)


def _text_meaning(parts: tuple[_Part, ...]) -> str:
    """A text column by its whole heading, unless what stands above makes it a detail of a fan or a coil."""
    above = {concept for part in parts[:-1] for concept in part.concepts}
    last = parts[-1].words
    joined = f"{parts[-2].words} {last}" if len(parts) > 1 else ""
    meaning = whole_heading(joined) or whole_heading(last)
    detail = above & {"fan", "motor", "exchanger", "electrical", "drive", FOREIGN, *_PORTS}
    if not detail or whole_heading(joined):
        return meaning
    if meaning == "type" and "motor" in above:
        return _fan_code(parts, "motor_type", "")
    if meaning == "type" and "drive" in above:
        return _fan_code(parts, "drive", "")
    if meaning == "quantity" and above & {"fan", "motor"}:
        return _fan_code(parts, "motors", "")
    return ""


def _number_meaning(parts: tuple[_Part, ...], lowest: int, default_port: str) -> str:
    if parts[lowest].unknown or any(FOREIGN in part.concepts for part in parts):
        return ""
    concepts = {concept for part in parts for concept in part.concepts}
    for part in parts:
        concepts.update(_BY_QUANTITY[quantity] for quantity, _ in part.units if quantity in _BY_QUANTITY)
    for rule in (_exchanger, _electrical, _fan_detail, _pressure, _power_and_speed, _airflow):
        meaning = rule(parts, concepts, default_port)
        if meaning is not None:
            return meaning
    return ""


def _exchanger(parts: tuple[_Part, ...], concepts: set[str], default_port: str) -> str | None:
    for ratio in ("eatr", "oacf"):
        if ratio in concepts:
            return f"exchanger.{ratio}"
    if "effectiveness" in concepts and "lat" in concepts:
        concepts.add("latent")
    kinds = [kind for kind in ("sensible", "latent", "total") if kind in concepts]
    if kinds and "airflow" not in concepts:
        ratio_unit = any(quantity == "ratio" for part in parts for quantity, _ in part.units)
        if len(kinds) > 1 or concepts & {"motor", "fan"} or not ("effectiveness" in concepts or ratio_unit):
            return None
        seasons = [season for season in ("summer", "winter") if season in concepts]
        return f"exchanger.{kinds[0]}" + (f"_{seasons[0]}" if len(seasons) == 1 else "")
    if "effectiveness" in concepts or "lat" in concepts:
        return ""
    if "pressure_drop" in concepts:
        if "exchanger" not in concepts:
            return ""
        side = {SUPPLY: "supply_", OUTDOOR: "supply_", EXHAUST: "exhaust_", RETURN: "exhaust_"}
        return f"exchanger.{side.get(_port(parts), '')}pressure_drop"
    return None


def _electrical(parts: tuple[_Part, ...], concepts: set[str], default_port: str) -> str | None:
    lowest = {concept for part in parts[-2:] for concept in part.concepts}
    whole_unit = not concepts & {"fan", "motor", *_PORTS}
    if "mca" in concepts:
        return "electrical.minimum_circuit_amps"
    if "mocp" in concepts:
        return "electrical.overcurrent_amps"
    if {"volts", "phase"} <= lowest:
        return "electrical.supply" if whole_unit else _fan_code(parts, "electrical", default_port)
    for concept, name in (("amps", "amps"), ("volts", "volts"), ("phase", "phases"), ("hertz", "hertz")):
        if concept in concepts:
            return f"electrical.{name}" if whole_unit else _fan_code(parts, name, default_port)
    if "electrical" in concepts and concepts <= {"electrical", "fan", "motor", *_PORTS}:
        return "electrical.supply" if whole_unit else _fan_code(parts, "electrical", default_port)
    return "" if "electrical" in concepts and whole_unit else None


def _fan_detail(parts: tuple[_Part, ...], concepts: set[str], default_port: str) -> str | None:
    for name in ("variable_speed", "service_factor", "motor_type", "motors"):
        if name in concepts:
            return _fan_code(parts, name, default_port)
    if "drive" in concepts and not concepts & {"power", "speed"}:
        return _fan_code(parts, "drive", default_port)
    return None


def _pressure(parts: tuple[_Part, ...], concepts: set[str], default_port: str) -> str | None:
    if not concepts & {"esp", "tsp", "sp"}:
        return None
    if "exchanger" in concepts and not _port(parts):
        return ""
    name = "total_static_pressure" if "tsp" in concepts and "esp" not in concepts else "static_pressure"
    return _port_code(parts, name, default_port)


def _power_and_speed(parts: tuple[_Part, ...], concepts: set[str], default_port: str) -> str | None:
    if "brake" in concepts:
        return _fan_code(parts, "brake_power", default_port)
    if "power" in concepts:
        return _fan_code(parts, "motor_power", default_port)
    if "speed" in concepts:
        if "min" in concepts:
            return ""
        if "max" in concepts:
            return _fan_code(parts, "max_speed", default_port)
        near = [part for part in parts if "fan" in part.concepts or "motor" in part.concepts]
        of_motor = bool(near) and "motor" in near[-1].concepts and "FAN RPM" not in near[-1].words.upper()
        return _fan_code(parts, "motor_speed" if of_motor else "speed", default_port)
    return None


def _airflow(parts: tuple[_Part, ...], concepts: set[str], default_port: str) -> str | None:
    only_port = bool(concepts & set(_PORTS)) and concepts <= _PURE_PORT
    if "airflow" not in concepts and not only_port:
        return None
    if concepts & {"summer", "winter", "motor", "exchanger"} and not _port(parts):
        return ""
    if concepts & {"summer", "winter"}:
        return ""
    order = [concept for part in parts for concept in part.concepts if concept in ("max", "min")]
    if "max" in order and "min" in order:
        lowest = [concept for concept in parts[-1].concepts if concept in ("max", "min")]
        if len(lowest) == 1:
            order = lowest
        else:
            first_min = order[0] == "min"
            return _port_code(parts, "minimum_and_airflow" if first_min else "airflow_and_minimum", default_port)
    return _port_code(parts, "minimum" if "min" in order else "airflow", default_port)


def _port(parts: tuple[_Part, ...]) -> str:
    """The port that the lowest text with one names; '' if none, '?' if it names two."""
    for part in reversed(parts):
        found = {concept for concept in part.concepts if concept in _PORTS}
        if found:
            return found.pop() if len(found) == 1 else "?"
    return ""


def _port_code(parts: tuple[_Part, ...], name: str, default_port: str) -> str:
    port = _port(parts) or default_port
    code = f"{port}.{name}" if port else name
    return code if code in MEANINGS else ""


def _fan_code(parts: tuple[_Part, ...], name: str, default_port: str) -> str:
    fan = _port(parts) or default_port
    code = f"fan.{fan}.{name}" if fan else f"fan.{name}"
    return code if code in MEANINGS else ""


def _unit_of(meaning: str, parts: tuple[_Part, ...]) -> str:
    known = MEANINGS.get(meaning)
    if known is None or not known.quantity:
        return known.unit if known else ""
    for part in reversed(parts):
        for quantity, code in part.units:
            if quantity == known.quantity:
                return code
    return known.unit


def _any(parts: tuple[_Part, ...], concept: str) -> bool:
    return any(concept in part.concepts for part in parts)
