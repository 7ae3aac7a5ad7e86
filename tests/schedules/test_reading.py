"""Reading alone: the same cells as an independent reader sees, encodings, delimiters, limits, merged regions."""

import gc
import io
import subprocess
import sys
import zipfile
from collections.abc import Callable

import openpyxl
import pytest
from openpyxl.cell.cell import MergedCell

from fixtures.schedules.books import BOOKS, book, packed
from fixtures.schedules.shared_texts import with_shared_texts
from portfolio.schedules.reading import Grid, read_pasted, read_workbook
from portfolio.schedules.reading import cells as limits
from portfolio.schedules.reading.delimited import decode, delimiter_of

WORKBOOKS = sorted(name for name in BOOKS if name.endswith(".xlsx"))


@pytest.mark.parametrize("name", WORKBOOKS)
def test_same_cells_as_openpyxl(name: str) -> None:
    """Checked against openpyxl's own reading of the same file, which shares no code with ours."""
    data = BOOKS[name]()
    grids = {grid.sheet: grid for grid in read_workbook(name, data)}
    made = openpyxl.load_workbook(io.BytesIO(data), data_only=True)
    assert list(grids) == made.sheetnames
    for sheet in made:
        seen = {}
        for cells in sheet.iter_rows():
            for cell in cells:
                if not isinstance(cell, MergedCell) and cell.value is not None:
                    seen[(cell.row, cell.column)] = cell.value
        ours = {(cell.row, cell.column): cell for row in grids[sheet.title].rows for cell in row.cells.values()}
        assert set(ours) == set(seen)
        for place, value in seen.items():
            if isinstance(value, str):
                assert ours[place].text == value
            elif isinstance(value, int | float):
                times = 100 if ours[place].unit == "%" else 1
                assert ours[place].number == pytest.approx(value * times)
            else:
                pytest.fail(f"{value!r} at {place} is of a type that no form has")


@pytest.mark.parametrize("name", WORKBOOKS)
def test_shared_texts_and_prefixes_read_the_same(name: str) -> None:
    data = BOOKS[name]()
    assert read_workbook(name, with_shared_texts(data)) == read_workbook(name, data)


def test_a_merged_region_is_one_cell_at_every_place() -> None:
    data = packed(book(("M", [["a", None, "c"], [None, None, "d"]], ["A1:B2"])))
    grid = read_workbook("m.xlsx", data)[0]
    places = [grid.row(row).cells[column] for row in (1, 2) for column in (1, 2)]
    assert all(cell is places[0] for cell in places)
    assert (places[0].text, places[0].row, places[0].column, places[0].merged) == ("a", 1, 1, 4)
    assert str(grid.address(places[3])) == "M!A1"
    assert grid.row(2).cells[3].text == "d"


def test_a_region_merged_beyond_the_used_part_costs_nothing() -> None:
    data = packed(book(("M", [["a", "b"], ["c", "d"]], ["A1:XFD1"])))
    grid = read_workbook("m.xlsx", data)[0]
    assert [row.number for row in grid.rows] == [1, 2]
    assert max(grid.row(1).cells) <= 2


def test_hidden_rows_and_sheets_are_kept_and_marked() -> None:
    made = book(("A", [["x", "y"], ["z", "w"]], []), ("B", [["q", "r"]], []))
    made["A"].row_dimensions[2].hidden = True
    made["B"].sheet_state = "hidden"
    grids = read_workbook("h.xlsx", packed(made))
    assert [(row.number, row.hidden) for row in grids[0].rows] == [(1, False), (2, True)]
    assert [grid.hidden for grid in grids] == [False, True]


def test_values_that_are_no_numbers() -> None:
    sheet = (
        '<worksheet><sheetData><row r="1"><c r="A1" t="e"><v>#REF!</v></c><c r="B1" t="b"><v>1</v></c>'
        '<c r="C1"><v>1e400</v></c><c r="D1" t="str"><f>A1</f><v>text</v></c><c r="E1" t="str"><f>A1</f><v></v></c>'
        '<c r="F1"><f>1/2</f><v>0.5</v></c><c r="G1"><f>1/2</f></c><c><v>8</v></c></row>'
        '<row><c t="inlineStr"><is><r><t>in</t></r><r><t> runs_x000D_</t></r></is></c></row></sheetData></worksheet>'
    )
    grid = read_workbook("v.xlsx", _with_sheet(sheet))[0]
    found = {(c.row, c.column): (c.text, c.number, c.fault) for row in grid.rows for c in row.cells.values()}
    assert found == {
        (1, 1): ("#REF!", None, "error_value"),
        (1, 2): ("TRUE", None, ""),
        (1, 3): ("1e400", None, "error_value"),
        (1, 4): ("text", None, ""),
        (1, 6): ("0.5", 0.5, ""),
        (1, 7): ("", None, "formula_without_value"),
        (1, 8): ("8", 8.0, ""),
        (2, 1): ("in runs", None, ""),
    }


def test_a_date_is_a_fault_and_shown_as_a_date() -> None:
    made = book(("D", [["TAG", "SUPPLY FAN HP"], ["ERV-1", 46024]], []))
    made["D"]["B2"].number_format = "d-mmm"
    cell = read_workbook("d.xlsx", packed(made))[0].row(2).cells[2]
    assert (cell.text, cell.number, cell.fault) == ("2026-01-02", None, "date_value")


@pytest.mark.parametrize(
    ("encode", "delimiter"),
    [
        (lambda text: text.encode("utf-8"), ","),
        (lambda text: text.encode("utf-8-sig"), ";"),
        (lambda text: text.encode("cp1252"), ";"),
        (lambda text: text.encode("utf-16"), "\t"),
        (lambda text: text.encode("utf-16-le"), ","),
        (lambda text: text.encode("utf-16-be"), ";"),
    ],
)
def test_encodings_and_delimiters(encode: Callable[[str], bytes], delimiter: str) -> None:
    text = "TAG,PLACE,FLOW\r\nERV-1,Dachgeschoß,500\r\nERV-2,Café,600\r\n".replace(",", delimiter)
    grid = read_workbook("x.csv", encode(text))[0]
    assert grid.delimiter == delimiter
    assert [[cell.text for cell in row.cells.values()] for row in grid.rows] == [
        ["TAG", "PLACE", "FLOW"], ["ERV-1", "Dachgeschoß", "500"], ["ERV-2", "Café", "600"]
    ]  # fmt: skip


def test_the_delimiter_is_not_fooled_by_decimal_commas_or_quotes() -> None:
    assert delimiter_of("TAG;A;B;C\nERV-1;1,5;2,5;3,5\nERV-2;4,5;5,5;6,5\n") == ";"
    assert delimiter_of('TAG,A,REMARKS\nERV-1,5,"x;y;z"\nERV-2,6,"u;v;w"\n') == ","
    assert delimiter_of("TAG\tA, B\nERV-1\t5, 6\n") == "\t"


def test_bytes_that_are_no_text() -> None:
    with pytest.raises(limits.Unreadable):
        decode(b"abc\x00def")
    with pytest.raises(limits.Unreadable):
        decode(b"\xff\xfe\x00")


def test_row_numbers_are_those_of_a_spreadsheet_program() -> None:
    grid = read_workbook("q.csv", b'TAG,NOTE\nERV-1,"two\nlines"\n\nERV-2,x\n')[0]
    assert [row.number for row in grid.rows] == [1, 2, 4]


def test_limits_are_on_filled_cells(monkeypatch: pytest.MonkeyPatch) -> None:
    assert _code("\n".join(["a,b"] * 50_001)) == "too_large"
    assert _code(",".join("x" * 201)) == "too_large"
    assert _code("a,b\nx,y" + "," * 500 + "\n") == ""
    assert _code("a," + "y" * 40_000) == "cell_too_long"
    monkeypatch.setattr(limits, "MAX_CELLS", 5)
    assert _code("a,b\nc,d\ne,f\n") == "too_many_cells"
    assert read_pasted("a\tb\nc\td\ne\tf\n")[0].errors[0].code == "too_many_cells"


def test_the_collector_goes_on_after_reading() -> None:
    assert gc.isenabled()
    read_workbook("q.csv", b"TAG,NOTE\n")
    read_workbook("q.csv", b"\x00\x01")
    assert gc.isenabled()


def test_no_framework_is_imported() -> None:
    code = (
        "import sys; import portfolio.schedules.reading, portfolio.schedules.understanding;"
        "print([name for name in ('django', 'openpyxl', 'pandas', 'lxml') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def _code(text: str) -> str:
    grid: Grid = read_workbook("l.csv", text.encode())[0]
    return grid.errors[0].code if grid.errors else ""


def _with_sheet(sheet: str) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(packed(book(("S", [["x"]], []))))) as source, zipfile.ZipFile(made, "w") as target:
        for name in source.namelist():
            target.writestr(name, sheet if name.endswith("sheet1.xml") else source.read(name))
    return made.getvalue()
