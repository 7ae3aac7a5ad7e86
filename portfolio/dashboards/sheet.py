"""Tables as CSV that a spreadsheet takes as text: nothing in it is run as a formula."""

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from django.http import StreamingHttpResponse

_RUNS = ("=", "+", "-", "@", "\t", "\r")
_HELD = 500


def safe(value: Any) -> str:
    """
    >>> safe("=1+1"), safe("ERV-1"), safe(-3.5), safe(None)
    ("'=1+1", 'ERV-1', '-3.5', '')
    """
    if value is None:
        return ""
    text = str(value)
    return f"'{text}" if isinstance(value, str) and text.lstrip(" ").startswith(_RUNS) else text


def csv_response(name: str, heads: Sequence[str], rows: Iterable[Sequence[Any]]) -> StreamingHttpResponse:
    """However many rows there are, a few hundred are held at a time."""
    response = StreamingHttpResponse(_pieces(heads, rows), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    response["X-Content-Type-Options"] = "nosniff"
    return response


def _pieces(heads: Sequence[str], rows: Iterable[Sequence[Any]]) -> Iterator[str]:
    held = io.StringIO()
    held.write("\ufeff")
    writer = csv.writer(held)
    writer.writerow(heads)
    for number, row in enumerate(rows, start=1):
        writer.writerow([safe(cell) for cell in row])
        if number % _HELD == 0:
            yield held.getvalue()
            held.seek(0)
            held.truncate()
    yield held.getvalue()
