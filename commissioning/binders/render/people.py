"""Who is meant: judging names people by their id, and the manifest knows by what name they went."""

import json
from collections.abc import Iterator, Mapping
from typing import Any
from uuid import UUID

from commissioning.dossier.settings.words import named, people_in

_TELLS = "settings_consistent"  # the one requirement whose facts name people


def with_names(document: Mapping[str, Any]) -> Mapping[str, Any]:
    """The document to be drawn; the one that is handed over keeps the ids."""
    wanted = people_in(" ".join(_told(document)))
    if not wanted:
        return document
    by_record = {one["id"]: one["observed_by"] for one in document["manifest"]}
    names = {}
    for raw in document["judging"]["envelopes"]:
        frame = json.loads(raw)
        person = str(UUID(frame["observed_by"]))
        if person in wanted:
            names[person] = by_record.get(str(UUID(frame["id"])), f"person {person}")
    return {**document, **{part: named(document[part], names) for part in ("judged", "not_tested")}}


def _told(document: Mapping[str, Any]) -> Iterator[str]:
    for one in document["not_tested"]:
        yield one["text"]
    for position in document["judged"]["positions"]:
        for one in position["judgements"]:
            if one["requirement"] == _TELLS:
                yield str(one["facts"])
