"""What the settings will do and what changed, as plain facts that are kept, and as blocks made from those."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from commissioning.blocks import Block, Caution, Column, Sentence, Table
from commissioning.dossier import printing
from commissioning.dossier.settings import printed
from commissioning.dossier.settings.behaviour import NOT_READ, Condition, Obstacle, Row, Told
from commissioning.dossier.settings.compare import Change
from commissioning.dossier.settings.words import MOMENTS
from commissioning.engineering import units

CAUTION = Caution(
    "Who starts it sees first that nobody is inside or at the ducts, by the site's lockout rules and local codes. "
    "Nothing here says that it is safe to start or to energise.",
    "A fan that starts",
)
_READINGS = {  # by a condition's name: what is read, and a setting that is printed alike
    "co2": ("CO2", "co2_setpoint"),
    "supply_duct_pressure": ("supply duct pressure", "supply_duct_pressure"),
    "space_pressure": ("space pressure", "supply_space_pressure"),
    "voc": ("VOC", "voc_setpoint"),
}
_PLAIN = {"any": "always while it runs", "unoccupied": "outside the schedule's hours"}


def obstacles_json(found: Iterable[Obstacle]) -> list[dict[str, Any]]:
    return [{"text": one.text, "certain": one.certain} for one in found]


def rows_json(rows: Iterable[Row]) -> list[dict[str, Any]]:
    return [
        {
            "condition": {"name": row.condition.name, "reading": row.condition.reading},
            "supply": _told_json(row.supply),
            "exhaust": _told_json(row.exhaust),
            "offset_m3_s": row.offset_m3_s,
        }
        for row in rows
    ]


def _told_json(told: Told) -> dict[str, Any]:
    return {"speed": told.speed, "airflow_m3_s": told.airflow_m3_s, "how": told.how}


def changes_json(found: Iterable[Change]) -> list[dict[str, Any]]:
    return [{"code": one.code, "before": one.before, "after": one.after} for one in found]


def starting(obstacles: Sequence[Mapping[str, Any]]) -> tuple[Block, ...]:
    """Would it start now, and if not, every reason in the order to check."""
    if not obstacles:
        return (CAUTION, Sentence("By its settings and what was seen it would start now."))
    certain = sum(bool(one["certain"]) for one in obstacles)
    text = (
        "It would not start now. In the order to check:"
        if certain
        else "Nothing that was seen keeps it from starting; these were not looked at:"
    )
    rows = tuple(
        (str(number), one["text"], "for certain" if one["certain"] else "perhaps")
        for number, one in enumerate(obstacles, start=1)
    )
    return (CAUTION, Sentence(text), Table((Column("", align="right"), Column("Why"), Column("Keeps it off")), rows))


def behaviour(rows: Sequence[Mapping[str, Any]], display: str) -> tuple[Block, ...]:
    """Supply and exhaust over a few conditions; empty where nothing is known of either fan."""
    if not any(row[fan]["how"] != NOT_READ for row in rows for fan in ("supply", "exhaust")):
        return ()
    unit = units.unit(printing.airflow_unit(display)).label
    columns = (
        Column("When"),
        Column("Supply speed", align="right"),
        Column("Supply", unit, "right"),
        Column("Exhaust speed", align="right"),
        Column("Exhaust", unit, "right"),
        Column("Supply less exhaust", unit, "right"),
        Column("By"),
    )
    return (Table(columns, tuple(_row(row, display) for row in rows), "What these settings will do"),)


def _row(row: Mapping[str, Any], display: str) -> tuple[str, ...]:
    supply, exhaust = row["supply"], row["exhaust"]
    how = supply["how"] if supply["how"] == exhaust["how"] else f"supply: {supply['how']}; exhaust: {exhaust['how']}"
    return (
        condition(Condition(**row["condition"]), display),
        printed.speed(supply["speed"]),
        printed.airflow(supply["airflow_m3_s"], display),
        printed.speed(exhaust["speed"]),
        printed.airflow(exhaust["airflow_m3_s"], display),
        printed.airflow(row["offset_m3_s"], display, signed=True),
        how,
    )


def condition(one: Condition, display: str) -> str:
    """
    >>> condition(Condition("co2", 0.0009), "ip"), condition(Condition("any"), "ip")
    ('CO2 900 ppm', 'always while it runs')
    """
    if one.name in _PLAIN:
        return _PLAIN[one.name]
    name, like = _READINGS[one.name]
    return f"{name} {printed.value(like, one.reading, display)}"


def compared(told: Mapping[str, Any] | None, display: str, *, now: str) -> tuple[Block, ...]:
    """Two moments side by side. `told` holds the other moment, when that was, and the changes."""
    if told is None:
        return ()
    other = f"{MOMENTS[told['moment']]}, {printing.moment(told['observed_at'])}, read by {told['by']}"
    if not told["changes"]:
        return (Sentence(f"The settings are the same {other}."),)
    rows = tuple(
        (
            printed.title_of(one["code"]),
            printed.value(one["code"], one["before"], display),
            printed.value(one["code"], one["after"], display),
        )
        for one in told["changes"]
    )
    columns = (Column("Setting"), Column(_upper(other if told["is_earlier"] else now)))
    last = Column(_upper(now if told["is_earlier"] else other))
    return (Table((*columns, last), rows, "What changed"),)


def _upper(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"
