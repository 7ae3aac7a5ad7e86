"""Which units are alike for a functional test: the same kind, options, sensors, steps and settings that matter."""

from typing import Any

from commissioning.dossier.canonical import canonical_json, sha256_hex
from commissioning.dossier.procedures.plan import Planned, Unit, depends_on

_DIGITS = 6  # significant: the same number typed in another unit is the same


def likeness(unit: Unit, plan: Planned) -> dict[str, Any]:
    """What units have to have in common. Settings that were not read are left out."""
    values = unit.case.values
    return {
        "kind": unit.equipment.kind,
        "options": sorted(unit.equipment.options),
        "sensors": sorted(unit.equipment.sensors),
        "steps": [one.step.id for one in plan.steps],
        "settings": {code: _same(values[code]) for code in depends_on(plan.procedure) if code in values},
    }


def name_of(likeness: dict[str, Any]) -> str:
    return sha256_hex(canonical_json(likeness))[:16]


def _same(value: Any) -> Any:
    """
    >>> _same(0.4719474432), _same("schedule"), _same(True)
    (0.471947, 'schedule', True)
    """
    return float(f"{value:.{_DIGITS}g}") if isinstance(value, float) else value
