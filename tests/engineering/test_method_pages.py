"""The committed pages say what the code says, and every name carries the unit that its docstring states."""

from __future__ import annotations

import inspect

import pytest

from tests.engineering.method_pages import DOCS, methods, modules, names, nomenclature, public

# The longest suffix wins. A name that only looks as if it ended in a unit is excused by name.
SUFFIX_UNITS = {
    "_m3_s": "m3/s",
    "_m3_s_m2": "m3/s per m2",
    "_m3_s_per_sqrt_pa": "m3/s per root of Pa",
    "rate_per_person_m3_s": "m3/s per person",
    "_pa": "Pa",
    "_pa_s": "Pa s",
    "_kpa": "kPa",
    "_c": "degC",
    "_k": "K",
    "_per_k": "1/K",
    "_j_kg": "J/kg",
    "_j_kg_k": "J/(kg K)",
    "_kg_m3": "kg/m3",
    "_kg_s": "kg/s",
    "_m_s": "m/s",
    "_m": "m",
    "_m2": "m2",
    "_m3": "m3",
    "_w": "W",
    "_w_k": "W/K",
    "_w_m3_s": "W/(m3/s)",
    "_rpm": "rpm",
    "_a": "A",
    "_v": "V",
    "_s": "s",
    "_deg": "deg",
    "_mj_day": "MJ/day",
    "_met": "met",
    "_diameters": "hydraulic diameters",
}
NO_UNIT = {"expanded_uncertainty_a", "weight_a"}


def unit_of(name: str) -> str | None:
    matching = [suffix for suffix in SUFFIX_UNITS if name.endswith(suffix)]
    return SUFFIX_UNITS[max(matching, key=len)] if matching and name not in NO_UNIT else None


def test_nomenclature_is_what_the_code_says() -> None:
    assert (DOCS / "nomenclature.md").read_text(encoding="utf-8") == nomenclature()


def test_methods_are_what_the_code_says() -> None:
    assert (DOCS / "methods.md").read_text(encoding="utf-8") == methods()


def test_every_parameter_is_named() -> None:
    documented = {(entry.where, entry.name) for entry in names()}
    for module in modules():
        short = module.__name__.rpartition(".")[2]
        for owner, function in public(module, inspect.isfunction):
            for parameter in inspect.signature(function).parameters:
                assert (f"{short}.{owner}", parameter) in documented


@pytest.mark.parametrize("entry", names(), ids=lambda entry: f"{entry.where}:{entry.name}")
def test_suffix_and_stated_unit_agree(entry: object) -> None:
    name, unit = getattr(entry, "name", ""), getattr(entry, "unit", "")
    expected = unit_of(name)
    if expected is not None:
        assert unit == expected
