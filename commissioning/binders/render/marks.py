"""Marks and the band: the same shapes as on the pages. Bars are limits, the dot is what was measured.

Conforms: a filled dot at rest between two bars. Does not conform: a dot outside of them. Inconclusive: a hollow dot
across a bar. No verdict: a dash. So black and white print loses nothing.
"""

from dataclasses import replace

from commissioning.binders.render import ink
from commissioning.binders.render.fonts import printable, width
from commissioning.binders.render.sheet import Sheet
from commissioning.binders.render.tables import Drawn
from commissioning.blocks import Band
from commissioning.dossier.printing import MINUS
from commissioning.dossier.shows import ABSENCES, VERDICTS

LEAST, MOST = 70.0, 130.0
WORDS = {code: text.lower() for code, text in {**VERDICTS, **ABSENCES}.items()} | {"accepted": "accepted as is"}
_MARK_WIDTH = 17.0
_SCALE = ((70.0, f"{MINUS}30 %"), (85.0, f"{MINUS}15 %"), (100.0, "design"), (115.0, "+15 %"), (130.0, "+30 %"))


def mark(sheet: Sheet, x: float, y: float, outcome: str) -> None:
    """The mark of an outcome, 14 points wide, its middle at height `y`."""
    canvas, colour = sheet.canvas, ink.INK_OF.get(outcome, ink.BLACK)
    sheet.stroke(colour, 0.9)
    bars, dot = _SHAPES.get(outcome, ((), None))
    for bar in bars:
        canvas.line(x + bar, y - 4, x + bar, y + 4)
    if dot is None:
        canvas.line(x + 3, y, x + 11, y)
        return
    hollow = outcome in ("inconclusive", "accepted")
    sheet.pen((1.0, 1.0, 1.0) if hollow else colour)
    canvas.circle(x + dot, y, 2.3, stroke=1, fill=1)


_SHAPES: dict[str, tuple[tuple[float, ...], float]] = {
    "conforms": ((2.0, 12.0), 7.0),
    "does_not_conform": ((0.5, 7.5), 12.0),
    "inconclusive": ((1.0, 9.0), 9.0),
    "accepted": ((0.5, 7.5), 12.0),
}


def outcome(code: str, *, provisional: bool = False) -> Drawn:
    """A cell with mark and word."""
    word = WORDS.get(code, code.replace("_", " ")) + (" (provisional)" if provisional else "")
    style = replace(ink.CELL, bold=code == "does_not_conform", ink=ink.INK_OF.get(code, ink.BLACK))

    def draw(sheet: Sheet, x: float, top: float, wide: float, height: float) -> None:
        mark(sheet, x, top - style.leading / 2 + 0.5, code)
        parts = word.split(" (")
        sheet.line_at(x + _MARK_WIDTH, top - style.size, printable(parts[0]), style)
        if len(parts) > 1:
            sheet.line_at(x + _MARK_WIDTH, top - style.size - style.leading, f"({parts[1]}", ink.SMALL)

    return Drawn(style.leading * (2 if provisional else 1), draw)


# --- the band ----------------------------------------------------------------------------------------------------
def band_cell(band: Band | None, height: float = 11.0) -> Drawn:
    """A band in a row of a table, all rows on one scale."""

    def draw(sheet: Sheet, x: float, top: float, wide: float, _: float) -> None:
        if band is not None:
            draw_band(sheet, band, x, top - 5.5, wide, 4.5)

    return Drawn(height, draw)


def scale_cell() -> Drawn:
    """The scale for a column of bands."""

    def draw(sheet: Sheet, x: float, top: float, wide: float, _: float) -> None:
        scale(sheet, x, top - ink.SMALL.size, wide)

    return Drawn(ink.SMALL.leading, draw)


def at(percent: float, x: float, wide: float) -> float:
    """Where a value in per cent of design lies."""
    inside = min(max(percent, LEAST), MOST)
    return x + 14.0 + (inside - LEAST) / (MOST - LEAST) * (wide - 28.0)


def draw_band(sheet: Sheet, band: Band, x: float, y: float, wide: float, half: float) -> None:
    """The band with its middle line at `y`, `half` the height of the tolerance."""
    canvas = sheet.canvas
    sheet.rule(at(LEAST, x, wide), at(MOST, x, wide), y, weight=0.5)
    low = at(LEAST if band.low is None else band.low, x, wide)
    high = at(MOST if band.high is None else band.high, x, wide)
    if band.low is not None or band.high is not None:
        sheet.pen(ink.WASH)
        canvas.rect(low, y - half, high - low, 2 * half, stroke=0, fill=1)
    sheet.stroke(ink.BLACK, 0.9)
    for end, given in ((low, band.low), (high, band.high)):
        if given is not None:
            canvas.line(end, y - half, end, y + half)
    sheet.stroke(ink.GREY, 0.5)
    middle = at(band.design, x, wide)
    canvas.line(middle, y - half, middle, y + half)
    _minimum(sheet, band, x, y, wide, half)
    sheet.stroke(ink.HAIR, 0.8)
    for earlier in band.earlier:
        canvas.line(at(earlier, x, wide), y - half * 0.6, at(earlier, x, wide), y + half * 0.6)
    if band.measured is not None:
        _measured(sheet, band, band.measured, x, y, wide, half)


def _minimum(sheet: Sheet, band: Band, x: float, y: float, wide: float, half: float) -> None:
    """The ventilation minimum: a notch above the band, dashed down through it."""
    if band.minimum is None:
        return
    canvas, where = sheet.canvas, at(band.minimum, x, wide)
    sheet.stroke(ink.BLACK, 0.6)
    canvas.setDash(1.5, 1.2)
    canvas.line(where, y - half, where, y + half)
    canvas.setDash()
    notch = canvas.beginPath()
    notch.moveTo(where - 2.4, y + half + 3.2)
    notch.lineTo(where + 2.4, y + half + 3.2)
    notch.lineTo(where, y + half)
    notch.close()
    sheet.pen(ink.BLACK)
    canvas.drawPath(notch, stroke=0, fill=1)


def _measured(sheet: Sheet, band: Band, measured: float, x: float, y: float, wide: float, half: float) -> None:
    canvas, colour = sheet.canvas, ink.INK_OF.get(band.outcome, ink.BLACK)
    where = at(measured, x, wide)
    sheet.stroke(colour, 0.9)
    if band.uncertainty:
        ends = (at(measured - band.uncertainty, x, wide), at(measured + band.uncertainty, x, wide))
        canvas.line(ends[0], y, ends[1], y)
        for end in ends:
            canvas.line(end, y - half * 0.45, end, y + half * 0.45)
    sheet.pen((1.0, 1.0, 1.0) if band.outcome in ("inconclusive", "accepted") else colour)
    canvas.circle(where, y, 2.5, stroke=1, fill=1)
    if not LEAST <= measured <= MOST:
        _beyond(sheet, measured, x, y, wide)


def _beyond(sheet: Sheet, measured: float, x: float, y: float, wide: float) -> None:
    """Outside of the scale: an arrow at its end, with the value."""
    canvas, is_low = sheet.canvas, measured < LEAST
    tip, base = (x + 5.0, x + 10.0) if is_low else (x + wide - 5.0, x + wide - 10.0)
    arrow = canvas.beginPath()
    arrow.moveTo(tip, y)
    arrow.lineTo(base, y + 2.2)
    arrow.lineTo(base, y - 2.2)
    arrow.close()
    canvas.drawPath(arrow, stroke=0, fill=1)
    text = f"{measured:.0f} %".replace("-", MINUS)
    style = ink.Style(6.2, 8.0, ink=ink.INK_OF.get("does_not_conform", ink.BLACK))
    start = x + 18.0 if is_low else x + wide - 18.0 - width(text, style.font, style.size)
    sheet.line_at(start, y + 1.5, text, style)


def scale(sheet: Sheet, x: float, y: float, wide: float) -> None:
    """The words of the scale, their base at `y`."""
    for percent, text in _SCALE:
        sheet.line_at(at(percent, x, wide) - 30.0, y, text, ink.SMALL, align="centre", room=60.0)


def band_alone(sheet: Sheet, band: Band) -> None:
    """A band by itself, with its scale and the same in words."""
    sheet.need(58.0)
    wide = min(sheet.paper.text_width, 330.0)
    draw_band(sheet, band, sheet.left, sheet.y - 16.0, wide, 8.0)
    scale(sheet, sheet.left, sheet.y - 34.0, wide)
    if band.minimum is not None:
        where = at(band.minimum, sheet.left, wide)
        sheet.line_at(where + 4.5, sheet.y - 6.0, "minimum", ink.SMALL)
    sheet.down(38.0)
    sheet.paragraph(band.label, ink.ASIDE)
