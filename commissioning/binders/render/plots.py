"""A plot of few series on paper: two axes, points of different shapes, a line where points are joined."""

from typing import Any

from commissioning.binders.render import ink
from commissioning.binders.render.fonts import lines_of, printable
from commissioning.binders.render.sheet import Sheet
from commissioning.blocks import Axis, Plot, Series
from commissioning.dossier.printing import on_axis

_WIDE, _HIGH, _LEFT, _FOOT = 330.0, 170.0, 44.0, 30.0
MOST_POINTS = 800


def plot(sheet: Sheet, block: Plot) -> None:
    xs = [x for series in block.series for x in series.x]
    ys = [y for series in block.series for y in series.y]
    if not xs:
        sheet.paragraph(block.label, ink.ASIDE)
        return
    legend = "   ".join(f"{_SIGNS[n % 4]} {one.name}" for n, one in enumerate(block.series))
    sheet.need(_HIGH + 14.0 + 11.0 * len(lines_of(legend, "Text", ink.ASIDE.size, sheet.paper.text_width)))
    frame = _Frame(sheet, _span(xs), _span(ys))
    sheet.stroke(ink.GREY, 0.5)
    sheet.canvas.line(frame.x0, frame.y0, frame.x1, frame.y0)
    sheet.canvas.line(frame.x0, frame.y0, frame.x0, frame.y1)
    _axes(sheet, frame, block.x, block.y)
    for number, series in enumerate(block.series):
        _series(sheet, frame, series, number)
    sheet.down(_HIGH + 4.0)
    sheet.paragraph(legend, ink.ASIDE)
    sheet.paragraph(block.label, ink.ASIDE)


_SIGNS = "●○■□"


class _Frame:
    def __init__(self, sheet: Sheet, span_x: tuple[float, float], span_y: tuple[float, float]) -> None:
        self.span_x, self.span_y = span_x, span_y
        self.x0, self.x1 = sheet.left + _LEFT, sheet.left + _WIDE
        self.y0, self.y1 = sheet.y - _HIGH + _FOOT, sheet.y - 4.0

    def at(self, x: float, y: float) -> tuple[float, float]:
        (low_x, high_x), (low_y, high_y) = self.span_x, self.span_y
        return (
            self.x0 + 6 + (x - low_x) / (high_x - low_x) * (self.x1 - self.x0 - 12),
            self.y0 + 6 + (y - low_y) / (high_y - low_y) * (self.y1 - self.y0 - 12),
        )


def _span(values: list[float]) -> tuple[float, float]:
    low, high = min(values), max(values)
    return (low, high) if high > low else (low - 1.0, high + 1.0)


def _axes(sheet: Sheet, frame: _Frame, x: Axis, y: Axis) -> None:
    for value in frame.span_x:
        where, _ = frame.at(value, frame.span_y[0])
        sheet.line_at(where - 30, frame.y0 - 9, on_axis(value), ink.SMALL, align="centre", room=60)
    for value in frame.span_y:
        _, high = frame.at(frame.span_x[0], value)
        sheet.line_at(frame.x0 - 44, high - 2, on_axis(value), ink.SMALL, align="right", room=40)
    words = f"{_axis(y)} over {_axis(x)}"
    sheet.line_at(frame.x0, frame.y0 - 20, printable(words), ink.SMALL)


def _axis(axis: Axis) -> str:
    return f"{axis.title} ({axis.unit})" if axis.unit else axis.title


def _series(sheet: Sheet, frame: _Frame, series: Series, number: int) -> None:
    points = [frame.at(x, y) for x, y in zip(*_thinned(series), strict=True)]
    sheet.stroke(ink.BLACK, 0.6)
    if series.join and len(points) > 1:
        path = sheet.canvas.beginPath()
        path.moveTo(*points[0])
        for point in points[1:]:
            path.lineTo(*point)
        sheet.canvas.drawPath(path, stroke=1, fill=0)
    if not series.join or len(points) <= 60:
        for x, y in points:
            _point(sheet.canvas, x, y, number)


def _point(canvas: Any, x: float, y: float, number: int) -> None:
    canvas.setFillColorRGB(*(ink.BLACK if number % 2 == 0 else (1.0, 1.0, 1.0)))
    if number % 4 < 2:
        canvas.circle(x, y, 1.8, stroke=1, fill=1)
    else:
        canvas.rect(x - 1.7, y - 1.7, 3.4, 3.4, stroke=1, fill=1)


def _thinned(series: Series) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """At most 800 points: of each stretch the lowest and the highest, so that no peak is lost."""
    count = len(series.x)
    if count <= MOST_POINTS:
        return series.x, series.y
    step = -(-2 * count // MOST_POINTS)
    kept: list[int] = []
    for start in range(0, count, step):
        stretch = range(start, min(start + step, count))
        kept += sorted({min(stretch, key=series.y.__getitem__), max(stretch, key=series.y.__getitem__)})
    return tuple(series.x[i] for i in kept), tuple(series.y[i] for i in kept)
