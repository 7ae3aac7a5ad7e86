"""Trend logs in a few words: one day of a unit that is scheduled from 07:00 to 19:00, and what a test wants otherwise.

Monday 4 May 2026 in Chicago begins at 05:00 UTC. States are logged at a change, temperatures each five minutes.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from commissioning.dossier.trend_logs import analysed
from commissioning.dossier.trends import Logged, default_plan
from commissioning.logs.roles import roles
from tests.judging.builder import PERSON, POSITION, Result, judged, named, position

BEGIN_S = 1777870800.0  # 2026-05-04T05:00Z
HOUR = 3600.0
FILE, MAPPING = "f" * 64, "a" * 64
UNITS = {"temperature": "degC", "airflow": "cfm", "ratio": "%", "mole fraction": "ppm"}


def state(*changes: tuple[float, float]) -> Logged:
    """At these hours of the day these levels."""
    return Logged(
        np.array([BEGIN_S + hour * HOUR for hour, _ in changes]), np.array([level for _, level in changes]), True
    )


def steady(level: float, swing: float = 0.5) -> Logged:
    times = BEGIN_S + np.arange(288.0) * 300.0
    return Logged(times, level + swing * np.sin(np.arange(288.0) / 9.0))


def day(**otherwise: Logged) -> dict[str, Logged]:
    """Dampers open 100 s before the fans are told to run; proofs come 10 s later."""
    held = {
        "outdoor_damper_open": state((0.0, 0.0), (7.0 - 100.0 / 3600.0, 1.0), (19.05, 0.0)),
        "supply_fan_command": state((0.0, 0.0), (7.0, 1.0), (19.0, 0.0), (23.9, 0.0)),
        "supply_fan_status": state((0.0, 0.0), (7.0 + 10.0 / 3600.0, 1.0), (19.0 + 20.0 / 3600.0, 0.0)),
        "supply_temperature": steady(18.0),
    }
    return held | otherwise


LATE_DAMPER = {"outdoor_damper_open": state((0.0, 0.0), (7.0 + 45.0 / 3600.0, 1.0), (19.05, 0.0))}


def trend(
    series: dict[str, Logged], values: Mapping[str, float] | None = None, *, file: str = FILE,
    zone: str = "America/Chicago",
) -> dict[str, Any]:  # fmt: skip
    """What the judging document carries of it, by a plan of these settings."""
    return analysed(series, default_plan(series, dict(values or {}), zone), file=file, mapping=MAPPING)


def record(
    series: dict[str, Logged], *, name: str = "log", file: str = FILE, at: str = "2026-05-05T00:00:00-05:00",
    **payload: Any,
) -> dict[str, Any]:  # fmt: skip
    return {
        "schema": "ventfolio/envelope/1",
        "id": named(name),
        "kind": "trend",
        "position": POSITION,
        "observed_at": at,
        "observed_by": PERSON,
        "payload": {
            "file": "erv-1 may.csv",
            "sha256": file,
            "bytes": 40_000,
            "mapping": {"source": "site controllers", "version": 1, "sha256": MAPPING},
            "zone": "America/Chicago",
            "first": "2026-05-04T00:00:00-05:00",
            "last": "2026-05-04T23:55:00-05:00",
            "points": [_point(role, one) for role, one in series.items()],
            **payload,
        },
    }


def _point(role: str, one: Logged) -> dict[str, Any]:
    found: dict[str, Any] = {
        "role": role,
        "name": f"ERV1.{role.upper()}",
        "unit": UNITS.get(roles()[role].quantity, ""),
        "by_change": one.by_change,
        "samples": int(one.times_s.size),
    }
    if not one.by_change:
        found |= {"interval": {"value": 5.0, "unit": "min"}, "longest_gap": {"value": 5.0, "unit": "min"}}
    return found


def of_days(*days: dict[str, Logged], **place: Any) -> Result:
    """One log for each day, each analysed, the later ones sent later."""
    files = [f"{number:064x}" for number in range(1, len(days) + 1)]
    records = [
        record(one, name=f"log {number}", file=file, at=f"2026-05-0{4 + number}T00:00:00-05:00")
        for number, (one, file) in enumerate(zip(days, files, strict=True), 1)
    ]
    trends = [trend(one, file=file) for one, file in zip(days, files, strict=True)]
    return judged(*records, place=position(trends=trends, **place))
