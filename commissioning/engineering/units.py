"""The closed table of unit codes, and conversion to and from the units that all formulas use.

Text from outside is looked up in the table first and never reaches pint as it came: a general parser reads
"cfm" as a length and "L/S" as a ratio of a volume to a conductance. pint only gives each code's factor, once.

"SI" here means the unit in which every formula of the package takes and returns its quantity: see `SI_CODES`.
Two of them are not coherent SI: temperature is in degC and rotational speed in rpm.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterable
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from commissioning.engineering.guards import FloatOrArray, plain
from commissioning.engineering.unit_table import UNITS, Unit

if TYPE_CHECKING:
    import pint

__all__ = [
    "INCH_OF_WATER_4C_PA",
    "INCH_OF_WATER_20C_PA",
    "INCH_OF_WATER_60F_PA",
    "SI_CODES",
    "STANDARD_DENSITY_0_075_LB_FT3_KG_M3",
    "STANDARD_DENSITY_1_2_KG_M3",
    "STANDARD_DENSITY_1_204_KG_M3",
    "UNITS",
    "Unit",
    "UnknownUnit",
    "WrongQuantity",
    "codes_of",
    "from_si",
    "quantity_of",
    "recognise",
    "recognise_with_air_basis",
    "to_si",
    "unit",
]

INCH_OF_WATER_4C_PA = 249.08891
INCH_OF_WATER_60F_PA = 248.84
INCH_OF_WATER_20C_PA = 248.64

STANDARD_DENSITY_0_075_LB_FT3_KG_M3 = 0.075 * 16.018463373960138
STANDARD_DENSITY_1_2_KG_M3 = 1.2
STANDARD_DENSITY_1_204_KG_M3 = 1.204

SI_CODES: dict[str, str] = {
    "airflow": "m3/s",
    "pressure": "Pa",
    "velocity": "m/s",
    "temperature": "degC",
    "temperature difference": "delta_K",
    "length": "m",
    "area": "m2",
    "power": "W",
    "rotational speed": "rpm",
    "frequency": "Hz",
    "ratio": "1",
    "mole fraction": "mol/mol",
    "current": "A",
    "voltage": "V",
    "density": "kg/m3",
    "humidity ratio": "kg/kg",
    "specific enthalpy": "J/kg",
    "station factor": "m3/s/Pa^0.5",
    "specific fan power": "W/(m3/s)",
    "airflow per area": "m3/s/m2",
    "mass": "kg",
    "mass flow": "kg/s",
    "time": "s",
}

_BY_CODE: dict[str, Unit] = {unit.code: unit for unit in UNITS}
_KELVIN_AT_0_DEGC = 273.15
_FAHRENHEIT_AT_0_DEGC = 32.0
_OFFSETS = {"degF": _FAHRENHEIT_AT_0_DEGC, "K": _KELVIN_AT_0_DEGC}

# One spelling, several quantities. Resolved only for a reader that says which quantity it expects; in a
# column of duct or fan pressures a bare inch or millimetre is one of water (common practice, no source).
_SHARED_SPELLINGS: dict[str, dict[str | None, str]] = {
    "in": {None: "in", "length": "in", "pressure": "in_wc"},
    "inch": {None: "in", "length": "in", "pressure": "in_wc"},
    "inches": {None: "in", "length": "in", "pressure": "in_wc"},
    "in.": {"length": "in", "pressure": "in_wc"},
    '"': {"length": "in", "pressure": "in_wc"},
    "mm": {None: "mm", "length": "mm", "pressure": "mm_wc"},
    "F": {None: "degF", "temperature": "degF", "temperature difference": "delta_degF"},
    "C": {None: "degC", "temperature": "degC", "temperature difference": "delta_K"},
    "K": {None: "K", "temperature": "K", "temperature difference": "delta_K"},
}
_AIR_BASES: dict[str, tuple[str, str]] = {
    "scfm": ("cfm", "standard"),
    "acfm": ("cfm", "actual"),
    "std cfm": ("cfm", "standard"),
    "standard cfm": ("cfm", "standard"),
    "actual cfm": ("cfm", "actual"),
    "sl/s": ("L/s", "standard"),
    "al/s": ("L/s", "actual"),
    "sm3/h": ("m3/h", "standard"),
    "am3/h": ("m3/h", "actual"),
}


class UnknownUnit(ValueError):
    """A unit code is not in the table; `remedy` says what to write instead."""

    def __init__(self, code: str, remedy: str) -> None:
        self.code = code
        self.remedy = remedy
        super().__init__(f"unknown unit {code!r}: {remedy}")

    def __reduce__(self) -> tuple[type[UnknownUnit], tuple[str, str]]:
        return type(self), (self.code, self.remedy)


class WrongQuantity(ValueError):
    """A unit code is in the table, but measures something else than what was expected."""

    def __init__(self, code: str, expected: str) -> None:
        self.code = code
        self.expected = expected
        found = _BY_CODE[code].quantity if code in _BY_CODE else "nothing known"
        super().__init__(f"unit {code!r} is a unit of {found}, not of {expected}")

    def __reduce__(self) -> tuple[type[WrongQuantity], tuple[str, str]]:
        return type(self), (self.code, self.expected)


def unit(code: str) -> Unit:
    """Return the table's entry for a unit code.

    Args:
        code: a code of the table, exactly as written there, e.g. 'm3/h'.

    Raises:
        UnknownUnit: with a remedy that names the code to use where the text is a known spelling of one.

    Source: common practice, no source.

    Example:
        >>> unit("cfm").quantity
        'airflow'
        >>> unit("CFM")
        Traceback (most recent call last):
        ...
        commissioning.engineering.units.UnknownUnit: unknown unit 'CFM': write 'cfm'
    """
    found = _BY_CODE.get(code)
    if found is not None:
        return found
    meant = recognise(code) if isinstance(code, str) else None
    remedy = f"write '{meant.code}'" if meant else "use one of: " + ", ".join(_BY_CODE)
    raise UnknownUnit(code, remedy)


def quantity_of(code: str) -> str:
    """Return what a unit code measures.

    Args:
        code: a code of the table.

    Raises:
        UnknownUnit: the code is not in the table.

    Source: common practice, no source.

    Example:
        >>> quantity_of("in_wc")
        'pressure'
    """
    return unit(code).quantity


def codes_of(quantity: str) -> tuple[str, ...]:
    """Return the unit codes of a quantity, in the table's order (for choices in a form).

    Args:
        quantity: one of the keys of `SI_CODES`.

    Raises:
        ValueError: no such quantity.

    Source: common practice, no source.

    Example:
        >>> codes_of("airflow")
        ('m3/s', 'm3/h', 'L/s', 'cfm')
    """
    if quantity not in SI_CODES:
        raise ValueError(f"no such quantity: {quantity!r}; known are: {', '.join(SI_CODES)}")
    return tuple(entry.code for entry in UNITS if entry.quantity == quantity)


def to_si(
    value: FloatOrArray,
    code: str,
    *,
    quantity: str | None = None,
    inch_of_water_pa: float = INCH_OF_WATER_4C_PA,
) -> FloatOrArray:
    """Convert a value from a unit code to the unit in which the package computes (`SI_CODES`).

        x_SI = factor x, and for temperatures t_C = (t_F - 32) / 1.8 = T_K - 273.15

    Args:
        value: number or array [unit of the code].
        code: a code of the table.
        quantity: what the value must measure; None accepts any.
        inch_of_water_pa: the inch of water in use [Pa]; also scales 'mm_wc' and 'cfm/in_wc^0.5'.

    Raises:
        UnknownUnit: the code is not in the table.
        WrongQuantity: the code measures something else than `quantity`.

    Source: exact definitions of the SI and of the inch, pound and foot (NIST SP 811, from memory), as kept by
    pint; inch of water 249.08891 Pa at 4 degC (QUDT), 248.84 Pa at 60 degF, 248.64 Pa at 20 degC.

    Example:
        >>> round(to_si(1000.0, "cfm", quantity="airflow"), 7)
        0.4719474
        >>> round(to_si(68.0, "degF"), 9)
        20.0
    """
    entry = _checked(code, quantity)
    factor = _factor(entry.code, inch_of_water_pa)
    if isinstance(value, float):
        return (value - _offset(code)) * factor
    array = np.asarray(value, dtype=np.float64)
    return plain((array - _offset(code)) * factor)


def from_si(value: FloatOrArray, code: str, *, inch_of_water_pa: float = INCH_OF_WATER_4C_PA) -> FloatOrArray:
    """Convert a value from the unit in which the package computes to a unit code: the inverse of `to_si`.

    Args:
        value: number or array [unit of `SI_CODES` for the code's quantity].
        code: a code of the table.
        inch_of_water_pa: the inch of water in use [Pa].

    Raises:
        UnknownUnit: the code is not in the table.

    Source: as for `to_si`.

    Example:
        >>> round(from_si(249.08891, "in_wc"), 9)
        1.0
        >>> round(from_si(20.0, "K"), 9)
        293.15
    """
    entry = _checked(code, None)
    factor = _factor(entry.code, inch_of_water_pa)
    if isinstance(value, float):
        return value / factor + _offset(code)
    return plain(np.asarray(value, dtype=np.float64) / factor + _offset(code))


def recognise(text: str, *, quantity: str | None = None) -> Unit | None:
    """Return the unit that a spelling from a schedule or a form means, or None where that is not certain.

    Letter case is forgiven where no other unit differs by case alone, and never for a single letter. A
    spelling that several quantities share ('in.' is a length or a pressure) is resolved only when `quantity`
    says which. A spelling that carries an air basis ('SCFM') is None: see `recognise_with_air_basis`.

    Args:
        text: the unit's text alone, brackets allowed.
        quantity: what the column measures, if known; a unit of another quantity is then None.

    Source: common practice, no source.

    Example:
        >>> recognise("IN WG").code
        'in_wc'
        >>> recognise("in.") is None
        True
        >>> recognise("in.", quantity="pressure").code
        'in_wc'
    """
    spelling = _normalised(text)
    folded = spelling.casefold() if len(spelling) > 1 else spelling
    shared = _SHARED_SPELLINGS.get(folded)
    if shared is not None:
        code = shared.get(quantity)
    else:
        squeezed = _squeezed(spelling)
        code = _exact().get(squeezed) or (_folded().get(squeezed.casefold()) if len(squeezed) > 1 else None)
    if code is None:
        return None
    found = _BY_CODE[code]
    return found if quantity in (None, found.quantity) else None


def recognise_with_air_basis(text: str) -> tuple[Unit, str | None] | None:
    """Return the unit of an airflow and the air basis that its spelling states.

    The basis is 'standard', 'actual' or, where the spelling does not state it, None.

    Args:
        text: the unit's text alone, brackets allowed.

    Source: common practice, no source.

    Example:
        >>> unit_, basis = recognise_with_air_basis("SCFM")
        >>> unit_.code, basis
        ('cfm', 'standard')
    """
    stated = _AIR_BASES.get(_normalised(text).casefold())
    if stated is not None:
        return _BY_CODE[stated[0]], stated[1]
    found = recognise(text, quantity="airflow")
    return (found, None) if found else None


def _checked(code: str, quantity: str | None) -> Unit:
    entry = unit(code)
    if quantity is not None and entry.quantity != quantity:
        raise WrongQuantity(code, quantity)
    return entry


def _offset(code: str) -> float:
    return _OFFSETS.get(code, 0.0)


@lru_cache(maxsize=512)  # few inches of water are in use, and every quantity of a record asks
def _factor(code: str, inch_of_water_pa: float) -> float:
    power = _BY_CODE[code].inch_of_water_power
    return _pint_factor(code) * (inch_of_water_pa**power if power else 1.0)


@cache
def _pint_factor(code: str) -> float:
    entry = _BY_CODE[code]
    si_entry = _BY_CODE[SI_CODES[entry.quantity]]
    registry = _registry()
    quantity: Any = registry.parse_expression(entry.pint_expr)
    magnitude = (quantity / registry.parse_expression(si_entry.pint_expr)).to("dimensionless").magnitude
    short = float(f"{magnitude:.12g}")
    return short if math.isclose(short, magnitude, rel_tol=4e-16) else float(magnitude)


@cache
def _registry() -> pint.UnitRegistry[float]:
    import pint

    return pint.UnitRegistry()


def _normalised(text: str) -> str:
    """One form for look-alike characters: superscripts, primes, middle dots, brackets around, spaces."""
    for mark in "\u2033\u201c\u201d\u02ba":
        text = text.replace(mark, '"')
    text = text.replace("''", '"').replace("\u2032\u2032", '"')
    text = unicodedata.normalize("NFKC", text).replace("\u00ba", "\u00b0")
    text = re.sub(r"\s+", " ", text).strip()
    bracketed = re.fullmatch(r"[\(\[\{]\s*(.*?)\s*[\)\]\}]", text)
    return bracketed.group(1) if bracketed else text


def _squeezed(spelling: str) -> str:
    return re.sub(r"[\s._\-\u00b7]+", "", spelling)


def _spellings() -> Iterable[tuple[str, str]]:
    for entry in UNITS:
        for symbol in (entry.code, *entry.symbols):
            yield _squeezed(_normalised(symbol)), entry.code


@cache
def _exact() -> dict[str, str]:
    table: dict[str, str] = {}
    for spelling, code in _spellings():
        if table.setdefault(spelling, code) != code:
            raise AssertionError(f"spelling {spelling!r} stands for both {table[spelling]} and {code}")
    return table


@cache
def _folded() -> dict[str, str]:
    meanings: dict[str, set[str]] = {}
    for spelling, code in _spellings():
        if len(spelling) > 1:
            meanings.setdefault(spelling.casefold(), set()).add(code)
    return {spelling: codes.pop() for spelling, codes in meanings.items() if len(codes) == 1}
