"""Moments from texts: which way they are written, and what cannot be read as one."""

import re
from dataclasses import dataclass
from functools import cache
from itertools import product

import numpy as np
import numpy.typing as npt
import polars as pl

from commissioning.logs.problems import CannotRead, Remark

EPOCH_S, EPOCH_MS, DAYS = "epoch_s", "epoch_ms", "days"
NONE = np.iinfo(np.int64).min
_DAY_US = 86_400_000_000
_FIRST_US = 315_532_800_000_000  # 1980
_LAST_US = 4_102_444_800_000_000  # 2100
_SHEET_ZERO_US = -2_209_161_600_000_000  # 1899-12-30

_DATES = (
    "%Y-%m-%d", "%Y/%m/%d", "%Y.%m.%d", "%m/%d/%Y", "%d/%m/%Y", "%d.%m.%Y", "%m-%d-%Y", "%d-%m-%Y", "%m/%d/%y",
    "%d/%m/%y", "%d.%m.%y", "%d-%b-%Y", "%d-%b-%y", "%d %b %Y", "%b %d, %Y", "%b %d %Y", "%Y%m%d",
)  # fmt: skip
_TIMES = ("%H:%M:%S%.f", "%H:%M", "%I:%M:%S %p", "%I:%M %p", "%H.%M.%S", "%H.%M", "")
_BETWEEN = (" ", "T", ", ")
_ZONES = ("", "%#z", " %#z")
_ABBREVIATIONS = {
    "UTC": 0, "GMT": 0, "Z": 0, "EST": -300, "EDT": -240, "CST": -360, "CDT": -300, "MST": -420, "MDT": -360,
    "PST": -480, "PDT": -420, "AKST": -540, "AKDT": -480, "HST": -600, "WET": 0, "WEST": 60, "CET": 60, "CEST": 120,
    "EET": 120, "EEST": 180, "BST": 60,
}  # fmt: skip
_WEEKDAY = r"^(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun)[a-z]*,?\s+"


@dataclass(frozen=True)
class Moments:
    """Microseconds since 1970, `NONE` where there is none; of the local clock unless `is_utc`."""

    us: npt.NDArray[np.int64]
    format: str
    is_utc: bool
    remarks: tuple[Remark, ...] = ()


def moments_of(column: pl.Series, lines: npt.NDArray[np.int64], stated: str = "") -> Moments:
    """Read a column of moments; `stated` is the format that somebody chose, else the one that fits is found."""
    if column.dtype.is_temporal():
        return _typed(column)
    if column.dtype.is_numeric():
        return _numbers(column.cast(pl.Float64), stated)
    texts = column.str.strip_chars()
    sample = _sample(texts)
    if not len(sample):
        raise CannotRead("no_time", "The column of moments is empty.")
    as_numbers = sample.cast(pl.Float64, strict=False)
    if not as_numbers.null_count() and not _all_dates(sample):
        return _numbers(texts.cast(pl.Float64, strict=False), stated)
    remarks: list[Remark] = []
    texts = _plain(texts, remarks)
    formats = [stated] if stated else _fitting(_sample(texts))
    if not formats:
        raise CannotRead(
            "time_format",
            f"Nobody knows how {sample[0]!r} is written as a moment. State the format, as %d/%m/%Y %H:%M.",
            line=int(lines[0]) if len(lines) else 0,
        )
    read = [(one, *_parsed(texts, one, remarks, lines)) for one in formats]
    if len(read) > 1:
        read = _clearest(read, str(sample[0]))
    format, us, is_utc = read[0]
    return Moments(us, format, is_utc, tuple(remarks))


def _typed(column: pl.Series) -> Moments:
    kind = column.dtype
    if isinstance(kind, pl.Datetime):
        is_utc = kind.time_zone is not None
        us = column.dt.cast_time_unit("us").to_physical() if not is_utc else column.dt.timestamp("us")
        return Moments(_filled(us), str(kind), is_utc)
    if kind == pl.Date:
        return Moments(_filled(column.cast(pl.Datetime("us")).to_physical()), "date", False)
    raise CannotRead("no_time", "The column of moments holds times of day without a date.")


def _filled(us: pl.Series) -> npt.NDArray[np.int64]:
    return us.cast(pl.Int64).fill_null(NONE).to_numpy()


def _numbers(column: pl.Series, stated: str) -> Moments:
    """Seconds or milliseconds since 1970, of UTC; or days as a spreadsheet counts them, of the local clock."""
    held = column.drop_nulls()
    middle = float(held.median() or 0.0) if len(held) else 0.0  # type: ignore[arg-type]
    found = EPOCH_MS if 1e12 <= middle < 4.2e12 else EPOCH_S if 3e8 <= middle < 4.2e9 else ""
    found = DAYS if 29_000 <= middle < 80_000 else found
    kind = stated or found
    if kind not in (EPOCH_S, EPOCH_MS, DAYS):
        raise CannotRead("time_format", f"{middle:g} is no moment: state epoch_s, epoch_ms or days.")
    factor, zero = {EPOCH_S: (1e6, 0), EPOCH_MS: (1e3, 0), DAYS: (_DAY_US, _SHEET_ZERO_US)}[kind]
    values = column.fill_null(float("nan")).to_numpy()
    us = np.full(len(values), NONE, np.int64)
    finite = np.isfinite(values)
    rounded = np.round(values[finite] * factor / 1000) * 1000 if kind == DAYS else np.round(values[finite] * factor)
    us[finite] = np.clip(rounded, -(2**62), 2**62).astype(np.int64) + zero
    us[(us < _FIRST_US) | (us > _LAST_US)] = NONE
    return Moments(us, kind, kind != DAYS)


def _sample(texts: pl.Series) -> pl.Series:
    held = texts.drop_nulls()
    held = held.filter(held != "")
    return (
        held
        if len(held) <= 60
        else held.gather(np.linspace(0, len(held) - 1, 60).astype(np.int64)).unique(maintain_order=True)
    )


def _all_dates(sample: pl.Series) -> bool:
    return bool(sample.str.contains(r"^20\d{6}$").all())


def _plain(texts: pl.Series, remarks: list[Remark]) -> pl.Series:
    """Weekdays off, a.m. as AM, and a zone's letters as its offset."""
    sample = _sample(texts)
    if sample.str.contains(_WEEKDAY).any():
        texts = texts.str.replace(_WEEKDAY, "")
    if sample.str.contains(r"(?i)\d ?[ap]\.?m\.?").any():
        texts = texts.str.replace(r"(?i)(\d) ?([ap])\.?m\.?", "$1 ${2}M").str.to_uppercase()
    if sample.str.contains(r"\d\d?(?::\d\d)+,\d+").any():
        texts = texts.str.replace(r"(:\d\d),(\d+)", "$1.$2")
    if sample.str.contains(r"[0-9M] ?[A-Z]{2,4}$").any() and not sample.str.contains(r" [AP]M$").all():
        for letters in texts.str.extract(r"([A-Z]{2,4})$").drop_nulls().unique().to_list():
            if letters in ("AM", "PM"):
                continue
            if letters not in _ABBREVIATIONS:
                raise CannotRead("zone_letters", f"Nobody knows how far {letters} is from UTC. Export without it.")
            offset = _ABBREVIATIONS[letters]
            sign, far = "-" if offset < 0 else "+", abs(offset)
            texts = texts.str.replace(rf" ?{letters}$", f"{sign}{far // 60:02d}:{far % 60:02d}")
        remarks.append(Remark("zone_letters", 0, "The moments carry the letters of a zone; they were read by those."))
    return texts


_SHAPES = {
    "%Y": r"\d{4}", "%m": r"\d{1,2}", "%d": r" ?\d{1,2}", "%y": r"\d{2}", "%b": r"[A-Za-z]{3,9}", "%H": r" ?\d{1,2}",
    "%I": r" ?\d{1,2}", "%M": r"\d{1,2}", "%S": r"\d{1,2}", "%p": r"[AaPp][Mm]", "%.f": r"(?:\.\d+)?",
    "%#z": r"(?:Z|[+-]\d\d:?(?:\d\d)?)",
}  # fmt: skip


@cache
def _shape(format: str) -> re.Pattern[str]:
    parts = re.split(r"(%\.f|%#z|%[A-Za-z])", format)
    return re.compile("".join(_SHAPES.get(part, re.escape(part)) for part in parts))


@cache
def _formats() -> tuple[str, ...]:
    made = []
    for date, between, time, zone in product(_DATES, _BETWEEN, _TIMES, _ZONES):
        if time and not (zone and "%p" in time):
            made.append(f"{date}{between}{time}{zone}")
    return (*made, *_DATES)


def _fitting(sample: pl.Series) -> list[str]:
    """The formats that read most of the sample; of those that mean the same, the first."""
    best: list[str] = []
    most = max(1, int(0.6 * len(sample)))
    some = sample.head(5).to_list()
    for format in _formats():
        if not any(_shape(format).fullmatch(text) for text in some):
            continue
        us = _strptime(sample, format)[0]
        count = int(np.count_nonzero(us != NONE))
        if count > most:
            best, most = [format], count
        elif count == most:
            best.append(format)
    return best[:6]


def _strptime(texts: pl.Series, format: str) -> tuple[npt.NDArray[np.int64], bool]:
    with_zone = "z" in format
    if not re.search(r"%[HI]", format):
        read = texts.str.strptime(pl.Date, format, strict=False).cast(pl.Datetime("us"))
    else:
        kind = pl.Datetime("us", time_zone="UTC") if with_zone else pl.Datetime("us")
        read = texts.str.strptime(kind, format, strict=False)
    us = _filled(read.to_physical()).copy()
    us[(us < _FIRST_US) | (us > _LAST_US)] = NONE
    return us, with_zone


def _parsed(
    texts: pl.Series, format: str, remarks: list[Remark], lines: npt.NDArray[np.int64]
) -> tuple[npt.NDArray[np.int64], bool]:
    try:
        us, is_utc = _strptime(texts, format)
    except pl.exceptions.PolarsError:
        raise CannotRead("time_format", f"{format!r} is no format of moments, as %d/%m/%Y %H:%M is.") from None
    midnight = texts.str.contains(r"24:00").fill_null(False).to_numpy() & (us == NONE)
    if midnight.any():
        again, _ = _strptime(texts.str.replace("24:00", "00:00"), format)
        us[midnight] = np.where(again[midnight] == NONE, NONE, again[midnight] + _DAY_US)
        told = "Midnight is written as 24:00; it was read as the next day's 00:00."
        remarks.append(Remark("midnight_24", int(lines[midnight.argmax()]), told, int(midnight.sum())))
    return us, is_utc


def _clearest(
    read: list[tuple[str, npt.NDArray[np.int64], bool]], example: str
) -> list[tuple[str, npt.NDArray[np.int64], bool]]:
    """Of several formats the one that reads most and goes back least; where it is a tie, somebody has to say."""

    def merit(one: tuple[str, npt.NDArray[np.int64], bool]) -> tuple[int, int]:
        held = one[1][one[1] != NONE]
        return -len(held), int(min(np.count_nonzero(np.diff(held) < 0), np.count_nonzero(np.diff(held) > 0)))

    ordered = sorted(read, key=merit)
    level = [one for one in ordered if merit(one) == merit(ordered[0])]
    different = [one for one in level if not np.array_equal(one[1], level[0][1])]
    if different:
        spans = {one[0]: float(np.ptp(one[1][one[1] != NONE])) for one in (level[0], *different)}
        shortest = min(spans, key=lambda name: spans[name])
        clear = all(spans[shortest] * 3 < span for name, span in spans.items() if name != shortest)
        if not clear:
            told = " or ".join(spans)
            raise CannotRead("day_or_month", f"{example!r} can be {told}. State the format of the moments.")
        level = [one for one in level if one[0] == shortest]
    return level[:1]
