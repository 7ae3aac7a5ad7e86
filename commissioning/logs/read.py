"""A log's file as a table: told by its first bytes, never by its name."""

from commissioning.logs.problems import CannotRead
from commissioning.logs.table import Table, of_parquet, of_text
from commissioning.logs.text import MOST_BYTES, clean
from commissioning.logs.workbook import of_workbook

_ELSE = {
    b"\xd0\xcf\x11\xe0": "an old workbook (.xls) or one that is protected",
    b"%PDF": "a PDF",
    b"\x1f\x8b": "a packed file (gzip)",
    b"{": "JSON",
    b"[": "JSON",
    b"<": "a web page or XML",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture",
}


def read(data: bytes, *, delimiter: str = "", sheet: str = "") -> Table:
    """The table, or CannotRead with a sentence and the line."""
    if not data:
        raise CannotRead("empty", "There is nothing in the file. Export the log again.")
    if len(data) > MOST_BYTES:
        raise CannotRead("too_large", f"The file has more than {MOST_BYTES >> 20} MB. Export a shorter period.")
    if data[:4] == b"PAR1":
        return of_parquet(data)
    if data[:4] == b"PK\x03\x04":
        return of_workbook(data, sheet)
    for magic, said in _ELSE.items():
        if data.lstrip()[:8].startswith(magic):
            raise CannotRead("not_a_log", f"The file is {said}. Send CSV, XLSX or Parquet.")
    return of_text(clean(data, delimiter))
