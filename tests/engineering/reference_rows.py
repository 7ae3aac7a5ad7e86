"""Reads the tables of published check values, and holds an answer against one row at the row's tolerance."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

import numpy as np
import pytest

FOLDER = Path(__file__).parent / "references"
Answer: TypeAlias = object
Check: TypeAlias = Callable[[], Answer]
_NUMBER = re.compile(r"[-+−]?\d+(?:\.\d+)?(?:e[-+]?\d+)?")


@dataclass(frozen=True)
class Row:
    """One published or recomputed value."""

    id: str
    quantity: str
    expected: tuple[float, ...]
    tolerances: tuple[tuple[float, str], ...]
    mark: str
    source: str


def rows(table: str) -> dict[str, Row]:
    """The rows of one table by their id."""
    with (FOLDER / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        lines = [line for line in file if not line.startswith("#")]
    return {record["id"]: _row(record) for record in csv.DictReader(lines)}


def _row(record: dict[str, str]) -> Row:
    text = re.sub(r"(?<=[A-Za-z])\d", "", record["expected"])
    return Row(
        id=record["id"],
        quantity=record["quantity"],
        expected=tuple(float(number.replace("−", "-")) for number in _NUMBER.findall(text)),
        tolerances=tuple((float(part.split()[0]), part.split()[1]) for part in record["tolerance"].split("; ")),
        mark=record["mark"],
        source=record["source"],
    )


def hold(row: Row, answer: Answer) -> None:
    """Assert that the answer is the row's value within the row's tolerance."""
    found = [float(value) for value in np.atleast_1d(np.asarray(answer, dtype=float))]
    assert len(found) == len(row.expected), f"{row.id} {row.quantity}"
    for index, (value, expected) in enumerate(zip(found, row.expected, strict=True)):
        size, kind = row.tolerances[min(index, len(row.tolerances) - 1)]
        limit = size * abs(expected) if kind == "rel" else size
        assert abs(value - expected) <= limit, f"{row.id} {row.quantity}: {value} is not {expected}"


def parameters(table: str, checks: Mapping[str, Check], *, elsewhere: Sequence[str] = ()) -> list[object]:
    """Pair every row of a table with its check; a row without one fails when the tests are collected."""
    table_rows = rows(table)
    missing = set(table_rows) - set(checks) - set(elsewhere)
    unknown = set(checks) - set(table_rows)
    assert not missing, f"{table}: no check for {sorted(missing)}"
    assert not unknown, f"{table}: no row for {sorted(unknown)}"
    return [pytest.param(table_rows[id_], check, id=f"{id_} ({table_rows[id_].mark})") for id_, check in checks.items()]
