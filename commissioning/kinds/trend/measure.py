"""From a trend log's record to what it amounts to: its frame, its points, and what the analysis of its samples says.

The samples are not in the record. What they say stands beside it in the judging document, by the hashes of file and
mapping; a log of which nothing stands there yet is one that is still to be analysed.
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, cast

from commissioning.dossier.envelope import Envelope
from commissioning.dossier.figures import Figures, figures_of
from commissioning.dossier.given import Conventions, Instrument, Place
from commissioning.dossier.trends import VERSION
from commissioning.kinds.trend.payload import TrendPayload

__all__ = ["VERSION", "facts", "instruments", "measure"]  # another analysis is another version of the kind


def facts(payload: TrendPayload) -> tuple[bool, str]:
    return payload.stage == "final", payload.session.id


def instruments(payload: TrendPayload) -> frozenset[str]:
    return frozenset()


def measure(
    envelope: Envelope, place: Place, conventions: Conventions, tools: Mapping[str, Instrument]
) -> list[Figures]:
    payload = cast(TrendPayload, envelope.payload)
    key = (payload.sha256, payload.mapping.sha256)
    trend = next((one for one in place.trends if (one["file"], one["mapping"]) == key), None)
    made = figures_of(envelope, place, (), method="trend log", tools=(), facts=_facts(payload, trend))
    return [replace(made, faults=(), unseen=())]  # a log runs through every state


def _facts(payload: TrendPayload, trend: Mapping[str, Any] | None) -> dict[str, Any]:
    held = payload.model_dump(mode="json")
    names = ("file", "sha256", "mapping", "zone", "first", "last", "points", "repairs", "note")
    return {**{name: held[name] for name in names}, "trend": trend}
