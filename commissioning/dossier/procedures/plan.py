"""The test plan of a unit: which procedures apply and why the others do not, which steps, what each has to come to.

From kind, options and settings. Nothing here looks at a run.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from commissioning.catalogue.procedures import ALL, LIBRARY, Applies, Library, Procedure, Step, When, applies
from commissioning.catalogue.units import Equipment
from commissioning.dossier.checklist import equipment_of
from commissioning.dossier.given import Place
from commissioning.dossier.procedures.expected import EXPECTATIONS, Expected, expected
from commissioning.dossier.procedures.named import strange
from commissioning.dossier.settings.catalogue import CATALOGUE, Plain
from commissioning.dossier.settings.rules import Case

NOT_KNOWN = "Not known: neither the design's options nor the settings tell whether it applies."


@dataclass(frozen=True, slots=True)
class Asked:
    """A step of this unit's test. `missing`: settings that were not read and without which no value can be told."""

    step: Step
    expected: Expected | None = None
    missing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Planned:
    """One procedure for one unit. `is_due`: the design's list of tests names it."""

    procedure: Procedure
    applies: Applies
    is_due: bool
    reason: str
    steps: tuple[Asked, ...]


@dataclass(frozen=True, slots=True)
class Unit:
    """What a plan is made from."""

    equipment: Equipment
    is_listed: bool  # the design says what it has
    tests: tuple[str, ...]  # the design's list of tests
    case: Case
    design_basis: str = ""


def unit_of(place: Place, values: Mapping[str, Plain], *, basis_when_not_stated: str) -> Unit:
    """`values` are the settings as they are known, in SI."""
    given = place.parts("equipment").get("unit") or {}
    outdoor = place.ports.get("outdoor")
    basis = outdoor.basis if outdoor else "not_stated"
    return Unit(
        equipment=equipment_of(place.kind, place.design),
        is_listed=given.get("options") is not None,
        tests=tuple(given.get("tests") or ()),
        case=Case(values=values, minimum_m3_s=outdoor.minimum_m3_s if outdoor else None),
        design_basis=basis_when_not_stated if basis == "not_stated" else basis,
    )


def plan_of(unit: Unit, library: Library) -> Iterator[Planned]:
    """Every procedure, in the order in which a unit is tested."""
    for procedure in library.procedures.values():
        yield planned(unit, procedure)


def planned(unit: Unit, procedure: Procedure) -> Planned:
    found = _applies(unit, procedure.when)
    named = procedure.code in unit.tests
    is_due = named or (ALL in unit.tests and found != "no")
    reason = {"yes": _why(unit, named), "no": procedure.otherwise, "not_known": NOT_KNOWN}[found]
    return Planned(procedure, found, is_due, reason, tuple(_steps(unit, procedure)))


def _applies(unit: Unit, ways: tuple[When, ...]) -> Applies:
    return applies(ways, unit.equipment, unit.case.values, is_listed=unit.is_listed)


def _why(unit: Unit, named: bool) -> str:
    if named:
        return "The design's list of tests names it."
    return (
        "The design asks for all tests that apply." if ALL in unit.tests else "It applies; no list of tests names it."
    )


def _steps(unit: Unit, procedure: Procedure) -> Iterator[Asked]:
    """Steps that apply, and those of which it is not known."""
    for step in procedure.steps:
        if step.retired or _applies(unit, step.when) == "no":
            continue
        found = expected(step.expects, unit.case, design_basis=unit.design_basis) if step.expects else ()
        yield Asked(step, found) if isinstance(found, Expected) else Asked(step, None, found)


def depends_on(procedure: Procedure) -> tuple[str, ...]:
    """Settings a change of which makes it due again, in the order of their catalogue."""
    named = set(procedure.settings)
    for step in procedure.steps:
        named |= {code for way in step.when for code in way.settings}
        named |= set(EXPECTATIONS[step.expects].settings) if step.expects else set()
    named |= {code for way in procedure.when for code in way.settings}
    return tuple(code for code in CATALOGUE.settings if code in named)


def _held_to_the_catalogue() -> None:
    """What a procedure names has to be there: seen when this is read, not when a unit is tested."""
    for procedure in LIBRARY.procedures.values():
        for fault in strange(procedure):
            raise ValueError(f"{procedure.code}: {fault}")


_held_to_the_catalogue()
