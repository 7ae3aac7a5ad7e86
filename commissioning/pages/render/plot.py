"""A plot of few series as SVG: two axes, points, lines where points are joined, the names under it."""

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from commissioning.blocks import Axis, Plot, Series
from commissioning.dossier.printing import on_axis

WIDTH, HEIGHT, LEFT, FOOT, TOP = 340, 220, 48, 36, 10
_SHAPES = ("s0", "s1", "s2", "s3")


def plot(block: Plot) -> SafeString:
    xs = [x for series in block.series for x in series.x]
    ys = [y for series in block.series for y in series.y]
    if not xs:
        return format_html('<p class="aside">{}</p>', block.label)
    span_x, span_y = _span(xs), _span(ys)
    drawn = format_html_join(
        "", "{}", ((_series(one, number, span_x, span_y),) for number, one in enumerate(block.series))
    )
    names = format_html_join(
        "", "<li>{} {}</li>", ((_key(n, join=one.join), one.name) for n, one in enumerate(block.series))
    )
    return format_html(
        '<figure class="plot"><svg role="img" width="{}" height="{}" viewBox="0 0 {} {}"><title>{}</title>'
        '<path class="base" d="M{} {}V{}H{}"/>{}{}</svg><ul class="legend">{}</ul></figure>',
        WIDTH,
        HEIGHT,
        WIDTH,
        HEIGHT,
        block.label,
        LEFT,
        TOP,
        HEIGHT - FOOT,
        WIDTH - 8,
        _axes(block.x, block.y, span_x, span_y),
        drawn,
        names,
    )


def _span(values: list[float]) -> tuple[float, float]:
    low, high = min(values), max(values)
    return (low, high) if high > low else (low - 1.0, high + 1.0)


def _at(value: float, span: tuple[float, float], start: float, end: float) -> float:
    return round(start + (value - span[0]) / (span[1] - span[0]) * (end - start), 1)


def _point(x: float, y: float, span_x: tuple[float, float], span_y: tuple[float, float]) -> tuple[float, float]:
    return _at(x, span_x, LEFT + 6, WIDTH - 14), _at(y, span_y, HEIGHT - FOOT - 6, TOP + 6)


def _series(one: Series, number: int, span_x: tuple[float, float], span_y: tuple[float, float]) -> SafeString:
    points = [_point(x, y, span_x, span_y) for x, y in zip(one.x, one.y, strict=True)]
    name = _SHAPES[number % 4]
    dots = format_html_join("", "{}", ((_marker(number, x, y),) for x, y in points))
    if not one.join:
        return dots
    path = " ".join(f"{x:g},{y:g}" for x, y in points)
    return format_html('<polyline class="{}" points="{}"/>{}', name, path, dots)


def _marker(number: int, x: float, y: float) -> SafeString:
    """Filled and hollow, round and square: told apart without colour, as on paper."""
    name = _SHAPES[number % 4]
    if number % 4 < 2:
        return format_html('<circle class="{}" cx="{}" cy="{}" r="3"/>', name, x, y)
    return format_html('<rect class="{}" x="{}" y="{}" width="6" height="6"/>', name, x - 3, y - 3)


def _key(number: int, *, join: bool) -> SafeString:
    """What stands before a name in the legend: its marker, on its line where there is one."""
    line = format_html('<polyline class="{}" points="0,7 30,7"/>', _SHAPES[number % 4]) if join else SafeString("")
    return format_html(
        '<svg class="key" aria-hidden="true" width="30" height="14" viewBox="0 0 30 14">{}{}</svg>',
        line,
        _marker(number, 15, 7),
    )


def _axes(x: Axis, y: Axis, span_x: tuple[float, float], span_y: tuple[float, float]) -> SafeString:
    def named(axis: Axis) -> str:
        return f"{axis.title}, {axis.unit}" if axis.unit else axis.title

    labels = [
        (LEFT + 6, HEIGHT - FOOT + 14, "start", on_axis(span_x[0])),
        (WIDTH - 14, HEIGHT - FOOT + 14, "end", on_axis(span_x[1])),
        (LEFT - 4, HEIGHT - FOOT - 4, "end", on_axis(span_y[0])),
        (LEFT - 4, TOP + 10, "end", on_axis(span_y[1])),
        ((LEFT + WIDTH) / 2, HEIGHT - 6, "middle", named(x)),
        (LEFT + 6, TOP + 2, "start", named(y)),
    ]
    return format_html_join("", '<text class="scale" x="{}" y="{}" text-anchor="{}">{}</text>', labels)
