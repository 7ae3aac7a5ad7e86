"""Accepting a converted log: one record of the kind `trend` for each unit that it serves, sent like any evidence."""

import json
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from django.db import transaction

from commissioning.evidence.accept import Outcome, Refused, Sender, accept
from commissioning.evidence.trends.receiving import UploadRefused
from commissioning.models import Submission, TrendUpload
from portfolio.models import Position

SCHEMA = "ventfolio/envelope/1"
_MOST_REPAIRS = 200


@dataclass(frozen=True)
class Sent:
    """What became of the record of one unit."""

    position: Position
    outcome: Outcome


def send(upload: TrendUpload, sender: Sender) -> list[Sent]:
    """Send a record for each unit. The same person again brings the same receipts; another one would double the log."""
    if upload.state not in (TrendUpload.State.CONVERTED, TrendUpload.State.ACCEPTED) or upload.mapping is None:
        reason = f"The log is {upload.get_state_display()}."
        raise UploadRefused("not_converted", reason, "Say what its points are, look at what came of it, then accept.")
    with transaction.atomic():
        TrendUpload.objects.select_for_update().get(pk=upload.pk)  # two who accept at once come one after the other
        return _sent(upload, sender)


def _sent(upload: TrendUpload, sender: Sender) -> list[Sent]:
    units = _units(upload)
    ids = [id_of(upload, position) for position, _ in units]
    if Submission.objects.filter(client_id__in=ids).exclude(person=sender.person).exists():
        raise UploadRefused("accepted", "Somebody else accepted this log.", "Look at its record on the unit's page.")
    raws = [_envelope(upload, position, points, upload.made_by_id) for position, points in units]
    outcomes = accept(sender, raws)
    if not any(isinstance(outcome, Refused) for outcome in outcomes):
        TrendUpload.objects.filter(pk=upload.pk).update(state=TrendUpload.State.ACCEPTED)
    return [Sent(position, outcome) for (position, _), outcome in zip(units, outcomes, strict=True)]


def _units(upload: TrendUpload) -> list[tuple[Position, list[dict[str, Any]]]]:
    by_tag: dict[str, list[dict[str, Any]]] = {}
    for point in upload.result["points"]:
        by_tag.setdefault(point["tag"] or upload.position.tag, []).append(point)
    rows = Position.objects.filter(building=upload.position.building_id, tag__in=by_tag)
    return [(row, by_tag[row.tag]) for row in rows.order_by("tag")]


def id_of(upload: TrendUpload, position: Position) -> uuid.UUID:
    """Of the record by which the unit has the log."""
    assert upload.mapping is not None
    return uuid.uuid5(upload.pk, f"{upload.mapping.sha256} {position.pk}")


def _envelope(upload: TrendUpload, position: Position, points: Sequence[dict[str, Any]], by: uuid.UUID) -> bytes:
    assert upload.mapping is not None
    mapping = upload.mapping
    names = {point["code"] for point in points}
    first, last = min(point["first_s"] for point in points), max(point["last_s"] for point in points)
    repairs = [one for one in upload.result["repairs"] if one["point"] in names or not one["point"]]
    envelope = {
        "schema": SCHEMA,
        "id": str(id_of(upload, position)),
        "kind": "trend",
        "position": str(position.pk),
        "observed_at": _moment(last),
        "observed_by": str(by),
        "payload": {
            "file": upload.file_name,
            "sha256": upload.sha256,
            "bytes": upload.size,
            "mapping": {"source": mapping.source, "version": mapping.version, "sha256": mapping.sha256},
            "zone": mapping.document["zone"],
            "first": _moment(first),
            "last": _moment(last),
            "points": [_point(point) for point in points],
            "repairs": [
                {"code": one["code"], "line": one["line"], "count": one["count"], "sentence": one["sentence"][:400]}
                for one in repairs[:_MOST_REPAIRS]
            ],
        },
    }
    return json.dumps(envelope, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


def _point(point: dict[str, Any]) -> dict[str, Any]:
    made = {
        "role": point["role"],
        "name": point["code"],
        "unit": point["unit"],
        "by_change": point["by_change"],
        "samples": point["samples"],
        "without_value": point["without_value"],
        "longest_gap": {"value": point["longest_gap_s"], "unit": "s"},
        "words": dict(list(point["words"].items())[:100]),
    }
    return made if point["by_change"] else made | {"interval": {"value": point["interval_s"], "unit": "s"}}


def _moment(time_s: float) -> str:
    return datetime.fromtimestamp(time_s, UTC).isoformat()
