"""Samples of one functional test: groups of like units to draw from, and what came of the drawn ones."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from commissioning.catalogue.procedures import Procedure
from commissioning.dossier.procedures.alike import likeness, name_of
from commissioning.dossier.procedures.plan import depends_on, planned
from commissioning.evidence.own_procedures import library_of
from commissioning.models import SampleUnit
from commissioning.samples.population import CENTRAL
from commissioning.verdicts.planned_tests import units_now
from commissioning.verdicts.sampled_tests import FAILS, failed_since, tested
from portfolio.models import Position


def drawable(project: UUID) -> dict[str, Procedure]:
    """What another contractor tests for life safety is tested at every unit."""
    return {code: one for code, one in library_of(project).procedures.items() if not one.witnessed}


@dataclass(frozen=True)
class Groups:
    """Ids by stratum, what the units of each have in common, and which are taken whole."""

    strata: dict[str, list[str]]
    common: dict[str, dict[str, Any]]
    whole: frozenset[str]


def groups_of(units: Collection[Position], procedure: Procedure, central: Collection[UUID]) -> Groups:
    """The units at which the test is due, like ones together.

    Where the test depends on settings and none of them is read, nobody can say which units are alike: all are tested.
    """
    held = units_now([one.pk for one in units])
    alike: dict[tuple[str, str], tuple[dict[str, Any], list[str]]] = {}
    strata: dict[str, list[str]] = {}
    common: dict[str, dict[str, Any]] = {}
    for one in units:
        plan = planned(held[one.pk], procedure)
        if not plan.is_due:
            continue
        if one.pk in central:
            strata.setdefault(CENTRAL, []).append(str(one.pk))
            continue
        like = likeness(held[one.pk], plan)
        alike.setdefault((one.kind, name_of(like)), (like, []))[1].append(str(one.pk))
    numbers: dict[str, int] = {}
    order = sorted(alike.items(), key=lambda one: (one[0][0], -len(one[1][1]), one[0][1]))  # the largest is group 1
    for (kind, _), (like, ids) in order:
        numbers[kind] = numbers.get(kind, 0) + 1
        name = f"{kind} {numbers[kind]}"
        strata[name], common[name] = sorted(ids), like
    blind = {name for name, like in common.items() if depends_on(procedure) and not like["settings"]}
    return Groups(strata, common, frozenset(blind))


def codes_of(rows: Sequence[SampleUnit], procedure: str, since: datetime) -> dict[UUID, tuple[str, str]]:
    """Where each drawn unit is, as agrees, differs, corrected or due, and why it is due."""
    held = tested({(row.position_id, procedure) for row in rows})
    return {row.position_id: _code(held.get((row.position_id, procedure)), since) for row in rows}


def _code(held: tuple[str, Mapping[str, Any]] | None, since: datetime) -> tuple[str, str]:
    outcome, result = held or ("", {})
    if outcome == FAILS:
        return "differs", ""
    if failed_since(result, since):
        return "corrected", ""
    if outcome == "conforms":
        return "agrees", ""
    return "due", (result.get("absence") or {}).get("text", "") or "not run yet"
