"""Every published row is held by some test, and a row that a test leaves to another is really held there.

A row counts as held where its id is a key of a table of checks, the subscript of a table of rows, or named in the
docstring of a test that works it by hand. A mention in a list of what is elsewhere does not count.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.engineering.reference_rows import FOLDER, Row, hold, rows

TABLES = sorted(path.stem for path in FOLDER.glob("*.csv"))
_ID = re.compile(r"T\d+\.\d+")


def held(path: Path) -> Iterator[str]:
    """The ids that one file of tests holds."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Dict):
            yield from (str(key.value) for key in node.keys if isinstance(key, ast.Constant))
        elif isinstance(node, ast.Subscript) and isinstance(node.slice, ast.Constant):
            yield str(node.slice.value)
        elif isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
            yield from _ID.findall(ast.get_docstring(node) or "")


HELD = {id_ for path in sorted(Path(__file__).parent.glob("test_*.py")) for id_ in held(path) if _ID.fullmatch(id_)}


@pytest.mark.parametrize("table", TABLES)
def test_every_row_is_held(table: str) -> None:
    assert not set(rows(table)) - HELD


def test_no_row_stands_in_two_tables() -> None:
    ids = [id_ for table in TABLES for id_ in rows(table)]
    assert len(ids) == len(set(ids))


def test_a_list_of_what_is_elsewhere_does_not_count(tmp_path: Path) -> None:
    file = tmp_path / "test_other.py"
    file.write_text(
        'ELSEWHERE = ["T99.01"]\nCHECKS = {"T99.02": 1}\ndef test_x() -> None:\n    """T99.03 by hand."""\n'
    )
    assert set(held(file)) == {"T99.02", "T99.03"}


def test_a_value_beyond_the_tolerance_does_not_hold() -> None:
    row = Row("T99.04", "quantity", (10.0, 20.0), ((0.1, "abs"), (0.01, "rel")), "recomputed", "")
    hold(row, (10.1, 20.2))
    for wrong in ((10.11, 20.0), (10.0, 20.21), (10.0,)):
        with pytest.raises(AssertionError, match="T99"):
            hold(row, wrong)
