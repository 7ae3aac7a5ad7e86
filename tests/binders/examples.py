"""Frozen documents without a database: the invented scenario as a binder, and copies of its units for larger ones."""

import copy
import uuid
from collections.abc import Iterable
from typing import Any

from commissioning import judging
from commissioning.binders import document
from commissioning.binders.render.fonts import versions
from commissioning.dossier.canonical import canonical_json
from fixtures.scenario import as_document

SPACE = uuid.UUID("b1d0e200-0000-4000-8000-000000000000")
STORY = (
    ("draft", "", "", "draft", "Found by judging."),
    ("release", "Imre Castellan", "draft", "released", "Look at the outdoor air damper first."),
    ("answer_ready", "Calder Mechanical", "released", "ready", "Linkage set, the blade opens fully; see the photo."),
    ("retest_failed", "", "ready", "released", "The evidence of 12 May still fails."),
    ("close", "Imre Castellan", "ready", "closed", ""),
)


def many(units: int, project: str = "ov-2601") -> dict[str, Any]:
    """A judging document of so many units: the scenario's, then copies of them with ids and tags of their own."""
    given = as_document.document(project)
    by_position: dict[str, list[dict[str, Any]]] = {one["id"]: [] for one in given["positions"]}
    for envelope in given["envelopes"]:
        by_position[envelope["position"]].append(envelope)
    positions, envelopes = [], []
    for index in range(units):
        source = given["positions"][index % len(given["positions"])]
        round_ = index // len(given["positions"])
        positions.append(_copy_of(source, round_))
        envelopes += [_moved(one, round_) for one in by_position[source["id"]]]
    raws = [canonical_json(one).decode() for one in envelopes]
    return {**given, "positions": positions, "envelopes": raws}


def _again(id: str, round_: int) -> str:
    return id if round_ == 0 else str(uuid.uuid5(SPACE, f"{id} {round_}"))


def _copy_of(position: dict[str, Any], round_: int) -> dict[str, Any]:
    tag = position["tag"] if round_ == 0 else f"{position['tag']}-{round_}"
    return {**position, "id": _again(position["id"], round_), "tag": tag}


def _moved(envelope: dict[str, Any], round_: int) -> dict[str, Any]:
    moved = copy.deepcopy(envelope)
    moved["id"], moved["position"] = _again(envelope["id"], round_), _again(envelope["position"], round_)
    for one in moved.get("supersedes", ()):
        one["id"] = _again(one["id"], round_)
    return moved


def frozen(units: int = 6, *, project: str = "ov-2601", issues: int = 3) -> dict[str, Any]:
    """The scenario as a frozen document, complete but for photos."""
    given = many(units, project)
    held: dict[str, Any] = {
        "schema": document.SCHEMA,
        "title": "Closeout of Harrow Hall, air side",
        "as_of": "2026-06-12T16:40:00-05:00",
        "asked": {"by": "Imre Castellan", "at": "2026-06-15T08:00:00-05:00"},
        "made_with": {
            "software": "ventfolio 0.1.0",
            "rules": {code: rule.VERSION for code, rule in judging.RULES.items()},
            "kinds": {code: kind.VERSION for code, kind in judging.KINDS.items()},
            "rules_hash": judging.rules_hash(),
            "libraries": {},
            "fonts": versions(),
        },
        "project": {"id": "p", "code": "OV-2601", "name": "Ostrander Valley renewal"},
        "owner": {"id": "o", "name": "Ostrander Valley Schools"},
        "firm": {"id": "f", "name": "Castellan Commissioning"},
        "buildings": [_building("b", "Harrow Hall"), _building("c", "Tiller House")],
        "judging": given,
        "withheld": [],
        "set_aside": [],
        "photos": [],
    }
    held["manifest"] = list(_manifest(given))
    held["judged"] = document.judged(held)
    held["units"] = [_unit(one, index) for index, one in enumerate(given["positions"])]
    held["issues"] = [_issue(held, number) for number in range(1, issues + 1)]
    held["not_tested"] = document.not_tested(held["judged"], held["units"])
    return held


def as_bytes(held: dict[str, Any]) -> bytes:
    return canonical_json(held)


def _building(id: str, name: str) -> dict[str, Any]:
    site = {"name": "Ostrander campus", "address": "12 Mill Lane", "time_zone": "America/Chicago", "elevation_m": 210.0}
    return {"id": id, "name": name, "site": site}


def _manifest(given: dict[str, Any]) -> Iterable[dict[str, Any]]:
    tags = {one["id"]: one["tag"] for one in given["positions"]}
    frames = [judging.read_envelope(raw.encode()).frame for raw in given["envelopes"]]
    by: dict[str, list[dict[str, str]]] = {}
    for frame in frames:
        for one in frame.supersedes if frame else ():
            by.setdefault(str(one.id), []).append({"by": str(frame.id), "reason": one.reason})  # type: ignore[union-attr]
    for raw, frame in zip(given["envelopes"], frames, strict=True):
        assert frame is not None
        yield {
            "id": str(frame.id),
            "position": str(frame.position),
            "tag": tags[str(frame.position)],
            "kind": frame.kind,
            "sha256": document.raw_hash(raw),
            "observed_at": frame.observed_at.isoformat(),
            "observed_by": "Noor Whitlock",
            "received_at": frame.observed_at.isoformat(),
            "sent_by": "Noor Whitlock",
            "session": frame.session,
            "is_final": frame.is_final,
            "held": "judging",
            "superseded": by.get(str(frame.id), []),
        }


def _unit(position: dict[str, Any], index: int) -> dict[str, Any]:
    machine = position["machine"] or {"serial": "none", "since": "2026-02-02"}
    return {
        "position": position["id"],
        "tag": position["tag"],
        "kind": "Energy recovery ventilator",
        "building": "b" if index % 3 else "c",
        "location": "Roof, east bay",
        "scope": position["scope"],
        "scope_in_words": position["scope"].replace("_", " ").capitalize(),
        "scope_reason": "",
        "also_called": [],
        "serves": ["Rooms 112 to 118"],
        "machines": [
            {
                "serial": machine["serial"],
                "maker": "Lindqvist",
                "model": "V-9",
                "since": machine["since"],
                "until": None,
            }
        ],
        "standing": {
            "code": "signable",
            "sentence": "Everything that is due conforms: sign.",
            "company": None,
            "since": None,
            "due": None,
        },
    }


def _issue(held: dict[str, Any], number: int) -> dict[str, Any]:
    position = held["judged"]["positions"][number % len(held["judged"]["positions"])]
    is_open = number % 2 == 0
    checks = [
        {
            "position": position["id"],
            "tag": position["tag"],
            "requirement": one["requirement"],
            "port": one["port"],
            "outcome": one["verdict"] or one["absence"]["code"],
        }
        for one in position["judgements"][:2]
    ]
    story = [
        {
            "at": f"2026-05-{10 + index:02d}T09:00:00-05:00",
            "who": who,
            "act": act,
            "before": before,
            "after": after,
            "text": text,
            "photo": None,
        }
        for index, (act, who, before, after, text) in enumerate(STORY[: 3 if is_open else 5])
    ]
    return {
        "number": number,
        "title": f"{position['tag']} supply air: design airflow not met",
        "state": "ready" if is_open else "closed",
        "state_in_words": "ready for retest" if is_open else "closed",
        "is_open": is_open,
        "priority": "performance",
        "root_cause": "damper stuck half open",
        "company": "Calder Mechanical",
        "assignee": "Vera Oduya",
        "due": "2026-05-20",
        "opened_at": "2026-05-10T09:00:00-05:00",
        "moved_at": "2026-05-12T09:00:00-05:00",
        "wasted_call_outs": 1,
        "checks": checks,
        "story": story,
    }
