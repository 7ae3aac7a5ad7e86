"""The closed set of blocks by which a kind or a requirement shows itself.

A block says what is to be seen, never how. All text is plain: escaping is the renderer's business. Each renderer
has one function per member of `BLOCKS`, and a test holds that complete.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass
from typing import Any, Literal, TypeAlias

Align: TypeAlias = Literal["left", "right", "centre"]


@dataclass(frozen=True, slots=True)
class Sentence:
    """One or more sentences of running text. `weight` is 'lead' for what the reader came for."""

    text: str
    weight: Literal["lead", "plain", "aside"] = "plain"


@dataclass(frozen=True, slots=True)
class Caution:
    """What stands before a step that can hurt someone, or that would spoil the evidence."""

    text: str
    hazard: str = ""


@dataclass(frozen=True, slots=True)
class Column:
    """A column's heading, its unit (said once, here), and how its cells align."""

    title: str
    unit: str = ""
    align: Align = "left"


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of printed text under columns; `empty` is what would fill the table when it has no rows."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    caption: str = ""
    empty: str = ""


@dataclass(frozen=True, slots=True)
class Band:
    """A measured value against its design, all in per cent of design (100 is design).

    `low` and `high` are the ends of the tolerance, None where that side has no limit; `minimum` is the notch;
    `uncertainty` is the half width of the whisker; `earlier` are readings that no longer stand, oldest first.
    `label` says the same as a sentence: it is the picture's text alternative.
    """

    label: str
    low: float | None
    high: float | None
    minimum: float | None
    measured: float | None
    uncertainty: float | None
    earlier: tuple[float, ...] = ()
    outcome: str = ""
    design: float = 100.0


@dataclass(frozen=True, slots=True)
class Axis:
    """What an axis counts, and in which unit."""

    title: str
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Series:
    """Points of a plot under one name; `join` says whether a line runs through them."""

    name: str
    x: tuple[float, ...]
    y: tuple[float, ...]
    join: bool = False


@dataclass(frozen=True, slots=True)
class Plot:
    """A plot of few series; `label` is its text alternative."""

    label: str
    x: Axis
    y: Axis
    series: tuple[Series, ...]


@dataclass(frozen=True, slots=True)
class TimeLine:
    """What was logged of one point; a value that is None breaks the line. `steps`: each value holds to the next."""

    name: str
    times_s: tuple[float, ...]
    values: tuple[float | None, ...]
    steps: bool = False


@dataclass(frozen=True, slots=True)
class Limit:
    """A level that must not be passed, by its name and value in words."""

    name: str
    value: float


@dataclass(frozen=True, slots=True)
class Panel:
    """Lines on one scale. Where `lanes`, each line is a state, off at 0 and on above, on a lane of its own."""

    title: str
    unit: str
    lines: tuple[TimeLine, ...]
    limits: tuple[Limit, ...] = ()
    lanes: bool = False


@dataclass(frozen=True, slots=True)
class Mark:
    """Something that happened, or was found, from one time to another; marks are numbered from 1 as they stand."""

    words: str
    from_s: float
    to_s: float
    is_fault: bool = False


@dataclass(frozen=True, slots=True)
class Tick:
    """Where the axis of time says what day or hour it is."""

    at_s: float
    text: str


@dataclass(frozen=True, slots=True)
class TimePlot:
    """Panels over one axis of time, in seconds from its beginning to `end_s`, with marks through all of them.

    `label` is the text alternative: which period, of what, and how many marks.
    """

    label: str
    end_s: float
    ticks: tuple[Tick, ...]
    panels: tuple[Panel, ...]
    marks: tuple[Mark, ...] = ()


@dataclass(frozen=True, slots=True)
class WorkingLine:
    """One line of arithmetic: what, by which expression, what comes out, and where it comes from."""

    label: str
    expression: str
    value: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class Working:
    """The arithmetic behind a number, line by line, with all digits."""

    lines: tuple[WorkingLine, ...]
    title: str = ""


@dataclass(frozen=True, slots=True)
class Photo:
    """A picture that was taken, named by the hash of its bytes."""

    sha256: str
    caption: str = ""


Block: TypeAlias = Sentence | Caution | Table | Band | Plot | TimePlot | Working | Photo
BLOCKS: tuple[type[Block], ...] = (Sentence, Caution, Table, Band, Plot, TimePlot, Working, Photo)

_NAMES: dict[type[Block], str] = {
    Sentence: "sentence",
    Caution: "caution",
    Table: "table",
    Band: "band",
    Plot: "plot",
    TimePlot: "time_plot",
    Working: "working",
    Photo: "photo",
}
_BY_NAME: dict[str, type[Block]] = {name: block for block, name in _NAMES.items()}


def to_json(block: Block) -> dict[str, Any]:
    """Return a block as plain JSON values, with its name under `block`.

    >>> to_json(Sentence("It conforms."))
    {'block': 'sentence', 'text': 'It conforms.', 'weight': 'plain'}
    """
    return {"block": _NAMES[type(block)], **_fields(block)}


def from_json(data: dict[str, Any]) -> Block:
    """Return the block that `to_json` described.

    >>> from_json({"block": "sentence", "text": "It conforms."})
    Sentence(text='It conforms.', weight='plain')
    """
    rest = {name: value for name, value in data.items() if name != "block"}
    block = _BY_NAME[data["block"]]
    if block is Table:
        rest["columns"] = tuple(Column(**column) for column in rest["columns"])
        rest["rows"] = tuple(tuple(row) for row in rest["rows"])
    elif block is Band:
        rest["earlier"] = tuple(rest.get("earlier", ()))
    elif block is Working:
        rest["lines"] = tuple(WorkingLine(**line) for line in rest["lines"])
    elif block is Plot:
        rest["x"], rest["y"] = Axis(**rest["x"]), Axis(**rest["y"])
        rest["series"] = tuple(
            Series(series["name"], tuple(series["x"]), tuple(series["y"]), series.get("join", False))
            for series in rest["series"]
        )
    elif block is TimePlot:
        rest["ticks"] = tuple(Tick(**tick) for tick in rest["ticks"])
        rest["panels"] = tuple(_panel(**panel) for panel in rest["panels"])
        rest["marks"] = tuple(Mark(**mark) for mark in rest["marks"])
    return block(**rest)


def _panel(lines: list[dict[str, Any]], limits: list[dict[str, Any]], **rest: Any) -> Panel:
    drawn = tuple(
        TimeLine(**line | {"times_s": tuple(line["times_s"]), "values": tuple(line["values"])}) for line in lines
    )
    return Panel(lines=drawn, limits=tuple(Limit(**limit) for limit in limits), **rest)


def _fields(value: Any) -> dict[str, Any]:
    return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}


def _plain(value: Any) -> Any:
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if is_dataclass(value):
        return _fields(value)
    return value
