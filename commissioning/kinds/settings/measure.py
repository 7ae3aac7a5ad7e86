"""From a settings payload to what it amounts to: the values in SI, the clock against the site's, what was seen."""

from collections.abc import Mapping
from typing import Any, cast
from zoneinfo import ZoneInfo

from commissioning.dossier.envelope import Envelope
from commissioning.dossier.figures import Figure, Figures, figures_of
from commissioning.dossier.given import Conventions, Instrument, Place
from commissioning.dossier.quantities import si
from commissioning.dossier.settings.catalogue import CATALOGUE, value_of
from commissioning.dossier.settings.rules import COMMON
from commissioning.kinds.settings.payload import SettingsPayload

VERSION = 2
CLOCK_EQUATION = "Δt = time shown − time at the site"


def instruments(payload: SettingsPayload) -> frozenset[str]:
    return frozenset()


def measure(
    envelope: Envelope, place: Place, conventions: Conventions, tools: Mapping[str, Instrument]
) -> list[Figures]:
    payload = cast(SettingsPayload, envelope.payload)
    true = payload.true_time or envelope.observed_at
    at_site = true.astimezone(ZoneInfo(place.time_zone))
    values = {
        code: value_of(CATALOGUE.settings[code], given, inch_of_water_pa=conventions.inch_of_water_pa)
        for code, given in payload.values.items()
    }
    found: list[Figure] = []
    second_of_day = None
    if payload.controller_time is not None:
        shown = payload.controller_time
        off = (shown - at_site.replace(tzinfo=None)).total_seconds()
        second_of_day = float(shown.hour * 3600 + shown.minute * 60 + shown.second)
        times = (("shown", shown.isoformat()), ("at the site", at_site.isoformat()))
        found.append(Figure("clock_error", "", off, "s", equation=CLOCK_EQUATION, source=COMMON, inputs=times))
    winter = payload.winter_design_temperature
    facts: dict[str, Any] = {
        "by": str(envelope.observed_by),
        "moment": payload.moment,
        "controller": payload.controller,
        "catalogue": CATALOGUE.version,
        "values": {code: values[code] for code in CATALOGUE.settings if code in values},
        "true_time": true.isoformat(),
        "second_of_day": second_of_day,
        "winter_c": si(winter) if winter is not None else None,
        "now": payload.now.model_dump(),
        "photos": [[one.sha256, one.caption] for one in envelope.photos],
    }
    if payload.read_from is not None:
        facts["read_from"] = payload.read_from.model_dump()
    return [figures_of(envelope, place, found, method="settings read", tools=[], facts=facts)]
