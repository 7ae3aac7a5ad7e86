"""The band: a measured value against its design, as SVG. One line high in tables, 60 pixels high by itself.

All in per cent of design from 70 to 130; what lies beyond is drawn at the edge with an arrow and its value. Shapes
carry the meaning (bars, filled, hollow, dash); colours only repeat it.
"""

from dataclasses import dataclass

from django.utils.html import format_html
from django.utils.safestring import SafeString

from commissioning.blocks import Band
from commissioning.dossier.printing import MINUS

LEAST, MOST = 70.0, 130.0
_CLASSES = {"conforms": "good", "does_not_conform": "bad", "inconclusive": "open", "accepted": "taken"}


@dataclass(frozen=True)
class Frame:
    """Where things lie: width and height of the drawing, its margin, the line of values and half the band's height."""

    width: int
    height: int
    margin: int
    line: int
    half: int

    def x(self, percent: float) -> float:
        inside = min(max(percent, LEAST), MOST)
        return round(self.margin + (inside - LEAST) / (MOST - LEAST) * (self.width - 2 * self.margin), 1)


IN_TABLE = Frame(width=200, height=24, margin=10, line=12, half=6)
ALONE = Frame(width=340, height=60, margin=14, line=28, half=9)


def band_in_table(block: Band) -> SafeString:
    return _svg(block, IN_TABLE, "band", "")


def band_alone(block: Band) -> SafeString:
    return _svg(block, ALONE, "band alone", _scale(block))


def no_band(reason: str) -> SafeString:
    """The place of a band where there is none: a dash with its reason."""
    return format_html('<span class="noband"><span aria-hidden="true">–</span> {}</span>', reason)


def _svg(block: Band, frame: Frame, classes: str, scale: str) -> SafeString:
    drawn = "".join((_ground(block, frame), _earlier(block, frame), _whisker(block, frame), _mark(block, frame)))
    return format_html(
        '<svg class="{}" role="img" width="{}" height="{}" viewBox="0 0 {} {}"><title>{}</title>{}{}</svg>',
        classes,
        frame.width,
        frame.height,
        frame.width,
        frame.height,
        block.label,
        SafeString(drawn),  # numbers and our own words only
        SafeString(scale),
    )


def _line(x1: float, y1: float, x2: float, y2: float, name: str) -> str:
    return f'<line class="{name}" x1="{x1:g}" y1="{y1:g}" x2="{x2:g}" y2="{y2:g}"/>'


def _ground(block: Band, frame: Frame) -> str:
    """Base line, tolerance with its contractual sides, design, ventilation minimum."""
    y, half = frame.line, frame.half
    low, high = (
        frame.x(block.low if block.low is not None else LEAST),
        frame.x(block.high if block.high is not None else MOST),
    )
    parts = [_line(frame.margin, y, frame.width - frame.margin, y, "base")]
    if block.low is not None or block.high is not None:
        parts.append(f'<rect class="tolerance" x="{low:g}" y="{y - half}" width="{high - low:g}" height="{2 * half}"/>')
    parts += [
        _line(x, y - half, x, y + half, "side")
        for given, x in ((block.low, low), (block.high, high))
        if given is not None
    ]
    design = frame.x(block.design)
    parts.append(_line(design, y - half, design, y + half, "design"))
    return "".join(parts) + _minimum(block, frame)


def _minimum(block: Band, frame: Frame) -> str:
    """The notch of the ventilation minimum; beyond the scale it points to where it lies."""
    if block.minimum is None:
        return ""
    x, top, half = frame.x(block.minimum), frame.line - frame.half - 1, frame.half
    if LEAST <= block.minimum <= MOST:
        line = _line(x, top, x, frame.line + half + 1, "minimum")
        return f'{line}<path class="notch" d="M{x - 4:g} {top - 4:g}h8l-4 5z"/>'
    way = -1 if block.minimum < LEAST else 1
    return f'<path class="notch" d="M{x + 2 * way:g} {top - 4:g}v8l{5 * way} -4z"/>'


def _earlier(block: Band, frame: Frame) -> str:
    y = frame.line
    return "".join(_line(frame.x(v), y - 4, frame.x(v), y + 4, "earlier") for v in block.earlier if LEAST <= v <= MOST)


def _whisker(block: Band, frame: Frame) -> str:
    if block.measured is None or block.uncertainty is None:
        return ""
    low, high = block.measured - block.uncertainty, block.measured + block.uncertainty
    if high < LEAST or low > MOST:
        return ""
    y, x1, x2 = frame.line, frame.x(low), frame.x(high)
    ends = [_line(x, y - 3, x, y + 3, "whisker") for v, x in ((low, x1), (high, x2)) if LEAST <= v <= MOST]
    return _line(x1, y, x2, y, "whisker") + "".join(ends)


def _mark(block: Band, frame: Frame) -> str:
    if block.measured is None:
        return ""
    name, y = _CLASSES.get(block.outcome, "none"), frame.line
    if not LEAST <= block.measured <= MOST:
        return _beyond(block.measured, name, frame)
    x = frame.x(block.measured)
    if name == "none":
        return _line(x - 5, y, x + 5, y, "dash")
    bar = _line(x, y - 6, x, y + 6, "across") if name == "open" else ""
    return f'{bar}<circle class="dot {name}" cx="{x:g}" cy="{y}" r="4"/>'


def _beyond(measured: float, name: str, frame: Frame) -> str:
    y, value = frame.line, f"{measured - 100.0:+.0f} %".replace("-", MINUS)
    if measured > MOST:
        edge, inwards, anchor = frame.width - frame.margin + 6, -8, "end"
    else:
        edge, inwards, anchor = frame.margin - 6, 8, "start"
    text = edge + 2 * inwards
    return (
        f'<path class="arrow {name}" d="M{edge} {y}l{inwards} -5v10z"/>'
        f'<text class="beyond {name}" x="{text - inwards / 2:g}" y="{y + 4}" text-anchor="{anchor}">{value}</text>'
    )


def _scale(block: Band) -> str:
    """Labels of the drawing that stands by itself."""
    frame, y = ALONE, ALONE.height - 6
    said = [_label(frame.x(block.design), y, "design", "middle")]
    for end, anchor, shift in ((block.low, "end", 6), (block.high, "start", -6)):
        if end is not None:
            text = f"{end - 100.0:+.3g} %".replace("-", MINUS)
            said.append(_label(frame.x(end) + shift, y, text, anchor))
    if block.minimum is not None:
        x = frame.x(block.minimum)
        beyond = "" if LEAST <= block.minimum <= MOST else f" {block.minimum - 100.0:+.0f} %".replace("-", MINUS)
        anchor = "start" if x < 60 else "end" if x > frame.width - 60 else "middle"
        shift = {"start": 8 if beyond else -5, "middle": 0, "end": -8 if beyond else 5}[anchor]
        said.append(_label(x + shift, 19 if beyond else 11, f"minimum{beyond}", anchor))
    return "".join(said)


def _label(x: float, y: float, text: str, anchor: str) -> str:
    return f'<text class="scale" x="{x:g}" y="{y:g}" text-anchor="{anchor}">{text}</text>'


def scale_of_stack() -> SafeString:
    """The one scale over a building's stacked bands."""
    frame = IN_TABLE
    marks = [(70.0, f"{MINUS}30 %", "start"), (100.0, "design", "middle"), (130.0, "+30 %", "end")]
    drawn = "".join(
        _label(frame.x(v) + (-8 if a == "start" else 8 if a == "end" else 0), 12, t, a)
        + _line(frame.x(v), 16, frame.x(v), 20, "base")
        for v, t, a in marks
    )
    return format_html(
        '<svg class="band" width="200" height="20" viewBox="0 0 200 20" role="img">'
        "<title>Scale from 30 per cent below to 30 per cent above design</title>{}</svg>",
        SafeString(drawn),
    )
