"""A row of a table on its way to a design row: fields by path, each with its cell, before tags are spread."""

from dataclasses import dataclass, field, replace

from portfolio.schedules.reading.cells import Address
from portfolio.schedules.understanding.result import AirBasis, Note, NotGiven, Quantity, ScopeWord, Written
from portfolio.schedules.understanding.tags import TagReading

Value = Quantity | Written


@dataclass
class Draft:
    """What one row says.

    Attributes:
        key: the text that names the row (its tag cell, or its type cell in a table of types).
        reading: the tags in it; for a row of a table of types its one type.
        by_type: the row stands in a table that names types and no tags.
        expected: how many units the row speaks of (0: not said), and where.
        values: by field path: 'supply.airflow', 'fan.exhaust.amps', 'exchanger.eatr', 'location' ...
    """

    table: int
    key: Written
    reading: TagReading
    by_type: bool
    kind: str = ""
    kind_by_tag: bool = False
    expected: int = 0
    expected_at: Address | None = None
    values: dict[str, Value] = field(default_factory=dict)
    open: dict[str, NotGiven] = field(default_factory=dict)
    other: dict[str, Written] = field(default_factory=dict)
    notes: tuple[Note, ...] = ()
    scope: tuple[ScopeWord, ...] = ()
    basis: AirBasis | None = None
    type_at: Written | None = None
    tag: str = ""

    def for_tag(self, tag: str) -> "Draft":
        """The same row for one of its tags; the fields are shared and not changed any more."""
        return replace(self, tag=tag)
