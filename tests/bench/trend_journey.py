"""A trend log from its bytes to a person's eye: kept as Parquet, judged, drawn; against polars reading the bytes.

Everything that the log's six roles allow to ask is asked. The other side is as in `trend_logs`; it says nothing at all.
"""

import io

from commissioning.dossier.trend_logs import analysed, in_window, series_of
from commissioning.dossier.trends import default_plan
from commissioning.dossier.trends.logged import Log
from commissioning.logs.store import open_log
from tests.bench import trend_logs
from tests.bench.timing import Line, cpu, in_turns, ratio

ROLES = [role for _, role, _ in trend_logs.POINTS]
PIXELS = 1000


def lines(rows: int) -> list[Line]:
    data, mapping = trend_logs.log_of(rows), trend_logs.mapping()
    plan = default_plan(ROLES, zone=mapping.zone)
    points = [{"role": role, "name": name, "by_change": False} for name, role, _ in trend_logs.POINTS]

    def ours(_: int) -> None:
        kept = io.BytesIO()
        trend_logs.keep(data, mapping, kept)
        series = series_of(open_log(kept.getvalue()), points)
        said = analysed(series, plan, file="0" * 64, mapping="1" * 64)
        assert len(said["results"]) == len(plan.asked)
        whole = Log(series, plan.zone)
        assert len(list(in_window(series, whole, whole.begin_s, whole.end_s, PIXELS // 2))) == len(points)

    def bare(_: int) -> None:
        trend_logs.bare(data)

    mine, theirs = in_turns(ours, bare, rounds=4)
    what = f"a trend log kept, judged by {len(plan.asked)} expectations and drawn, to a bare read by polars"
    figures = f"{rows:,} rows of {len(points)} points, {len(data) >> 20} MB; {min(cpu(mine)):.2f} s of CPU"
    return [ratio("B13", what, cpu(mine), cpu(theirs), floor=6, goal=3, more_is_better=False, figures=figures)]
