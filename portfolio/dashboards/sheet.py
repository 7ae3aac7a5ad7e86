"""Tables as CSV that a spreadsheet takes as text: nothing in it is run as a formula."""

import csv
import io
from collections.abc import Iterable, Sequence
from typing import Any

from django.http import HttpResponse

_RUNS = ("=", "+", "-", "@", "\t", "\r")


def safe(value: Any) -> str:
    """
    >>> safe("=1+1"), safe("ERV-1"), safe(-3.5), safe(None)
    ("'=1+1", 'ERV-1', '-3.5', '')
    """
    if value is None:
        return ""
    text = str(value)
    return f"'{text}" if isinstance(value, str) and text.lstrip(" ").startswith(_RUNS) else text


def csv_response(name: str, heads: Sequence[str], rows: Iterable[Sequence[Any]]) -> HttpResponse:
    held = io.StringIO()
    writer = csv.writer(held)
    writer.writerow(heads)
    writer.writerows([safe(cell) for cell in row] for row in rows)
    response = HttpResponse("\ufeff" + held.getvalue(), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    response["X-Content-Type-Options"] = "nosniff"
    return response
