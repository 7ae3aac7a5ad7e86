"""What units were signed for, and what is judged of them now."""

from collections.abc import Collection
from uuid import UUID

from commissioning.judging.signing import TESTS, is_deferred
from commissioning.models import CurrentVerdict, Signature
from portfolio.models import bulk

Lines = list[tuple[str, str, str, str]]  # requirement, port, outcome, hash of the result


def newest(positions: Collection[UUID]) -> dict[UUID, Signature]:
    rows = Signature.objects.newest().filter(bulk.among("position", positions))
    return {one.position_id: one for one in rows}


def lines(positions: Collection[UUID]) -> dict[UUID, Lines]:
    """The judgements that hold now of each position."""
    held: dict[UUID, Lines] = {pk: [] for pk in positions}
    rows = CurrentVerdict.objects.filter(bulk.among("position", positions))
    for pk, *line in rows.values_list("position", "requirement", "port", "outcome", "judgement__result_hash"):
        held[pk].append((line[0], line[1], line[2], line[3]))
    return held


def deferred(positions: Collection[UUID]) -> dict[UUID, set[str]]:
    """Procedures whose last run says that they wait for the season; of positions that have one not run yet."""
    held: dict[UUID, set[str]] = {pk: set() for pk in positions}
    rows = CurrentVerdict.objects.filter(bulk.among("position", positions), requirement=TESTS, outcome="not_due")
    for pk, port, result in rows.values_list("position", "port", "judgement__result"):
        if is_deferred(result):
            held[pk].add(port)
    return held
