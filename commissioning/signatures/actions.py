"""Signing for a unit: one act, by who may, for exactly the judgements that the person saw."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.http import HttpRequest
from django.utils import timezone
from rest_framework.request import Request

from commissioning import standing
from commissioning.judging import signing
from commissioning.models import Signature
from commissioning.verdicts import signed
from portfolio import access, audit
from portfolio.models import Job, Person, Position, Standing


class CannotSign(Exception):
    """Why it cannot be signed, and what to do instead."""

    def __init__(self, reason: str, remedy: str) -> None:
        super().__init__(f"{reason} {remedy}")
        self.reason, self.remedy = reason, remedy


class SeenOtherwise(CannotSign):
    """What would be signed now is not what the person saw."""

    def __init__(self, now: "Signable") -> None:
        super().__init__("The verdicts are others than those that you saw.", "Look at the unit again, then sign.")
        self.now = now


@dataclass(frozen=True)
class Signable:
    """What a signature given now would cover; `sha256` is empty where nothing can be signed now."""

    sha256: str = ""
    judgements: int = 0
    accepted: int = 0
    deferred: tuple[str, ...] = ()
    statement: Mapping[str, Any] = field(default_factory=dict)


def sign(
    *, position: Position, person: Person, of: str, note: str = "", request: Request | HttpRequest | None = None
) -> Signature:
    """Sign for what hashes to `of`. Raises access.Forbidden or CannotSign; then nothing has changed.

    Sent again by the same person, the same words of the same verdicts are the signature that stands already.
    """
    access.require(person, "sign_unit", position)
    with transaction.atomic():
        jobs = list(
            Job.objects.select_for_update().filter(kind="judge", subject=position.pk)
        )  # judging waits, or we do
        if any(job.due for job in jobs):
            raise CannotSign("A judging of this unit is under way.", "Look at what it says, then sign.")
        Position.objects.select_for_update().get(pk=position.pk)
        seen = _seen(position.pk)
        before = Signature.objects.filter(position=position).order_by("-number").first()
        if before and not seen.broken and (before.signed_by_id, before.sha256, before.note) == (person.pk, of, note):
            return before
        said = _required(seen, of)
        signature = Signature.objects.create(
            position=position,
            number=before.number + 1 if before else 1,
            signed_by=person,
            signed_at=timezone.now(),
            statement=said,
            sha256=of,
            note=note,
        )
        audit.note(
            request=request,
            person=person,
            verb="sign_unit",
            obj=signature,
            project_id=position.building.site.project_id,
            detail={"position": str(position.pk), "number": signature.number, "sha256": of},
        )
        standing.refresh([position.pk])
    return signature


def _required(seen: standing.Seen, of: str) -> dict[str, object]:
    place = standing.decide(seen)
    if place.code in (Standing.Code.SIGNED, Standing.Code.SEASON):
        raise CannotSign("This unit is signed for, and nothing has changed since.", "Nothing is to be done.")
    if place.code != Standing.Code.SIGNABLE:
        raise CannotSign(f"This unit cannot be signed yet. {place.sentence}", "See to that first.")
    said = seen.statement
    if signing.hash_of(said) != of:
        raise SeenOtherwise(_signable(seen))
    return said


def _seen(position: UUID) -> standing.Seen:
    """With the judgements, whether it was signed before or not."""
    (seen,) = standing.gather([position])
    seen.lines = seen.lines or signed.lines([position])[position]
    return seen


@dataclass(frozen=True)
class Told:
    """A signature as page and API tell it."""

    number: int
    person: UUID
    by: str
    at: datetime
    sha256: str
    note: str
    stands: bool
    state: str  # "It stands.", or why not


@dataclass(frozen=True)
class OfUnit:
    told: list[Told]  # the newest first: only that one can stand
    signable: Signable


def of_unit(position: UUID) -> OfUnit:
    """The signatures of a unit, and what one given now would cover."""
    seen = _seen(position)
    rows = list(Signature.objects.filter(position=position).select_related("signed_by").order_by("-number"))
    newest = standing.void_in_words(rows[0], seen.broken, seen.zone) if seen.broken else _STANDS
    states = [newest, *("A later one took its place." for _ in rows[1:])]
    return OfUnit([_told(row, state) for row, state in zip(rows, states, strict=False)], _signable(seen))


_STANDS = "It stands."


def _told(row: Signature, state: str) -> Told:
    by = row.signed_by
    return Told(row.number, by.pk, by.name, row.signed_at, row.sha256, row.note, state == _STANDS, state)


def _signable(seen: standing.Seen) -> Signable:
    if standing.decide(seen).code != Standing.Code.SIGNABLE:
        return Signable()
    said = seen.statement
    return Signable(
        signing.hash_of(said), len(said["judgements"]), len(said["accepted"]), tuple(said["deferred"]), said
    )
