"""A trend log that is kept and sent for a unit of the small firm, as an upload that was accepted leaves it."""

from __future__ import annotations

from io import BytesIO

import numpy as np

from commissioning.dossier.trends import Logged
from commissioning.evidence.accept import Kept, Sender, accept
from commissioning.evidence.trends.kept import remember
from commissioning.logs.series import Point
from commissioning.logs.store import write
from portfolio.blobs.store import keep
from tests import envelopes
from tests.kinds.trend_records import MAPPING, record
from tests.pages.world import World


def send(firm: World, tag: str, series: dict[str, Logged], *, file: str, name: str = "log") -> None:
    """The Parquet, and the record that names it; judging is still to be done."""
    held = BytesIO()
    write(held, [(_point(role, one), one.times_s, one.values) for role, one in series.items()])
    parquet = keep(held.getvalue(), "application/vnd.apache.parquet")
    remember(file, MAPPING, parquet)
    given = record(series, name=f"{name} of {tag}", file=file, serial_seen=f"SN-{tag}")
    given |= {"position": str(firm.units[tag].pk), "observed_by": str(firm.people["technician"].pk)}
    (outcome,) = accept(Sender(firm.people["technician"], None, "world"), [envelopes.raw(given)])
    assert isinstance(outcome, Kept), outcome


def _point(role: str, one: Logged) -> Point:
    return Point(
        code=f"ERV1.{role.upper()}",
        role=role,
        tag="",
        unit="",
        by_change=one.by_change,
        interval_s=0.0 if one.by_change else one.interval_s,
        longest_gap_s=float(np.diff(one.times_s).max()),
        samples=int(one.times_s.size),
        without_value=0,
        first_s=float(one.times_s[0]),
        last_s=float(one.times_s[-1]),
    )
