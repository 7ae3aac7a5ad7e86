"""Freezing: what a binder will show, taken from one moment of the database and written as canonical JSON.

The verdicts are not copied: they are made here from the evidence that goes along, so that they and it always belong
together. Names of people become text at this moment; times are told in the zone of the site.
"""

import tomllib
import zlib
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from importlib import metadata
from pathlib import Path
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

import pikepdf
import reportlab

from commissioning import judging, standing
from commissioning.binders import document, sampled, snapshot
from commissioning.binders.render.fonts import versions as font_versions
from commissioning.binders.snapshot import Snapshot
from commissioning.dossier.canonical import canonical_json
from commissioning.dossier.own_checks import merged
from commissioning.dossier.own_equipment import kind_in_words
from commissioning.judging import signing
from commissioning.models import Binder, Issue, IssueEvent, Record, Signature
from commissioning.verdicts.keep import outcome_of
from portfolio.blobs.photos import PhotoRefused, view_copy
from portfolio.blobs.store import BlobUnusable, read_blob
from portfolio.models import Building, Position, Standing

_FOR_OWNERS = {
    Standing.Code.DRAFT: "A finding waits for the firm to decide what follows from it.",
    Standing.Code.SIGNABLE: "Everything that is due conforms.",
}
"""What stands in a binder where the firm's own lists say what to do next."""


class Photos(Mapping[str, bytes]):
    """The photos of a binder by the hash of the copy that is shown; read when they are asked for."""

    def __init__(self, hashes: set[str]) -> None:
        self._hashes = hashes

    def __getitem__(self, sha256: str) -> bytes:
        if sha256 not in self._hashes:
            raise KeyError(sha256)
        return read_blob(sha256)

    def __iter__(self) -> Iterator[str]:
        return iter(sorted(self._hashes))

    def __len__(self) -> int:
        return len(self._hashes)


@dataclass(frozen=True)
class Frozen:
    """`json` is what is kept and rendered; `input_hash` the hash of it without who asked."""

    json: bytes
    input_hash: str
    photos: Photos


def freeze(binder: Binder) -> Frozen:
    taken = snapshot.take(binder)
    clock = _Clock(taken)
    written: dict[str, Any] = {
        "schema": document.SCHEMA,
        "title": binder.title,
        "as_of": clock.local(_newest(taken), taken.positions[0].building),
        "asked": {
            "by": binder.asked_by.name,
            "at": clock.local(binder.asked_at, taken.positions[0].building),
        },
        "made_with": made_with(),
        "project": {"id": str(taken.project.pk), "code": taken.project.code, "name": taken.project.name},
        "owner": {"id": str(taken.project.owner_id), "name": taken.project.owner.name},
        "firm": {"id": str(taken.project.firm_id), "name": taken.project.firm.name},
        "buildings": [_building(one) for one in snapshot.buildings_of(taken)],
        "judging": _judging(taken),
        "withheld": _withheld(taken),
        "set_aside": [_set_aside(one) for one in taken.records if one.needs_attention],
        "manifest": _manifest(taken, clock),
        "photos": _photos(taken),
    }
    written["judged"] = document.judged(written)
    outcomes = _outcomes(written["judged"])
    for one in written["judged"]["positions"]:
        _as_judged(taken.seen[UUID(one["id"])], one["judgements"], outcomes[one["id"]])
    written["units"] = [_unit(taken, one, clock) for one in taken.positions]
    written["issues"] = [_issue(taken, one, outcomes, clock) for one in taken.issues]
    written["samples"] = [sampled.frozen(one, lambda moment: clock.local(moment, None)) for one in taken.samples]
    written["not_tested"] = document.not_tested(written["judged"], written["units"])
    plain = canonical_json(written)
    views = {one["view"] for one in written["photos"] if one["view"]}
    return Frozen(plain, document.input_hash(document.read(plain)), Photos(views))


class _Clock:
    """Moments as they were in the zone of a building's site."""

    def __init__(self, taken: Snapshot) -> None:
        self.building_of = {one.pk: one.building for one in taken.positions}
        self.first = taken.positions[0].building

    def local(self, moment: datetime, building: Building | None) -> str:
        zone = ZoneInfo((building or self.first).site.time_zone)
        return moment.astimezone(zone).isoformat(timespec="seconds")

    def at(self, moment: datetime, position: UUID) -> str:
        return self.local(moment, self.building_of.get(position))


def _newest(taken: Snapshot) -> datetime:
    """The last thing that was entered of all that is in the binder."""
    received: list[datetime] = [one.submission.received_at for one in (*taken.records, *taken.elsewhere)]
    told: list[datetime] = [event.at for issue in taken.issues for event in issue.events.all()]
    return max([*received, *told, *taken.moments])


@cache
def made_with() -> dict[str, Any]:
    """What the same input may print differently with: so it belongs to the input."""
    return {
        "software": f"ventfolio {_version()}",
        "rules": {code: rule.VERSION for code, rule in judging.RULES.items()},
        "kinds": {code: kind.VERSION for code, kind in judging.KINDS.items()},
        "rules_hash": judging.rules_hash(),
        "libraries": {
            "reportlab": reportlab.__version__,
            "pikepdf": pikepdf.__version__,
            "qpdf": pikepdf.__libqpdf_version__,
            "pillow": metadata.version("pillow"),
            "zlib": zlib.ZLIB_RUNTIME_VERSION,
        },
        "fonts": font_versions(),
    }


def _version() -> str:
    """As pyproject.toml says: the tree is run in place, not installed."""
    with (Path(__file__).resolve().parents[2] / "pyproject.toml").open("rb") as file:
        return str(tomllib.load(file)["project"]["version"])


def _building(building: Building) -> dict[str, Any]:
    site = building.site
    return {
        "id": str(building.pk),
        "name": building.name,
        "site": {
            "name": site.name,
            "address": site.address,
            "time_zone": site.time_zone,
            "elevation_m": site.elevation_m,
        },
    }


# --- evidence ----------------------------------------------------------------------------------------------------
def _judging(taken: Snapshot) -> dict[str, Any]:
    """The judging document: everything that can be evaluated, what was superseded too, and what supersedes it."""
    raws = [bytes(one.submission.raw) for one in (*taken.records, *taken.elsewhere) if not one.needs_attention]
    used = _instruments_in(raws)
    first = taken.positions[0].pk
    gathered = taken.gathered
    tools = gathered.instruments.get(gathered.firm_of[first], [])
    return {
        "schema": "ventfolio/judge/1",
        "conventions": gathered.conventions[gathered.project_of[first]],
        "instruments": [one for one in tools if one["id"] in used],
        "positions": [gathered.positions[one.pk] for one in taken.positions],
        "envelopes": [raw.decode() for raw in raws],
    }


def _instruments_in(raws: list[bytes]) -> set[str]:
    used: set[str] = set()
    for raw in raws:
        frame = judging.read_envelope(raw).frame
        if frame is not None and frame.payload is not None:
            used |= judging.KINDS[frame.kind].instruments(frame.payload)
    return used


def _withheld(taken: Snapshot) -> list[dict[str, str]]:
    """Supersessions that an envelope claims and acceptance did not grant, since its sender may not submit there."""
    granted = {(one.record_id, one.names) for one in taken.supersessions}
    present = {one.submission.client_id for one in taken.records if not one.needs_attention}
    found = []
    for record in (*taken.records, *taken.elsewhere):
        frame = None if record.needs_attention else judging.read_envelope(bytes(record.submission.raw)).frame
        for one in frame.supersedes if frame else ():
            if one.id in present and (record.pk, one.id) not in granted:
                found.append({"envelope": str(record.submission.client_id), "names": str(one.id)})
    return found


def _set_aside(record: Record) -> dict[str, Any]:
    return {
        "id": str(record.submission.client_id),
        "raw": bytes(record.submission.raw).decode(),
        "problems": record.problems,
    }


def _manifest(taken: Snapshot, clock: _Clock) -> list[dict[str, Any]]:
    by = defaultdict(list)
    for one in taken.supersessions:
        by[one.names].append({"by": str(one.record.submission.client_id), "reason": one.reason})
    return [_evidence(taken, one, by[one.submission.client_id], clock) for one in (*taken.records, *taken.elsewhere)]


def _evidence(taken: Snapshot, record: Record, superseded: list[dict[str, str]], clock: _Clock) -> dict[str, Any]:
    submission = record.submission
    return {
        "id": str(submission.client_id),
        "position": str(record.position_id),
        "tag": record.position.tag,
        "kind": record.kind,
        "sha256": submission.sha256,
        "observed_at": clock.at(record.observed_at, record.position_id),
        "observed_by": _name(taken, record.observed_by),
        "received_at": clock.at(submission.received_at, record.position_id),
        "sent_by": _name(taken, submission.person_id),
        "session": record.session,
        "is_final": record.is_final,
        "held": "set_aside" if record.needs_attention else "judging",
        "superseded": superseded,
    }


def _name(taken: Snapshot, person: UUID | None) -> str:
    return "" if person is None else taken.names.get(person, f"person {person}")


def _photos(taken: Snapshot) -> list[dict[str, Any]]:
    found = []
    for sha256, caption, belongs_to in snapshot.photos_of(taken):
        view, missing = _view(taken, sha256)
        found.append({"sha256": sha256, "view": view, "missing": missing, "caption": caption, "belongs_to": belongs_to})
    return found


def _view(taken: Snapshot, sha256: str) -> tuple[str | None, str]:
    blob = taken.blobs.get(sha256)
    if blob is None:
        return None, "it has not been received"
    try:
        copy = view_copy(blob)
        read_blob(copy.sha256)
    except (BlobUnusable, PhotoRefused) as fault:
        return None, str(fault)
    return copy.sha256, ""


# --- what follows from it ----------------------------------------------------------------------------------------
Outcomes = dict[tuple[str, str], str]


def _outcomes(judged: Mapping[str, Any]) -> dict[str, Outcomes]:
    return {
        position["id"]: {(one["requirement"], one["port"]): outcome_of(one) for one in position["judgements"]}
        for position in judged["positions"]
    }


def _as_judged(seen: standing.Seen, judgements: list[dict[str, Any]], outcomes: Outcomes) -> None:
    """Where a unit stands by what the binder itself judges."""
    seen.outcomes = outcomes
    seen.lines = signing.lines_of(judgements)
    seen.deferred = {one["port"] for one in judgements if signing.is_deferred(one)}


def _unit(taken: Snapshot, position: Position, clock: _Clock) -> dict[str, Any]:
    seen = taken.seen[position.pk]
    return {
        "position": str(position.pk),
        "tag": position.tag,
        "kind": _kind(taken, position),
        "building": str(position.building_id),
        "location": position.location,
        "scope": position.scope,
        "scope_in_words": position.get_scope_display(),
        "scope_reason": position.scope_reason,
        "also_called": [one.tag for one in position.aliases.all()],
        "serves": [one.name for one in position.spaces.all()],
        "machines": [
            {
                "serial": one.machine.serial,
                "maker": one.machine.maker,
                "model": one.machine.model,
                "since": one.since.isoformat(),
                "until": _day(one.until),
            }
            for one in position.installations.all()
        ],
        "standing": _standing(standing.decide(seen), seen),
        **({"signature": _signature(taken, seen, seen.signature, clock)} if seen.signature else {}),
    }


def _kind(taken: Snapshot, position: Position) -> str:
    """By the firm's own name where the design gives one; the kind that it is like stays beside it."""
    gathered = taken.gathered
    words = merged(gathered.conventions[gathered.project_of[position.pk]].get("own_checks")).words
    title = str(position.get_kind_display())
    return kind_in_words(position.kind, title, gathered.positions[position.pk]["design"], words)


def _signature(taken: Snapshot, seen: standing.Seen, signature: Signature, clock: _Clock) -> dict[str, Any]:
    broken = seen.broken
    return {
        "number": signature.number,
        "by": _name(taken, signature.signed_by_id),
        "at": clock.at(signature.signed_at, signature.position_id),
        "note": signature.note,
        "sha256": signature.sha256,
        "statement": signature.statement,
        "stands": not broken,
        "void": standing.void_in_words(signature, broken, seen.zone) if broken else "",
    }


def _standing(place: standing.Place, seen: standing.Seen) -> dict[str, Any]:
    company = next((one.company for one in seen.issues if one.company_id == place.company_id and one.company), None)
    return {
        "code": str(place.code),
        "sentence": _sentence(place, seen),
        "company": company.name if company else None,
        "since": _day(place.since),
        "due": _day(place.due),
    }


def _sentence(place: standing.Place, seen: standing.Seen) -> str:
    if place.code not in _FOR_OWNERS:
        return place.sentence
    void = standing.void_in_words(seen.signature, seen.broken, seen.zone) if seen.signature and seen.broken else ""
    return " ".join(filter(None, (_FOR_OWNERS[place.code], void)))


def _issue(taken: Snapshot, issue: Issue, outcomes: Mapping[str, Outcomes], clock: _Clock) -> dict[str, Any]:
    checks = list(issue.checks.all())
    building = clock.building_of.get(checks[0].position_id) if checks else None
    return {
        "number": issue.number,
        "title": issue.title,
        "state": issue.state,
        "state_in_words": issue.get_state_display(),
        "is_open": issue.is_live,
        "priority": issue.priority,
        "root_cause": issue.root_cause,
        "company": issue.company.name if issue.company else None,
        "assignee": _name(taken, issue.assignee_id) or None,
        "due": _day(issue.due),
        "opened_at": clock.local(issue.opened_at, building),
        "moved_at": clock.local(issue.moved_at, building),
        "wasted_call_outs": issue.wasted_call_outs,
        "checks": [
            {
                "position": str(one.position_id),
                "tag": one.position.tag,
                "requirement": one.requirement,
                "port": one.port,
                "outcome": outcomes[str(one.position_id)].get((one.requirement, one.port), "not_judged"),
            }
            for one in checks
        ],
        "story": [_event(taken, one, building, clock) for one in issue.events.all()],
    }


def _event(taken: Snapshot, event: IssueEvent, building: Building | None, clock: _Clock) -> dict[str, Any]:
    return {
        "at": clock.local(event.at, building),
        "who": event.said_by or _name(taken, event.person_id),
        "act": event.act,
        "before": event.before,
        "after": event.after,
        "text": event.text,
        "photo": event.detail.get("sha256"),
    }


def _day(value: date | None) -> str | None:
    return value.isoformat() if value else None
