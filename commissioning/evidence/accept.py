"""Accepting what comes from the field: kept as it came, once, before anybody judges it.

An envelope whose frame can be read and attributed is kept even when its values cannot be evaluated; only what cannot
be read or attributed at all is refused, and what seems to hold a password. The same client id brings back the same
reply, byte for byte, for ever.
"""

import json
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction
from django.db.models import QuerySet
from django.utils import timezone

from commissioning import judging
from commissioning.dossier.canonical import sha256_hex
from commissioning.dossier.envelope import Envelope
from commissioning.dossier.problem import Problem
from commissioning.evidence.records import PARSE_VERSION, photos_of, record_of, supersessions_of
from commissioning.evidence.senders import SUBMIT, beyond, verb_of
from commissioning.models import Record, RecordPhoto, Submission, Supersession
from portfolio import access
from portfolio.door.limits import wait_to_submit_s
from portfolio.jobs import queue
from portfolio.models import AuditEvent, DeviceToken, Membership, Person, Position
from portfolio.models.prepared import Prepared

AHEAD = timedelta(hours=24)
"""How far a phone's clock may be ahead before somebody has to look at it."""

TOO_MANY = (
    "More was sent in a quarter of an hour than is taken. Nothing of this was kept: keep it and send it again later."
)
NOT_KEPT = "A password, a code of entry or a key seems to be in it. Nothing was kept: leave it out and send again."


@dataclass(frozen=True)
class Sender:
    person: Person
    token: DeviceToken | None = None
    request_id: str = ""


@dataclass(frozen=True)
class Kept:
    """Accepted now or earlier; `receipt` is the exact reply."""

    receipt: bytes
    is_replay: bool


@dataclass(frozen=True)
class Refused:
    status: int
    code: str
    detail: str
    problems: tuple[Problem, ...] = ()
    extra: dict[str, Any] = field(default_factory=dict)
    wait_s: int = 0  # after which the same may be sent again


class _TooMany(Exception):
    def __init__(self, wait_s: int) -> None:
        super().__init__(wait_s)
        self.wait_s = wait_s


Outcome = Kept | Refused


@dataclass(frozen=True)
class _Read:
    """One envelope on its way through: the bytes, their hash, and the frame if it could be read."""

    raw: bytes
    sha256: str
    envelope: Envelope


def accept(sender: Sender, raws: Sequence[bytes], *, key: str = "") -> list[Outcome]:
    """Keep each of these envelopes or say why not; one outcome per envelope, in order.

    `key` is the id that the sender believes a single envelope to have; another one is refused before it is kept.

    All that is kept is kept in one transaction with its job and its audit, so a crash leaves all or nothing.
    """
    for last_try in (False, True):
        try:
            with transaction.atomic():
                outcomes = _accept(sender, raws, key)
                wait_s = wait_to_submit_s(sender.person.pk, len(raws))
                if wait_s:
                    raise _TooMany(wait_s)
                return outcomes
        except _TooMany as many:
            return [Refused(429, "too_many", TOO_MANY, wait_s=many.wait_s)] * len(raws)
        except IntegrityError:  # another request kept the same client id meanwhile: look again, it is a replay now
            if last_try:
                raise
    raise AssertionError("unreachable")


def _accept(sender: Sender, raws: Sequence[bytes], key: str) -> list[Outcome]:
    now = timezone.now()
    outcomes: list[Outcome | None] = [None] * len(raws)
    read: dict[int, _Read] = {}
    for index, raw in enumerate(raws):
        found = judging.read_envelope(raw)
        if found.frame is None:
            outcomes[index] = Refused(400, "unreadable", found.problems[0].reason, tuple(found.problems))
        elif found.holds_secret:
            outcomes[index] = Refused(422, "secret", NOT_KEPT, tuple(found.problems))
        elif key and key != str(found.frame.id):
            outcomes[index] = Refused(422, "other_key", "The key is not the envelope's id. Send that id, or no key.")
        else:
            read[index] = _Read(raw, sha256_hex(raw), found.frame)
    places = _places_by_verb(sender.person, read.values())
    people = _colleagues(sender.person, {one.envelope.observed_by for one in read.values()})
    kept = _already_kept(sender.person, {one.envelope.id for one in read.values()})
    new: dict[int, tuple[Submission, Record, list[Supersession]]] = {}
    for index, one in read.items():
        earlier = kept.get(one.envelope.id)
        if earlier is not None:
            outcomes[index] = _again(one, earlier)
            continue
        place = places[verb_of(one.envelope.kind)].get(one.envelope.position)
        if not isinstance(place, access.Scope):
            outcomes[index] = place or _no_position(one)
            continue
        assert place.project_id is not None  # every position lies in a project
        beyond_it = beyond(sender.person, one.envelope, place)
        remarks = [*one.envelope.problems, *_doubts(one.envelope, people, now), *beyond_it]
        receipt = _receipt(one, now, remarks)
        submission = Submission(
            person=sender.person,
            client_id=one.envelope.id,
            project_id=place.project_id,
            sha256=one.sha256,
            raw=one.raw,
            receipt=receipt,
            received_at=now,
            token=sender.token,
        )
        new[index] = (submission, record_of(submission, one.envelope, remarks), [])
        kept[one.envelope.id] = (one.sha256, receipt)
        outcomes[index] = Kept(receipt, is_replay=False)
    if new:
        _write(sender, read, new)
    return [outcome for outcome in outcomes if outcome is not None]


def _places_by_verb(person: Person, read: Collection[_Read]) -> dict[str, dict[UUID, access.Scope | Refused]]:
    ids: dict[str, set[UUID]] = {}
    for one in read:
        ids.setdefault(verb_of(one.envelope.kind), set()).add(one.envelope.position)
    return {verb: _places(person, positions, verb) for verb, positions in ids.items()}


def _places(person: Person, ids: set[UUID], verb: str = SUBMIT) -> dict[UUID, access.Scope | Refused]:
    """Where the positions lie, or why this person may not submit there. What is not seen does not exist.

    Who may submit somewhere sees it, so only of the others it is asked whether they see it.
    """
    places: dict[UUID, access.Scope | Refused] = {}
    denied: dict[UUID, access.Denied] = {}
    for id, scope in Position.lie(ids).items():
        answer = access.may(person, verb, scope)
        if isinstance(answer, access.Denied):
            denied[id] = answer
        else:
            places[id] = scope
    if denied:
        for id in Position.objects.visible_to(person).filter(pk__in=denied).values_list("pk", flat=True):
            places[id] = Refused(403, "forbidden", denied[id].reason)
    return places


def _no_position(one: _Read) -> Refused:
    problem = Problem(
        "/position",
        str(one.envelope.position),
        "There is no such position, or it is not yours to see.",
        "Look the position up again; the record stays on your device until then.",
    )
    return Refused(404, "not_found", problem.reason, (problem,))


def _colleagues(person: Person, ids: set[UUID]) -> set[UUID]:
    """Those of the people named who have a part in the same firms' work as the sender, or are the sender."""
    others = ids - {person.pk}
    if not others:
        return {person.pk}
    firms = {m.firm_id for m in person.memberships_in_force if m.firm_id}
    projects = {m.project_id for m in person.memberships_in_force if m.project_id}
    rows = Membership.objects.filter(person__in=others)
    near = rows.filter(firm__in=firms) | rows.filter(project__in=projects) | rows.filter(project__firm__in=firms)
    return {person.pk, *near.values_list("person", flat=True)}


def _kept(person: UUID, ids: Collection[UUID]) -> QuerySet[Submission, Any]:
    rows = Submission.objects.filter(person=person, client_id__in=ids)
    return rows.values_list("client_id", "sha256", "receipt")


_KEPT = Prepared(lambda person, id: _kept(person, [id]), UUID, UUID)


def _already_kept(person: Person, ids: set[UUID]) -> dict[UUID, tuple[str, bytes]]:
    rows = _KEPT(person.pk, *ids) if len(ids) == 1 else _kept(person.pk, ids)
    return {client_id: (sha256, bytes(receipt)) for client_id, sha256, receipt in rows}


def _again(one: _Read, earlier: tuple[str, bytes]) -> Outcome:
    sha256, receipt = earlier
    if sha256 == one.sha256:
        return Kept(receipt, is_replay=True)
    return Refused(
        422,
        "other_bytes",
        "This id was used for another envelope. A changed record is a new envelope that supersedes the old one.",
        extra={"kept_sha256": sha256, "sent_sha256": one.sha256},
    )


def _doubts(envelope: Envelope, people: set[UUID], now: datetime) -> list[Problem]:
    """What can only be seen from here: who observed it, and whether the clock can be right."""
    doubts = []
    if envelope.observed_by not in people:
        doubts.append(
            Problem(
                "/observed_by",
                str(envelope.observed_by),
                "Nobody with this id works with you.",
                "Supersede it with the id of the person who took the readings.",
            )
        )
    if envelope.observed_at > now + AHEAD:
        doubts.append(
            Problem(
                "/observed_at",
                envelope.observed_at.isoformat(),
                "This lies in the future.",
                "Set the device's clock and supersede it.",
            )
        )
    return doubts


def _receipt(one: _Read, now: datetime, problems: list[Problem]) -> bytes:
    """Facts of acceptance only; what follows from the evidence is told elsewhere, and may change."""
    return json.dumps(
        {
            "id": str(one.envelope.id),
            "sha256": one.sha256,
            "received_at": now.isoformat(),
            "position": str(one.envelope.position),
            "state": "needs_attention" if problems else "kept",
            "problems": [problem.to_json() for problem in problems],
        },
        separators=(",", ":"),
        ensure_ascii=False,
    ).encode()


def _write(
    sender: Sender, read: dict[int, _Read], new: dict[int, tuple[Submission, Record, list[Supersession]]]
) -> None:
    """One statement per table, whatever the number of envelopes."""
    Submission.objects.bulk_create([submission for submission, _, _ in new.values()])
    for submission, record, _ in new.values():
        record.submission = submission
    records = Record.objects.bulk_create([record for _, record, _ in new.values()])
    supersessions, photos = [], []
    for (index, _), record in zip(new.items(), records, strict=True):
        supersessions += supersessions_of(record, read[index].envelope)
        photos += photos_of(record, read[index].envelope)
    _check_reach(sender.person, supersessions)
    Supersession.objects.bulk_create(supersessions)
    RecordPhoto.objects.bulk_create(photos)
    queue.want("judge", _concerned(records, supersessions))
    AuditEvent.objects.bulk_create(
        AuditEvent(
            person_id=sender.person.pk,
            token_id=sender.token.pk if sender.token else None,
            request_id=sender.request_id,
            verb="submit_evidence",
            object_type="commissioning.submission",
            object_id=str(submission.client_id),
            project_id=submission.project_id,
            detail={"sha256": submission.sha256},
        )
        for submission, _, _ in new.values()
    )


def _concerned(records: Sequence[Record], supersessions: Sequence[Supersession]) -> set[UUID]:
    """Positions to judge: where the records are, and where what they supersede was."""
    here = {record.position_id for record in records}
    if not supersessions:
        return here
    named = {one.names for one in supersessions}
    return here | set(Record.objects.filter(submission__client_id__in=named).values_list("position", flat=True))


def _check_reach(person: Person, supersessions: list[Supersession]) -> None:
    """Nobody takes out a record of a place where they may not submit, but for their own of a kind that they may send.

    Such a claim stays without effect.
    """
    named = {one.names for one in supersessions}
    if not named:
        return
    fields = ("submission__client_id", "position", "kind", "submission__person")
    rows = list(Record.objects.filter(submission__client_id__in=named).values_list(*fields))
    mine = {SUBMIT: _places(person, {position for _, position, _, _ in rows})}
    beyond_reach = set()
    for client_id, position, kind, by in rows:
        verb = verb_of(kind) if by == person.pk else SUBMIT
        if verb not in mine:
            mine[verb] = _places(person, {position for _, position, _, _ in rows}, verb)
        if not isinstance(mine[verb].get(position), access.Scope):
            beyond_reach.add(client_id)
    supersessions[:] = [one for one in supersessions if one.names not in beyond_reach]


__all__ = ["PARSE_VERSION", "Kept", "Outcome", "Refused", "Sender", "accept"]
