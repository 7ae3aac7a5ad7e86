"""Unit codes: exact factors, spellings as engineers write them, and refusals."""

from __future__ import annotations

import pickle
from itertools import pairwise

import numpy as np
import pytest

from commissioning.engineering import units
from commissioning.engineering.units import (
    INCH_OF_WATER_20C_PA,
    INCH_OF_WATER_60F_PA,
    SI_CODES,
    UnknownUnit,
    WrongQuantity,
    codes_of,
    from_si,
    quantity_of,
    recognise,
    recognise_with_air_basis,
    to_si,
)

# QUDT multipliers and exact definitions, typed in here and not taken from the package or from pint.
FACTORS = {
    "m3/s": 1.0,
    "m3/h": 1 / 3600,
    "L/s": 1e-3,
    "cfm": 0.3048**3 / 60,
    "Pa": 1.0,
    "kPa": 1e3,
    "hPa": 1e2,
    "in_wc": 249.08891,
    "mm_wc": 9.80665,
    "inHg": 3386.388640341,
    "psi": 0.45359237 * 9.80665 / 0.0254**2,
    "m/s": 1.0,
    "fpm": 0.3048 / 60,
    "mph": 1609.344 / 3600,
    "m": 1.0,
    "cm": 1e-2,
    "mm": 1e-3,
    "in": 0.0254,
    "ft": 0.3048,
    "m2": 1.0,
    "ft2": 0.3048**2,
    "W": 1.0,
    "kW": 1e3,
    "hp": 550 * 0.3048 * 0.45359237 * 9.80665,
    "rpm": 1.0,
    "Hz": 1.0,
    "1": 1.0,
    "%": 1e-2,
    "mol/mol": 1.0,
    "ppm": 1e-6,
    "A": 1.0,
    "V": 1.0,
    "kg/m3": 1.0,
    "lb/ft3": 0.45359237 / 0.3048**3,
    "kg/kg": 1.0,
    "g/kg": 1e-3,
    "gr/lb": 1 / 7000,
    "J/kg": 1.0,
    "kJ/kg": 1e3,
    "Btu/lb": 2326.0,
    "m3/s/Pa^0.5": 1.0,
    "m3/h/Pa^0.5": 1 / 3600,
    "L/s/Pa^0.5": 1e-3,
    "cfm/in_wc^0.5": 0.3048**3 / 60 / 249.08891**0.5,
    "W/(m3/s)": 1.0,
    "W/(L/s)": 1e3,
    "W/cfm": 60 / 0.3048**3,
    "m3/s/m2": 1.0,
    "L/s/m2": 1e-3,
    "cfm/ft2": 0.3048 / 60,
    "kg": 1.0,
    "lb": 0.45359237,
    "kg/s": 1.0,
    "lb/h": 0.45359237 / 3600,
    "s": 1.0,
    "min": 60.0,
    "h": 3600.0,
    "delta_K": 1.0,
    "delta_degF": 5 / 9,
}
TEMPERATURES = {"degC", "degF", "K"}


def test_every_code_has_a_factor_checked_here() -> None:
    assert set(FACTORS) | TEMPERATURES == {entry.code for entry in units.UNITS}


@pytest.mark.parametrize(("code", "factor"), FACTORS.items())
def test_factor(code: str, factor: float) -> None:
    assert to_si(3.0, code) == pytest.approx(3.0 * factor, rel=1e-12)
    assert from_si(3.0 * factor, code) == pytest.approx(3.0, rel=1e-12)


@pytest.mark.parametrize(
    ("code", "value", "temperature_c"),
    [("degF", 68.0, 20.0), ("degF", -40.0, -40.0), ("K", 293.15, 20.0), ("degC", 20.0, 20.0)],
)
def test_temperature(code: str, value: float, temperature_c: float) -> None:
    assert to_si(value, code) == pytest.approx(temperature_c, abs=1e-10)
    assert from_si(temperature_c, code) == pytest.approx(value, abs=1e-10)


def test_inch_of_water_is_a_choice() -> None:
    assert to_si(1.0, "in_wc", inch_of_water_pa=INCH_OF_WATER_60F_PA) == 248.84
    assert to_si(1.0, "in_wc", inch_of_water_pa=INCH_OF_WATER_20C_PA) == 248.64
    assert to_si(25.4, "mm_wc", inch_of_water_pa=248.64) == pytest.approx(248.64)
    wide = to_si(1.0, "cfm/in_wc^0.5", inch_of_water_pa=4 * 249.08891)
    assert wide == pytest.approx(to_si(1.0, "cfm/in_wc^0.5") / 2)


def test_arrays_and_plain_floats() -> None:
    assert type(to_si(1.0, "cfm")) is float
    result = to_si(np.array([[0.0, 100.0]]), "cfm")
    assert isinstance(result, np.ndarray)
    assert result.shape == (1, 2)


SPELLINGS = {
    "cfm": ["CFM", "cfm", "Cfm", "(CFM)", "[cfm]", "ft3/min", "ft³/min", "cu. ft./min", "CU FT/MIN"],
    "L/s": ["l/s", "L/S", "L/s", "LPS", "lps", "l / s"],
    "m3/h": ["m³/h", "m3/h", "M3/H", "CMH", "m^3/h", "m3/hr", "m³/hr"],
    "m3/s": ["m³/s", "m3/s", "M3/S", "CMS"],
    "in_wc": ["in. w.c.", "IN WG", '"wg', '"WG', "in. H2O", "in H₂O", "inH2O", "IN. W.G.", "in.wg", "″wg"],
    "in_wc ": ["”WC", "INCHES W.G.", "iwc", "inches of water", '" W.C.', "in-wg", "''wg", "in_wc"],
    "mm_wc": ["mmH2O", "mm w.c.", "MM WG", "mm H2O"],
    "Pa": ["Pa", "PA", "pa"],
    "kPa": ["kPa", "KPA"],
    "hPa": ["hPa", "mbar", "MBAR"],
    "inHg": ["in. Hg", "inHg", "IN HG", '"Hg'],
    "psi": ["psi", "PSI"],
    "hp": ["HP", "hp", "BHP", "bhp", "Hp"],
    "kW": ["kW", "KW", "kw"],
    "W": ["W", "watts", "Watts"],
    "degF": ["°F", "deg F", "degF", "DEG F", "F", "℉"],
    "degC": ["°C", "deg C", "degC", "C", "℃"],
    "fpm": ["FPM", "fpm", "ft/min", "Ft/Min"],
    "m/s": ["m/s", "M/S"],
    "rpm": ["RPM", "rpm", "r/min"],
    "Hz": ["Hz", "HZ", "hz"],
    "%": ["%", "%RH", "% RH", "percent", "pct"],
    "A": ["A", "amps", "AMPS", "Amp"],
    "V": ["V", "volts", "VOLTS", "Vac"],
    "ft2": ["ft²", "ft2", "SQ FT", "sq. ft."],
    "m2": ["m²", "m2", "M2"],
    "in": ["in", "IN", "inches"],
    "ft": ["ft", "FT", "feet"],
    "mm": ["mm", "MM"],
    "m": ["m"],
    "K": ["K"],
    "ppm": ["ppm", "PPM"],
    "lb/ft3": ["lb/ft3", "lb/ft³", "LB/FT3"],
    "kg/m3": ["kg/m³", "KG/M3"],
    "gr/lb": ["gr/lb", "GR/LB"],
    "min": ["min", "MIN"],
    "h": ["h", "hr", "HRS"],
    "lb": ["lb", "LBS"],
}


@pytest.mark.parametrize(("code", "text"), [(code, text) for code, all_ in SPELLINGS.items() for text in all_])
def test_spelling(code: str, text: str) -> None:
    found = recognise(text)
    assert found is not None
    assert found.code == code.strip()


@pytest.mark.parametrize("entry", units.UNITS, ids=lambda entry: entry.code)
def test_own_code_and_label_are_recognised(entry: units.Unit) -> None:
    assert recognise(entry.code) is entry
    assert recognise(entry.label, quantity=entry.quantity) is entry


@pytest.mark.parametrize(
    "text",
    ["", " ", *"MkavwSHcf", "MPA", "mW", "MW", "mS", "psig", "psia", "ton", "gpm", "in.", '"', "wg", "w.c."],
)
def test_look_alike_is_none(text: str) -> None:
    assert recognise(text) is None


@pytest.mark.parametrize(
    "text", ["H2O", "SCFM", "acfm", "cfm/ft3", "cfm; drop", "centifermi", "kelvin*meter", "m3/s/s"]
)
def test_not_in_the_table_is_none(text: str) -> None:
    assert recognise(text) is None


def test_shared_spelling_is_resolved_by_the_quantity() -> None:
    for text in ("in.", '"', "in", "inches"):
        for quantity, code in (("pressure", "in_wc"), ("length", "in")):
            found = recognise(text, quantity=quantity)
            assert found is not None
            assert found.code == code
    assert recognise("F", quantity="temperature difference") is units.unit("delta_degF")
    assert recognise("in.", quantity="airflow") is None
    assert recognise("cfm", quantity="pressure") is None


def test_air_basis_is_kept() -> None:
    for text, code, basis in (("SCFM", "cfm", "standard"), ("ACFM", "cfm", "actual"), ("L/s", "L/s", None)):
        found = recognise_with_air_basis(text)
        assert found is not None
        assert (found[0].code, found[1]) == (code, basis)
    assert recognise_with_air_basis("Pa") is None


def test_unknown_unit_names_the_remedy() -> None:
    with pytest.raises(UnknownUnit, match="write 'L/s'") as caught:
        to_si(1.0, "l/S")
    assert caught.value.remedy == "write 'L/s'"
    with pytest.raises(UnknownUnit, match="use one of: m3/s"):
        from_si(1.0, "furlong")
    assert str(pickle.loads(pickle.dumps(caught.value))) == str(caught.value)


def test_wrong_quantity() -> None:
    with pytest.raises(WrongQuantity, match="'cfm' is a unit of airflow, not of pressure") as caught:
        to_si(1.0, "cfm", quantity="pressure")
    assert (caught.value.code, caught.value.expected) == ("cfm", "pressure")
    assert str(pickle.loads(pickle.dumps(caught.value))) == str(caught.value)
    with pytest.raises(ValueError, match="no such quantity"):
        codes_of("colour")


def test_each_quantity_has_its_si_code_in_it() -> None:
    assert {entry.quantity for entry in units.UNITS} == set(SI_CODES)
    for quantity, code in SI_CODES.items():
        assert quantity_of(code) == quantity
        assert to_si(1.25, code) == 1.25


def test_no_spelling_has_two_meanings() -> None:
    pairs = sorted(units._spellings())
    for (spelling, code), (other, other_code) in pairwise(pairs):
        assert spelling != other or code == other_code


def test_arrays_are_converted_like_numbers() -> None:
    """32 and 212 degF are 0 and 100 degC; 1000 cfm are 0.4719474432 m3/s (QUDT)."""
    assert to_si(np.array([32.0, 212.0]), "degF") == pytest.approx(np.array([0.0, 100.0]), abs=1e-9)
    assert from_si(np.array([0.0, 100.0]), "degF") == pytest.approx(np.array([32.0, 212.0]))
    assert to_si(np.array([1000.0]), "cfm") == pytest.approx(np.array([0.4719474432]), rel=1e-9)
    assert from_si(np.array([0.4719474432]), "cfm") == pytest.approx(np.array([1000.0]), rel=1e-9)


def test_standard_densities_are_the_three_of_the_trade() -> None:
    """T1.23: 0.075 lb/ft3 is 1.201385 kg/m3; the other two are 1.200 and 1.204 (20 degC dry)."""
    assert pytest.approx(1.201385, abs=1e-6) == units.STANDARD_DENSITY_0_075_LB_FT3_KG_M3
    assert (units.STANDARD_DENSITY_1_2_KG_M3, units.STANDARD_DENSITY_1_204_KG_M3) == (1.2, 1.204)
