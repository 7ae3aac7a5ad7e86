"""What the functional tests of a unit are planned from: its design as it holds, its settings as they were last read."""

from collections.abc import Collection
from typing import Any
from uuid import UUID

from django.db.models import Prefetch

from commissioning.dossier.given import Place
from commissioning.dossier.procedures.plan import Unit, unit_of
from commissioning.models import JudgedPosition
from commissioning.verdicts.dossiers import conventions_of, describe
from portfolio.models import Installation, Position, bulk
from portfolio.models.design import DesignEntry

AT_THE_UNIT = ("as_found", "as_left", "follow_up")


def unit_now(position: Position) -> Unit:
    return units_now([position.pk])[position.pk]


def units_now(positions: Collection[UUID]) -> dict[UUID, Unit]:
    """In a fixed number of queries. Later readings of a setting stand over earlier ones."""
    rows = list(
        Position.objects.filter(bulk.among("pk", positions))
        .select_related("building__site", "system")
        .prefetch_related(
            Prefetch("design_entries", DesignEntry.objects.select_related("revision")),
            Prefetch("installations", Installation.objects.filter(until__isnull=True).select_related("machine")),
        )
    )
    values: dict[UUID, dict[str, Any]] = {}
    for pk, held in JudgedPosition.objects.filter(bulk.among("pk", positions)).values_list("pk", "measurements"):
        read = values.setdefault(pk, {})
        for one in held:
            if one["kind"] == "settings" and one["facts"]["moment"] in AT_THE_UNIT:
                read |= one["facts"]["values"]
    agreed = conventions_of({one.building.site.project_id for one in rows})
    return {
        one.pk: unit_of(
            Place.from_json(describe(one)),
            values.get(one.pk, {}),
            basis_when_not_stated=agreed[one.building.site.project_id]["basis_when_not_stated"],
        )
        for one in rows
    }
