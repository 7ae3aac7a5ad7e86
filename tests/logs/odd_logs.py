"""Logs as they should not be, one line of the table each: what is done with them, and of which line it is said.

Expected times are arithmetic on the clock of America/Chicago: 6 h behind UTC in winter, 5 h in summer; in 2026 clocks
go forward on 8 March and back on 1 November. Expected values: 68 °F = 20 °C, 50 °F = 10 °C.
"""

import io
import zipfile
from dataclasses import dataclass, field
from typing import Any

import openpyxl
import polars as pl

HEAD = "Timestamp,SAT (°F),SF-S\n"


def rows(*lines: str) -> bytes:
    return (HEAD + "\n".join(lines) + "\n").encode()


GOOD = ("2026-03-13 14:00,68,On", "2026-03-13 14:05,50,Off", "2026-03-13 14:10,68,On")


@dataclass(frozen=True)
class Odd:
    """`problem` is the code of what stands in the way, else `repair` of what was put right; with its line.

    `values` are those of the first point in SI, None for unknown; `minutes` their times after the first.
    """

    says: str
    data: bytes
    problem: str = ""
    repair: str = ""
    line: int = 0
    values: list[float | None] | None = None
    minutes: list[float] | None = None
    mapping: dict[str, Any] = field(default_factory=dict)


def _sheet(cells: list[list[Any]], name: str = "Log") -> bytes:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = name
    for row in cells:
        sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _parquet(**columns: Any) -> bytes:
    out = io.BytesIO()
    pl.DataFrame(columns).write_parquet(out)
    return out.getvalue()


def _zip(**parts: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as held:
        for name, data in parts.items():
            held.writestr(name, data)
    return out.getvalue()


_TEMPERATURE = {"points": [{"name": "SAT (°F)", "role": "supply_temperature", "unit": "degF"}]}
_METRIC = {"points": [{"name": "SAT", "role": "supply_temperature", "unit": "degC"}]}
_FLOW = {"points": [{"name": "SA flow", "role": "supply_airflow", "unit": "m3/h"}]}
_STATE = {"points": [{"name": "SF-S", "role": "supply_fan_status"}]}
_MODE = {"points": [{"name": "Mode", "role": "unit_mode"}]}
_FALL = ("2026-11-01 00:30", "2026-11-01 01:00", "2026-11-01 01:30")

REFUSED = [
    Odd("nothing at all", b"", "empty"),
    Odd("blank lines only", b"\n\n \n", "empty"),
    Odd("headings and no sample", HEAD.encode(), "no_time"),
    Odd("no column of moments", b"a,b\n1,2\n3,4\n", "no_time"),
    Odd("one column of words", b"hello\nworld\n", "no_columns"),
    Odd("a web page under the name of a log", b"<html><body>no session</body></html>", "not_a_log"),
    Odd("a PDF", b"%PDF-1.7 ...", "not_a_log"),
    Odd("an old workbook", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(100), "not_a_log"),
    Odd("a packed file", b"\x1f\x8b\x08" + bytes(40), "not_a_log"),
    Odd("JSON", b'{"points": []}', "not_a_log"),
    Odd("a NUL character", rows(*GOOD, "2026-03-13 14:15,6\x008,On"), "nul", line=5),
    Odd("a quote that nobody closes", rows(*GOOD, '2026-03-13 14:15,"68,On', *GOOD), "unclosed_quote", line=5),
    Odd("more fields than headings", rows(*GOOD, "2026-03-13 14:15,68,On,1"), "too_many_fields", line=5),
    Odd(
        "decimal commas between commas",
        b"Timestamp,SAT\n2026-03-13 14:00,20\n2026-03-13 14:05,20\n2026-03-13 14:10,20\n2026-03-13 14:15,20,5\n",
        "too_many_fields",
        line=5,
        mapping=_METRIC,
    ),
    Odd("a line without end", rows(*GOOD, "x" * 70_000), "long_line", line=5),
    Odd("a workbook that is cut off", _sheet([["Timestamp", "SAT"]])[:900], "damaged"),
    Odd("a zip that is no workbook", _zip(a=b"x"), "damaged"),
    Odd("a workbook that unpacks to a hundred times its size", _zip(a=bytes(3_000_000)), "packed_too_tight"),
    Odd("a workbook without the sheet that the mapping names", _sheet([["a"]]), "no_sheet", mapping={"sheet": "T"}),
    Odd("a Parquet file that is cut off", _parquet(a=[1, 2])[:60], "damaged"),
    Odd("a Parquet file of lists", _parquet(time=[1, 2], a=[[1], [2]]), "nested"),
    Odd("a date that may be of March or of April", rows("03/04/2026 14:00,68,On"), "day_or_month"),
    Odd(
        "a format that the moments are not in", rows(*GOOD), "time_format", line=2, mapping={"time_format": "%d.%m.%y"}
    ),
    Odd("letters of a zone that nobody knows", rows("2026-03-13 14:00 XQT,68,On"), "zone_letters"),
    Odd("a word that is neither on nor off", rows(*GOOD, "2026-03-13 14:15,68,Purple"), "unknown_word", line=5),
    Odd("a state that is 7", rows(*GOOD, "2026-03-13 14:15,68,7"), "not_a_state", line=5),
    Odd(
        "words where numbers should be",
        rows(*[f"2026-03-13 14:0{n},warm,On" for n in range(5)]),
        "not_a_number",
        line=2,
    ),
    Odd(
        "a comma that parts thousands or decimals",
        b"Timestamp;SA flow\n2026-03-13 14:00;1,234\n2026-03-13 14:05;1,250\n",
        "decimal",
        line=2,
        mapping=_FLOW,
    ),
    Odd("no mapped point in the file", rows(*GOOD), "no_samples", mapping=_FLOW),
    Odd("no point mapped", rows(*GOOD), "nothing_mapped", mapping={"points": []}),
    Odd(
        "two values at one moment, which the mapping refuses",
        rows(*GOOD, "2026-03-13 14:10,50,On"),
        "two_values",
        line=5,
        mapping={"duplicates": "refuse"},
    ),
    Odd(
        "an hour that does not exist, which the mapping refuses",
        rows("2026-03-08 01:30,68,On", "2026-03-08 02:30,68,On"),
        "missing_hour",
        line=3,
        mapping={"missing_hour": "refuse"},
    ),
    Odd(
        "an hour that occurs twice, which the mapping refuses",
        rows("2026-11-01 01:30,68,On"),
        "repeated_hour",
        line=2,
        mapping={"repeated_hour": "refuse"},
    ),
    Odd(
        "a unit in the file that is not the mapping's",
        b"Timestamp,Name,Value,Units\n2026-03-13 14:00,SAT,68,degF\n2026-03-13 14:05,SAT,68,degF\n",
        "other_unit",
        line=2,
        mapping=_METRIC,
    ),
]

REPAIRED = [
    Odd("a mark of the encoding", b"\xef\xbb\xbf" + rows(*GOOD), values=[20, 10, 20], minutes=[0, 5, 10]),
    Odd("UTF-16", rows(*GOOD).decode().encode("utf-16"), repair="encoding", values=[20, 10, 20]),
    Odd("Western European text", rows(*GOOD).decode().encode("cp1252"), repair="encoding", line=1, values=[20, 10, 20]),
    Odd("line ends of two kinds", rows(*GOOD).replace(b"\n", b"\r\n", 2), repair="line_ends", values=[20, 10, 20]),
    Odd("lines ended by returns alone", rows(*GOOD).replace(b"\n", b"\r"), repair="line_ends", values=[20, 10, 20]),
    Odd("blank lines between", rows(GOOD[0], "", GOOD[1], "", GOOD[2]), values=[20, 10, 20]),
    Odd("lines that are cut short", rows("2026-03-13 14:00", *GOOD[1:]), values=[10, 20], minutes=[0, 5]),
    Odd("a line break in a quoted heading", rows(*GOOD).replace(b"SF-S", b'"SF\nS"'), repair="line_break", line=1),
    Odd("lines before the headings", b"Report: night\nSite,North\n\n" + rows(*GOOD), values=[20, 10, 20]),
    Odd("a line after the samples", rows(*GOOD, "End of report"), repair="no_moment", line=5, values=[20, 10, 20]),
    Odd("headings again on each page", rows(*GOOD) + rows(*GOOD), repair="no_moment", line=5),
    Odd("a moment that is missing", rows(*GOOD, ",68,On"), repair="no_moment", line=5, values=[20, 10, 20]),
    Odd("the newest sample first", rows(*reversed(GOOD)), repair="newest_first", values=[20, 10, 20]),
    Odd("samples out of order", rows(GOOD[0], GOOD[2], GOOD[1]), repair="out_of_order", line=4, values=[20, 10, 20]),
    Odd("a sample that stands twice", rows(*GOOD, GOOD[2]), repair="duplicate", line=5, values=[20, 10, 20]),
    Odd(
        "two values at one moment",
        rows(*GOOD, "2026-03-13 14:10,50,On"),
        repair="two_values",
        line=5,
        values=[20, 10, 10],
    ),
    Odd(
        "two values at one moment, the first counting",
        rows(*GOOD, "2026-03-13 14:10,50,On"),
        repair="two_values",
        values=[20, 10, 20],
        mapping={"duplicates": "first"},
    ),
    Odd("no value", rows(*GOOD, "2026-03-13 14:15,No Data,On"), repair="no_value", line=5, values=[20, 10, 20, None]),
    Odd(
        "NaN and infinity",
        rows(GOOD[0], "2026-03-13 14:05,NaN,On", "2026-03-13 14:10,inf,On"),
        repair="no_value",
        line=3,
    ),
    Odd("a number beyond all", rows(*GOOD, "2026-03-13 14:15,1e999,On"), repair="no_value", values=[20, 10, 20, None]),
    Odd(
        "a number that stands for no value",
        rows(*GOOD, "2026-03-13 14:15,-9999,On"),
        repair="no_value",
        line=5,
        values=[20, 10, 20, None],
        mapping={"no_value": ["-9999"]},
    ),
    Odd("values that are marked as bad", rows(*GOOD, "2026-03-13 14:15,68 {fault},On"), repair="marked_bad", line=5),
    Odd(
        "values that are marked as good",
        rows(*GOOD, "2026-03-13 14:15,50 {ok},On"),
        repair="marked",
        values=[20, 10, 20, 10],
    ),
    Odd(
        "a unit beside the value",
        rows(*GOOD, "2026-03-13 14:15,50 °F,On"),
        repair="unit_in_value",
        values=[20, 10, 20, 10],
    ),
    Odd("one word among numbers", rows(*GOOD * 2, "2026-03-13 14:15,warm,On"), repair="not_a_number", line=8),
    Odd(
        "a formula where a value should be", rows(*GOOD * 2, "2026-03-13 14:15,=1+1,On"), repair="not_a_number", line=8
    ),
    Odd("digits that are not ours", rows(*GOOD * 2, "2026-03-13 14:15,٦٨,On"), repair="not_a_number", line=8),
    Odd("an underscore in a number", rows(*GOOD * 2, "2026-03-13 14:15,6_8,On"), repair="not_a_number", line=8),
    Odd(
        "a heading that stands twice", rows(*GOOD).replace(b"SF-S", "SAT (°F)".encode()), repair="same_heading", line=1
    ),
    Odd("a point that is not there", rows(*GOOD).replace(b"SF-S", b"SF-X"), repair="no_point", values=[20, 10, 20]),
    Odd(
        "midnight as 24:00",
        rows("2026-03-13 23:55,68,On", "2026-03-13 24:00,50,On"),
        repair="midnight_24",
        line=3,
        minutes=[0, 5],
    ),
    Odd(
        "the hour that does not exist",
        rows("2026-03-08 01:30,68,On", "2026-03-08 02:30,50,On", "2026-03-08 03:45,50,On"),
        repair="missing_hour",
        line=3,
        minutes=[0, 60, 75],
    ),
    Odd(
        "the hour that does not exist, left out",
        rows("2026-03-08 01:30,68,On", "2026-03-08 02:30,50,On", "2026-03-08 03:30,50,On"),
        repair="missing_hour",
        minutes=[0, 60],
        mapping={"missing_hour": "drop"},
    ),
    Odd(
        "the hour that occurs twice, told by its order",
        rows(*(f"{at},68,On" for at in (*_FALL, *_FALL[1:], "2026-11-01 02:00"))),
        repair="repeated_hour_by_order",
        line=3,
        minutes=[0, 30, 60, 90, 120, 150],
    ),
    Odd(
        "the hour that occurs twice, told by its order, the newest first",
        rows(*(f"{at},68,On" for at in reversed((*_FALL, *_FALL[1:], "2026-11-01 02:00")))),
        repair="repeated_hour_by_order",
        minutes=[0, 30, 60, 90, 120, 150],
    ),
    Odd(
        "the hour that occurs twice, logged once and joined to what follows",
        rows(*(f"2026-11-01 {at},68,On" for at in ("00:00", "01:30", "02:00", "02:30", "03:00"))),
        repair="repeated_hour_by_order",
        minutes=[0, 150, 180, 210, 240],
    ),
    Odd(
        "the hour that occurs twice, where nothing tells",
        rows("2026-11-01 01:30,68,On"),
        repair="repeated_hour",
        line=2,
        mapping={"repeated_hour": "second"},
    ),
    Odd(
        "letters of a zone",
        rows("2026-11-01 01:30 CDT,68,On", "2026-11-01 01:30 CST,50,On"),
        repair="zone_letters",
        minutes=[0, 60],
    ),
    Odd("offsets", rows("2026-03-13T14:00:00-05:00,68,On", "2026-03-13T19:05:00Z,50,On"), minutes=[0, 5]),
    Odd("seconds since 1970", rows("1773428400,68,On", "1773428700,50,On"), minutes=[0, 5]),
    Odd("milliseconds since 1970", rows("1773428400000,68,On", "1773428700000,50,On"), minutes=[0, 5]),
    Odd(
        "weekdays and a.m.",
        rows('"Fri, 13-Mar-26 2:00:00 p.m.",68,On', '"Fri, 13-Mar-26 2:05:00 p.m.",50,On'),
        minutes=[0, 5],
    ),
    Odd(
        "day before month, as the days tell",
        rows("13/03/2026 14:00,68,On", "14/03/2026 14:00,50,On"),
        minutes=[0, 1440],
    ),
    Odd(
        "day before month, as the order tells",
        rows(*(f"{d:02d}/03/2026 14:00,68,On" for d in range(1, 6))),
        minutes=[0, 1440, 2880, 4320, 5760],
    ),
    Odd(
        "semicolons and decimal commas, date and time apart",
        b"Date;Time;SAT\n13.03.2026;14:00;20,5\n13.03.2026;14:05;21,25\n",
        values=[20.5, 21.25],
        minutes=[0, 5],
        mapping=_METRIC,
    ),
    Odd(
        "thousands",
        b"Timestamp\tSA flow\n2026-03-13 14:00\t3,600\n2026-03-13 14:05\t1,800.0\n",
        repair="thousands",
        line=2,
        values=[1.0, 0.5],
        mapping=_FLOW,
    ),
    Odd(
        "units in a row of their own",
        b"Time,SAT\n,degC\n2026-03-13 14:00,20\n2026-03-13 14:05,21\n",
        values=[20, 21],
        mapping=_METRIC,
    ),
    Odd(
        "names in a table above",
        b"Key,Name\nP1:,SAT\n\nTime,P1\n2026-03-13 14:00,20\n2026-03-13 14:05,21\n",
        repair="key",
        values=[20, 21],
        mapping=_METRIC,
    ),
    Odd(
        "a heading over several columns",
        b",ERV-1,,ERV-2\nTime,SAT,RAT,SAT\n2026-03-13 14:00,20,22,5\n2026-03-13 14:05,21,22,6\n",
        values=[5, 6],
        mapping={"points": [{"name": "ERV-2 SAT", "role": "supply_temperature", "unit": "degC"}]},
    ),
    Odd(
        "no headings",
        b"2026-03-13 14:00,20\n2026-03-13 14:05,21\n",
        repair="no_headings",
        values=[20, 21],
        mapping={"points": [{"name": "column 2", "role": "supply_temperature", "unit": "degC"}]},
    ),
    Odd(
        "each point with its own moments",
        b"Time,SAT,Time,SF-S\n2026-03-13 14:00,20,2026-03-13 14:01,On\n"
        b"2026-03-13 14:05,21,2026-03-13 14:31,Off\n,,2026-03-13 14:32,On\n",
        repair="same_heading",
        values=[1, 0, 1],
        minutes=[0, 30, 31],
        mapping=_STATE,
    ),
    Odd(
        "a row for each sample, points mixed",
        b"Time,Point,Value\n2026-03-13 14:00,SAT,20\n2026-03-13 14:00,RAT,5\n"
        b"2026-03-13 14:05,SAT,21\n2026-03-13 14:06,RAT,5\n",
        values=[20, 21],
        minutes=[0, 5],
        mapping=_METRIC,
    ),
    Odd("states as 0 and 100", b"Time,SF-S\n2026-03-13 14:00,0\n2026-03-13 14:05,100\n", values=[0, 1], mapping=_STATE),
    Odd(
        "words of the mapping",
        b"Time,SF-S\n2026-03-13 14:00,Ein\n2026-03-13 14:05,Aus\n",
        values=[1, 0],
        mapping={"points": [{"name": "SF-S", "role": "supply_fan_status", "words": {"ein": 1, "aus": 0}}]},
    ),
    Odd(
        "modes as words",
        b"Time,Mode\n2026-03-13 14:00,Warm-up\n2026-03-13 14:05,Occupied\n2026-03-13 14:10,Warm-up\n",
        values=[0, 1, 0],
        mapping=_MODE,
    ),
    Odd(
        "a workbook with a title",
        _sheet([["Night log"], [], ["Time", "SAT"], ["2026-03-13 14:00", 20], ["2026-03-13 14:05", 21]]),
        values=[20, 21],
        mapping=_METRIC,
    ),
    Odd(
        "a Parquet file of whole numbers",
        _parquet(time=["2026-03-13 14:00", "2026-03-13 14:05"], SAT=[20, None]),
        values=[20],
        mapping=_METRIC,
    ),
]
