"""docs/trend-findings.md: what was found on simulated days, as counted. The same seeds write the same page."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping

from fixtures.simulation_days.faults import FAULTS
from tests.simulation_days.score import Row

HEAD = """# Trend findings: planted faults found, missed, and found where there is none

`fixtures/simulation_days` runs invented days of an energy recovery unit: schedule, damper travel, fan proof, airflow by
CO2 with people coming and going, exhaust by ratio, a supply temperature loop with dead time, bypass, frost action,
filter. Sensors scatter, err and round; a log is kept at intervals of 20 s to 5 min, by change of value, or mixed; up to
two gaps of 3 to 90 min; one clock in two jumps, by 15 s to an hour. It shares no line with what judges the logs.
`analyse` reads each log with the plan that the unit's settings give, with no number changed for this page.

**A plausible world and no building: sizes are invented, and the limits were looked at while some of these days were.**
A fault smaller than the limit asked for it is no finding; that a size is missed tells where the limits lie. A log's gap
may lie where a fault shows; then it stays unknown, which counts as missed here.

Written by `python -m tests.simulation_days` ({healthy} healthy days, {days} days a fault and size), to be made again
the same.
"""


def written(
    healthy: Mapping[int, list[str]], outcomes: Counter[str], rows: Mapping[tuple[str, int], Row], days: int
) -> str:  # fmt: skip
    parts = [HEAD.format(healthy=len(healthy), days=days), "\n".join(_healthy(healthy, outcomes))]
    parts.append("\n".join(_planted(rows, days)))
    return "\n".join(parts) + "\n"


def _healthy(healthy: Mapping[int, list[str]], outcomes: Counter[str]) -> Iterator[str]:
    false = {seed: found for seed, found in healthy.items() if found}
    yield "## Healthy days\n"
    yield "| days | with a false finding | false findings | expectations that hold | that cannot be told |"
    yield "| --: | --: | --: | --: | --: |"
    count = sum(len(found) for found in false.values())
    yield f"| {len(healthy)} | {len(false)} | {count} | {outcomes['holds']} | {outcomes['unknown']} |\n"
    for seed, found in false.items():
        yield f"- day {seed}: {', '.join(found)}"
    yield "" if false else "None of them has one.\n"
    yield "*Cannot be told*: nothing of it happens that day, as frost in June; or a gap or the log's interval hides"
    yield "it.\n"


def _planted(rows: Mapping[tuple[str, int], Row], days: int) -> Iterator[str]:
    total = [sum(rows[fault.code, size].found for fault in FAULTS) for size in range(3)]
    each = len(FAULTS) * days
    yield f"## {len(FAULTS)} kinds of planted fault\n"
    yield "| | smallest size | middle | largest |"
    yield "| --- | --: | --: | --: |"
    yield f"| found | {total[0]} of {each} | {total[1]} of {each} | {total[2]} of {each} |\n"
    yield f"Each cell: size, on how many of {days} days it was found.\n"
    yield "| fault | smallest | middle | largest | found by | false beside it |"
    yield "| --- | --- | --- | --- | --- | --- |"
    for fault in FAULTS:
        cells = [f"{fault.sizes[size]}: {_found(rows[fault.code, size].found, days)}" for size in range(3)]
        false = Counter(code for size in range(3) for code in rows[fault.code, size].false)
        told = ", ".join(f"{code} × {count}" for code, count in sorted(false.items())) or "none"
        yield f"| {fault.title} | {' | '.join(cells)} | {', '.join(fault.shows)} | {told} |"


def _found(found: int, days: int) -> str:
    return f"{found}" if found == days else f"**{found}**" if found else "**missed**"
