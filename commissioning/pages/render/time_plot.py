"""Panels over one axis of time as SVG: lines told apart by their strokes, states as bars, marks by their numbers.

Each panel is a picture of its own with its names under it, so that it reads at the width of a phone. What the pictures
say stands beside them in words; a screen reader is told the words.
"""

from collections.abc import Iterable

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from commissioning.blocks import Mark, Panel, TimeLine, TimePlot
from commissioning.dossier.printing import on_axis
from commissioning.dossier.time_plots import Lane, on, rows_of, runs, scale, unknown

WIDTH, LEFT, RIGHT = 360.0, 42.0, 10.0
_HIGH, _TOP, _LANE, _ROW, _NUMBER = 92.0, 8.0, 15.0, 15.0, 15.0
_STROKES = ("s0", "s1", "s2", "s3")


class _Axis:
    """From seconds to the width of the picture."""

    def __init__(self, end_s: float) -> None:
        self.end_s = end_s if end_s > 0.0 else 1.0

    def x(self, at_s: float) -> float:
        inside = min(max(at_s, 0.0), self.end_s)
        return round(LEFT + inside / self.end_s * (WIDTH - LEFT - RIGHT), 1)

    def wide(self, lane: Lane) -> float:
        return round(self.x(lane.to_s) - self.x(lane.from_s), 1)


def time_plot(block: TimePlot) -> SafeString:
    axis = _Axis(block.end_s)
    panels = format_html_join("", "{}", ((_panel(panel, block, axis),) for panel in block.panels))
    marks = format_html_join(
        "", "<li{}>{}</li>", ((SafeString(' class="bad"') if one.is_fault else "", one.words) for one in block.marks)
    )
    return format_html(
        '<figure class="trend"><figcaption>{}</figcaption>{}{}{}{}</figure>',
        block.label,
        _strip(block.marks, axis) if block.marks else "",
        panels,
        _foot(block, axis),
        format_html('<ol class="marks">{}</ol>', marks) if marks else "",
    )


def _svg(high: float, drawn: SafeString, kind: str = "") -> SafeString:
    return format_html('<svg aria-hidden="true" class="{}" viewBox="0 0 {} {}">{}</svg>', kind, WIDTH, high, drawn)


# --- marks -------------------------------------------------------------------------------------------------------
def _strip(marks: tuple[Mark, ...], axis: _Axis) -> SafeString:
    """A number for each mark, on a bar as long as it lasted."""
    rows = rows_of(marks, _NUMBER / (WIDTH - LEFT - RIGHT) * axis.end_s)
    drawn = format_html_join(
        "", "{}", ((_number(n, one, row, axis),) for n, (one, row) in enumerate(zip(marks, rows, strict=True), 1))
    )
    return _svg((max(rows) + 1) * _ROW + 2, drawn, "strip")


def _number(number: int, mark: Mark, row: int, axis: _Axis) -> SafeString:
    begin, end, y = axis.x(mark.from_s), axis.x(mark.to_s), row * _ROW + 3
    anchor = "end" if begin > WIDTH - 40 else "start"
    kind = "bad" if mark.is_fault else ""
    return format_html(
        '<line class="lasting {}" x1="{}" y1="{}" x2="{}" y2="{}"/><text class="scale {}" x="{}" y="{}" '
        'text-anchor="{}">{}</text>',
        kind, begin, y, max(end, begin + 2), y, kind, begin, y + 10, anchor, number,
    )  # fmt: skip


def _through(marks: Iterable[Mark], axis: _Axis, high: float) -> SafeString:
    """A hairline where each mark begins, and where one that lasted ends."""
    places = {axis.x(at): one.is_fault for one in marks for at in (one.from_s, one.to_s)}
    return format_html_join(
        "",
        '<line class="through{}" x1="{}" y1="0" x2="{}" y2="{}"/>',
        ((SafeString(" bad") if bad else "", x, x, high) for x, bad in sorted(places.items())),
    )


# --- panels ------------------------------------------------------------------------------------------------------
def _panel(panel: Panel, block: TimePlot, axis: _Axis) -> SafeString:
    title = f"{panel.title}, {panel.unit}" if panel.unit else panel.title
    if panel.lanes:
        high = _LANE * len(panel.lines) + 4
        drawn = format_html_join("", "{}", ((_lane(one, n, axis),) for n, one in enumerate(panel.lines)))
        names = format_html_join(
            "", "<li>{}: {}</li>", ((str(number), one.name) for number, one in enumerate(panel.lines, 1))
        )
    else:
        high = _HIGH
        drawn = _lines(panel, axis)
        names = format_html_join("", "<li>{} {}</li>", ((_key(n), one.name) for n, one in enumerate(panel.lines)))
        names += format_html_join(
            "", "<li>{} {}</li>", ((_stroke("limit", "0,7 30,7"), one.name) for one in panel.limits)
        )
    picture = _svg(high, format_html("{}{}", _through(block.marks, axis, high), drawn))
    return format_html('<p class="panel">{}</p>{}<ul class="legend">{}</ul>', title, picture, names)


def _lane(line: TimeLine, number: int, axis: _Axis) -> SafeString:
    """A thin line while the state is off, a bar while it is on, nothing while nothing is known."""
    middle = number * _LANE + 9.5
    dark = format_html_join(
        "",
        '<rect class="unknown" x="{}" y="{}" width="{}" height="6"/>',
        ((axis.x(one.from_s), middle - 3, axis.wide(one)) for one in unknown(line, axis.end_s)),
    )
    bars = format_html_join(
        "",
        '<rect class="on" x="{}" y="{}" width="{}" height="8"/>',
        ((axis.x(one.from_s), middle - 4, max(axis.wide(one), 0.8)) for one in on(line)),
    )
    return format_html(
        '<text class="scale" x="{}" y="{}" text-anchor="end">{}</text><line class="base" x1="{}" y1="{}" x2="{}" '
        'y2="{}"/>{}{}',
        LEFT - 6, middle + 4, number + 1, LEFT, middle, WIDTH - RIGHT, middle, dark, bars,
    )  # fmt: skip


def _lines(panel: Panel, axis: _Axis) -> SafeString:
    low, high = scale(panel)

    def y(value: float) -> float:
        return round(_HIGH - 6 - (value - low) / (high - low) * (_HIGH - 6 - _TOP), 1)

    base = format_html('<path class="base" d="M{} {}V{}H{}"/>', LEFT, _TOP, _HIGH - 6, WIDTH - RIGHT)
    labels = format_html_join(
        "",
        '<text class="scale" x="{}" y="{}" text-anchor="end">{}</text>',
        ((LEFT - 4, y(value) + 4, on_axis(value)) for value in (low, high)),
    )
    limits = format_html_join(
        "",
        '<line class="limit" x1="{}" y1="{}" x2="{}" y2="{}"/>',
        ((LEFT, y(one.value), WIDTH - RIGHT, y(one.value)) for one in panel.limits),
    )
    drawn = format_html_join(
        "",
        "{}",
        (
            (_run([(axis.x(at), y(value)) for at, value in run], number),)
            for number, line in enumerate(panel.lines)
            for run in runs(line)
        ),
    )
    return format_html("{}{}{}{}", base, labels, limits, drawn)


def _run(points: list[tuple[float, float]], number: int) -> SafeString:
    """A value that stands alone between two breaks is a dot."""
    if len(points) == 1:
        return format_html('<circle cx="{}" cy="{}" r="1.5"/>', *points[0])
    path = " ".join(f"{x:g},{y:g}" for x, y in points)
    return format_html('<polyline class="{}" points="{}"/>', _STROKES[number % 4], path)


def _key(number: int) -> SafeString:
    return _stroke(_STROKES[number % 4], "0,7 30,7")


def _stroke(name: str, points: str) -> SafeString:
    return format_html(
        '<svg class="key" aria-hidden="true" width="30" height="14" viewBox="0 0 30 14"><polyline class="{}" '
        'points="{}"/></svg>',
        name,
        points,
    )


def _foot(block: TimePlot, axis: _Axis) -> SafeString:
    drawn = format_html_join(
        "",
        '<line class="design" x1="{}" y1="0" x2="{}" y2="4"/><text class="scale" x="{}" y="14" text-anchor="{}">{}'
        "</text>",
        ((x := axis.x(one.at_s), x, x, _anchor(x), one.text) for one in block.ticks),
    )
    return _svg(18.0, drawn)


def _anchor(x: float) -> str:
    return "start" if x < LEFT + 10 else "end" if x > WIDTH - 30 else "middle"
