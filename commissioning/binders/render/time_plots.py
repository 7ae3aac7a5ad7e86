"""A plot over time on paper: the same panels, strokes, bars and numbers as on the page, drawn as vectors."""

from commissioning.binders.render import ink
from commissioning.binders.render.fonts import lines_of, printable
from commissioning.binders.render.sheet import Sheet
from commissioning.blocks import Mark, Panel, TimeLine, TimePlot
from commissioning.dossier.printing import on_axis
from commissioning.dossier.time_plots import Point, on, rows_of, runs, scale, unknown

_LEFT, _HIGH, _LANE, _ROW, _NUMBER = 40.0, 62.0, 10.0, 9.0, 12.0
_FOOT = 16.0
_STROKES: tuple[tuple[float, ...], ...] = ((), (5.0, 3.0), (1.2, 1.8), (7.0, 2.0, 1.2, 2.0))
_LIMIT = (2.0, 2.0)


class _Axis:
    def __init__(self, sheet: Sheet, end_s: float) -> None:
        self.left, self.right = sheet.left + _LEFT, sheet.right - 4.0
        self.end_s = end_s if end_s > 0.0 else 1.0

    def x(self, at_s: float) -> float:
        return self.left + min(max(at_s, 0.0), self.end_s) / self.end_s * (self.right - self.left)


def time_plot(sheet: Sheet, block: TimePlot) -> None:
    sheet.paragraph(block.label, ink.BODY)
    axis = _Axis(sheet, block.end_s)
    for index, panel in enumerate(block.panels):
        names = _names(panel)
        high = _high(panel)
        text = len(lines_of(names, "Text", ink.SMALL.size, sheet.paper.text_width)) * ink.SMALL.leading
        strip = _strip_high(block, axis)
        if sheet.need(11.0 + high + text + _FOOT + (strip if index == 0 else 0.0)) or index == 0:
            axis = _Axis(sheet, block.end_s)
            _strip(sheet, block, axis)
        _panel(sheet, panel, block, axis, high)
        sheet.paragraph(names, ink.SMALL)
        if index == len(block.panels) - 1 or sheet.room < _FOOT + 11.0 + _high(block.panels[index + 1]) + text:
            _ticks(sheet, block, axis)
    for number, mark in enumerate(block.marks, 1):
        style = ink.Style(8.0, 11.0, ink=ink.BRICK if mark.is_fault else ink.BLACK, after=1.0)
        sheet.paragraph(f"{number}  {mark.words}", style)
    sheet.down(4.0)


def _high(panel: Panel) -> float:
    return _LANE * len(panel.lines) + 4.0 if panel.lanes else _HIGH


def _names(panel: Panel) -> str:
    if panel.lanes:
        return "   ".join(f"{number}: {one.name}" for number, one in enumerate(panel.lines, 1))
    signs = ("solid", "dashed", "dotted", "dash and dot")
    named = [f"{signs[number % 4]}: {one.name}" for number, one in enumerate(panel.lines)]
    return "   ".join([*named, *(f"limit: {one.name}" for one in panel.limits)])


# --- marks -------------------------------------------------------------------------------------------------------
def _rows(block: TimePlot, axis: _Axis) -> list[int]:
    return rows_of(block.marks, _NUMBER / (axis.right - axis.left) * axis.end_s)


def _strip_high(block: TimePlot, axis: _Axis) -> float:
    return (max(_rows(block, axis)) + 1) * _ROW + 3.0 if block.marks else 0.0


def _strip(sheet: Sheet, block: TimePlot, axis: _Axis) -> None:
    """A number for each mark, on a bar as long as it lasted."""
    if not block.marks:
        return
    for number, (mark, row) in enumerate(zip(block.marks, _rows(block, axis), strict=True), 1):
        colour = ink.BRICK if mark.is_fault else ink.BLACK
        x, y = axis.x(mark.from_s), sheet.y - row * _ROW
        sheet.stroke(colour, 1.2)
        sheet.canvas.line(x, y, max(axis.x(mark.to_s), x + 1.5), y)
        near_edge = x > axis.right - _NUMBER
        style = ink.Style(6.8, 9.0, bold=True, ink=colour)
        align = "right" if near_edge else "left"
        sheet.line_at(x - _NUMBER if near_edge else x, y - 7.0, str(number), style, align=align, room=_NUMBER)
    sheet.down(_strip_high(block, axis))


def _through(sheet: Sheet, marks: tuple[Mark, ...], axis: _Axis, top: float, foot: float) -> None:
    for mark in marks:
        sheet.stroke(ink.BRICK if mark.is_fault else ink.HAIR, 0.3)
        for at in {mark.from_s, mark.to_s}:
            sheet.canvas.line(axis.x(at), top, axis.x(at), foot)


# --- panels ------------------------------------------------------------------------------------------------------
def _panel(sheet: Sheet, panel: Panel, block: TimePlot, axis: _Axis, high: float) -> None:
    title = printable(f"{panel.title}, {panel.unit}" if panel.unit else panel.title)
    sheet.line_at(sheet.left, sheet.y - 8.0, title, ink.Style(7.5, 9.5, bold=True))
    sheet.down(11.0)
    _through(sheet, block.marks, axis, sheet.y, sheet.y - high)
    if panel.lanes:
        for number, line in enumerate(panel.lines):
            _lane(sheet, line, number, axis)
    else:
        _lines(sheet, panel, axis)
    sheet.down(high + 2.0)


def _lane(sheet: Sheet, line: TimeLine, number: int, axis: _Axis) -> None:
    y = sheet.y - number * _LANE - 6.0
    sheet.line_at(sheet.left, y - 2.4, str(number + 1), ink.SMALL, align="right", room=_LEFT - 5.0)
    sheet.rule(axis.left, axis.right, y)
    sheet.pen((1.0, 1.0, 1.0))
    for one in unknown(line, axis.end_s):
        sheet.canvas.rect(axis.x(one.from_s), y - 2.0, axis.x(one.to_s) - axis.x(one.from_s), 4.0, stroke=0, fill=1)
    sheet.pen(ink.BLACK)
    for one in on(line):
        wide = max(axis.x(one.to_s) - axis.x(one.from_s), 0.4)
        sheet.canvas.rect(axis.x(one.from_s), y - 2.6, wide, 5.2, stroke=0, fill=1)


def _lines(sheet: Sheet, panel: Panel, axis: _Axis) -> None:
    low, high = scale(panel)
    top, foot = sheet.y - 2.0, sheet.y - _HIGH + 2.0

    def y(value: float) -> float:
        return foot + (value - low) / (high - low) * (top - foot)

    sheet.stroke(ink.GREY, 0.5)
    sheet.canvas.line(axis.left, foot, axis.right, foot)
    sheet.canvas.line(axis.left, foot, axis.left, top)
    for value in (low, high):
        sheet.line_at(sheet.left, y(value) - 2.4, on_axis(value), ink.SMALL, align="right", room=_LEFT - 5.0)
    sheet.stroke(ink.GREY, 0.8)
    sheet.canvas.setDash(*_dash(_LIMIT))
    for limit in panel.limits:
        sheet.canvas.line(axis.left, y(limit.value), axis.right, y(limit.value))
    sheet.stroke(ink.BLACK, 0.5)
    for number, line in enumerate(panel.lines):
        sheet.canvas.setDash(*_dash(_STROKES[number % 4]))
        for run in runs(line):
            _run(sheet, [(axis.x(at), y(value)) for at, value in run])
    sheet.canvas.setDash()


def _dash(lengths: tuple[float, ...]) -> tuple[list[float], int]:
    return list(lengths), 0


def _run(sheet: Sheet, points: list[Point]) -> None:
    if len(points) == 1:
        sheet.pen(ink.BLACK)
        sheet.canvas.circle(*points[0], 0.7, stroke=0, fill=1)
        return
    path = sheet.canvas.beginPath()
    path.moveTo(*points[0])
    for point in points[1:]:
        path.lineTo(*point)
    sheet.canvas.drawPath(path, stroke=1, fill=0)


def _ticks(sheet: Sheet, block: TimePlot, axis: _Axis) -> None:
    sheet.stroke(ink.GREY, 0.5)
    for tick in block.ticks:
        x = axis.x(tick.at_s)
        sheet.canvas.line(x, sheet.y, x, sheet.y - 3.0)
        near_left, near_right = x < axis.left + 20.0, x > axis.right - 20.0
        align = "left" if near_left else "right" if near_right else "centre"
        start = x if near_left else x - 60.0 if near_right else x - 30.0
        sheet.line_at(start, sheet.y - 10.0, printable(tick.text), ink.SMALL, align=align, room=60.0)
    sheet.down(_FOOT)
