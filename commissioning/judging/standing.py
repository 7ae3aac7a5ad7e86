"""Which envelopes stand: those that nobody supersedes, in whatever order they arrived."""

from collections.abc import Iterable, Mapping
from uuid import UUID

from commissioning.dossier.envelope import Envelope
from commissioning.dossier.field_record import FieldRecord
from commissioning.dossier.problem import Problem


def superseded(envelopes: Iterable[Envelope]) -> frozenset[UUID]:
    """Ids that a readable envelope says no longer stand, itself superseded or not.

    A contractor's word takes out what the same person said, and nobody else's.
    """
    held = list(envelopes)
    by = {envelope.id: envelope.observed_by for envelope in held}
    return frozenset(
        one.id
        for envelope in held
        if not envelope.problems
        for one in envelope.supersedes
        if not _is_on_behalf(envelope) or by.get(one.id) == envelope.observed_by
    )


def _is_on_behalf(envelope: Envelope) -> bool:
    return isinstance(envelope.payload, FieldRecord) and bool(envelope.payload.on_behalf_of)


def circles(envelopes: Mapping[UUID, Envelope]) -> dict[UUID, Problem]:
    """Envelopes that supersede one another in a circle: none of them can stand, and somebody has to say which does."""
    names = {
        id: [one.id for one in envelope.supersedes if one.id in envelopes]
        for id, envelope in envelopes.items()
        if not envelope.problems
    }
    found = {}
    for id in names:
        if _reaches(id, id, names):
            found[id] = Problem(
                "/supersedes",
                str(id),
                "These envelopes supersede one another in a circle: none of them stands.",
                "Send a new envelope that supersedes them all.",
            )
    return found


def _reaches(start: UUID, goal: UUID, names: Mapping[UUID, list[UUID]]) -> bool:
    seen: set[UUID] = set()
    waiting = list(names.get(start, ()))
    while waiting:
        here = waiting.pop()
        if here == goal:
            return True
        if here not in seen:
            seen.add(here)
            waiting += names.get(here, ())
    return False
