"""Values from texts: numbers as they are written, states and modes by their words, and what stands for no value.

The bulk is read by polars at once; only the different texts that are left over are looked at one by one.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from commissioning.engineering import units
from commissioning.logs.roles import MODE, STATE

ON = frozenset(
    [
        "on",
        "true",
        "yes",
        "open",
        "opened",
        "active",
        "enabled",
        "enable",
        "start",
        "started",
        "run",
        "running",
        "occupied",
        "occ",
        "alarm",
        "tripped",
        "trip",
        "fault",
        "high",
        "closed contact",
        "proven",
        "1",
    ]
)
OFF = frozenset(
    [
        "off",
        "false",
        "no",
        "closed",
        "close",
        "inactive",
        "disabled",
        "disable",
        "stop",
        "stopped",
        "idle",
        "unoccupied",
        "unocc",
        "normal",
        "clear",
        "low",
        "open contact",
        "not proven",
        "0",
    ]
)
NO_VALUE = frozenset(
    [
        "",
        "-",
        "--",
        "---",
        "nan",
        "null",
        "none",
        "n/a",
        "#n/a",
        "na",
        "no data",
        "nodata",
        "no value",
        "bad",
        "offline",
        "down",
        "failed",
        "comm fail",
        "communication failure",
        "data loss",
        "unknown",
        "?",
        "???",
        "stale",
        "missing",
        "err",
        "error",
        "#value!",
        "#num!",
        "#div/0!",
        "#ref!",
        "inf",
        "-inf",
        "+inf",
        "infinity",
        "-infinity",
    ]
)
_NUMBER = re.compile(r"[-+]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d{1,3})?")
_MARKED = re.compile(r"(.*?)\s*\{([^{}]*)\}")
_GOOD = frozenset(("", "ok", "good", "normal"))
_MOST_WORDS = 20_000


@dataclass(frozen=True)
class Values:
    """`values` has NaN where none was logged; `is_kept` is False where nothing at all stands.

    `unread` are texts that nobody understands: each with its first place and how often. `notes` are codes of what was
    done to read some, each with the first place and how often.
    """

    values: npt.NDArray[np.float64]
    is_kept: npt.NDArray[np.bool_]
    words: Mapping[str, float]
    unread: Mapping[str, tuple[int, int]]
    notes: Mapping[str, tuple[int, int]]


def values_of(
    column: pl.Series,
    *,
    quantity: str,
    unit: str = "",
    decimal: str = ".",
    no_value: frozenset[str] = frozenset(),
    words: Mapping[str, float] | None = None,
) -> Values:
    """Read a column. `no_value` and the keys of `words` are compared without regard to capitals."""
    if column.dtype == pl.Boolean:
        column = column.cast(pl.Int8)
    if column.dtype.is_numeric():
        return _typed(column, no_value)
    if column.dtype != pl.String:
        column = column.cast(pl.String)
    texts = column.str.strip_chars()
    told = {word.casefold(): number for word, number in (words or {}).items()}
    numbers = _cast(texts, decimal)
    values = numbers.fill_null(float("nan")).to_numpy().copy()
    infinite = np.isinf(values)
    is_kept = texts.is_not_null().to_numpy() & (texts != "").fill_null(False).to_numpy()
    rest = is_kept & (numbers.is_null().to_numpy() | np.isnan(values) | infinite)
    special = [float(text) for text in (*no_value, *told) if _NUMBER.fullmatch(text)]
    if special:
        rest |= is_kept & np.isin(values, special)
    values[rest] = np.nan
    reader = _Words(quantity, unit, decimal, NO_VALUE | {_key(one) for one in no_value}, told)
    if rest.any():
        _fill(values, texts, np.flatnonzero(rest), reader)
    return Values(values, is_kept, reader.numbered, reader.unread, reader.notes)


def _typed(column: pl.Series, no_value: frozenset[str]) -> Values:
    is_kept = column.is_not_null().to_numpy()
    values = column.cast(pl.Float64).fill_null(float("nan")).to_numpy().copy()
    odd = np.flatnonzero(np.isinf(values))
    values[odd] = np.nan
    stand_ins = [float(text) for text in no_value if _NUMBER.fullmatch(text)]
    values[np.isin(values, stand_ins)] = np.nan
    notes = {"no_value": (int(odd[0]), len(odd))} if len(odd) else {}
    return Values(values, is_kept, {}, {}, notes)


def _cast(texts: pl.Series, decimal: str) -> pl.Series:
    if decimal == ",":
        texts = texts.str.replace(",", ".", literal=True)
    return texts.cast(pl.Float64, strict=False)


def _fill(values: npt.NDArray[np.float64], texts: pl.Series, places: npt.NDArray[np.int64], reader: "_Words") -> None:
    held = texts.gather(places)
    kinds = held.unique(maintain_order=True)
    if len(kinds) > _MOST_WORDS:
        kinds = kinds.head(_MOST_WORDS)
    frame = pl.DataFrame({"text": held, "at": places})
    counted = frame.group_by("text", maintain_order=True).agg(pl.len().alias("n"), pl.col("at").min())
    seen = {text: (at, number) for text, number, at in counted.iter_rows()}
    table = {text: reader.read(text, seen[text]) for text in kinds.to_list()}
    found = held.replace_strict(list(table), list(table.values()), default=float("nan"), return_dtype=pl.Float64)
    values[places] = found.to_numpy()


class _Words:
    def __init__(
        self, quantity: str, unit: str, decimal: str, no_value: frozenset[str], told: Mapping[str, float]
    ) -> None:
        self._quantity, self._unit, self._decimal = quantity, unit, decimal
        self._no_value, self._told = no_value, told
        self.numbered: dict[str, float] = {}
        self.unread: dict[str, tuple[int, int]] = {}
        self.notes: dict[str, tuple[int, int]] = {}

    def read(self, text: str, seen: tuple[int, int]) -> float:
        marked = _MARKED.fullmatch(text)
        if marked:
            if marked.group(2).strip().casefold() not in _GOOD:
                return self._note("marked_bad", seen)
            self._note("marked", seen)
            text = marked.group(1)
        key = _key(text)
        if key in self._told:
            self.numbered[text] = self._told[key]
            return self._told[key]
        if key in self._no_value:
            return self._note("no_value", seen)
        if self._quantity in (STATE, MODE):
            return self._word(text, key, seen)
        return self._number(text, seen)

    def _word(self, text: str, key: str, seen: tuple[int, int]) -> float:
        if _NUMBER.fullmatch(text):
            return float(text)
        if self._quantity == STATE and key in ON | OFF:
            self.numbered[text] = float(key in ON)
            return float(key in ON)
        if self._quantity == MODE:
            taken = set(self.numbered.values()) | set(self._told.values())
            number = next(float(n) for n in range(len(taken) + 1) if float(n) not in taken)
            self.numbered[text] = number
            return number
        return self._unknown(text, seen)

    def _number(self, text: str, seen: tuple[int, int]) -> float:
        if self._decimal == ",":
            grouped = re.fullmatch(r"([-+]?\d{1,3}(?:[.' \u00a0\u202f]\d{3})+)(,\d+)?(.*)", text)
        else:
            grouped = re.fullmatch(r"([-+]?\d{1,3}(?:[,' \u00a0\u202f]\d{3})+)(\.\d+)?(.*)", text)
        if grouped:
            self._note("thousands", seen)
            whole = re.sub(r"[^\d+-]", "", grouped.group(1))
            text = whole + (grouped.group(2) or "").replace(",", ".") + grouped.group(3)
        elif self._decimal == ",":
            text = text.replace(",", ".", 1)
        split = re.fullmatch(r"([-+\u2212]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d{1,3})?)\s*(.*)", text, re.ASCII)
        if split is None:
            return self._unknown(text, seen)
        number = float(split.group(1).replace("\u2212", "-"))
        if not np.isfinite(number):
            return self._note("no_value", seen)
        if split.group(2):
            found = units.recognise(split.group(2), quantity=self._quantity)
            if found is None or (self._unit and found.code != self._unit):
                return self._unknown(text, seen)
            self._note("unit_in_value", seen)
        return number

    def _unknown(self, text: str, seen: tuple[int, int]) -> float:
        if len(self.unread) < 50 or text in self.unread:
            self.unread[text] = _together(self.unread.get(text), seen)
        return float("nan")

    def _note(self, code: str, seen: tuple[int, int]) -> float:
        self.notes[code] = _together(self.notes.get(code), seen)
        return float("nan")


def _together(held: tuple[int, int] | None, seen: tuple[int, int]) -> tuple[int, int]:
    return seen if held is None else (min(held[0], seen[0]), held[1] + seen[1])


def _key(text: str) -> str:
    return " ".join(text.split()).casefold()


def decimal_of(texts: list[str], delimiter: str) -> str:
    """The sign before decimals in some values: a comma only where no point speaks against it; '' if it may be either.

    >>> decimal_of(["21,5", "20,25"], ";"), decimal_of(["1,234", "985.5"], ";"), decimal_of(["1,234"], ";")
    (',', '.', '')
    """
    commas = [text for text in texts if re.fullmatch(r"[-+]?\d+,\d+\s?\D*", text)]
    points = [text for text in texts if re.fullmatch(r"[-+]?\d+\.\d+\s?\D*", text)]
    both = next((text for text in texts if re.fullmatch(r"[-+]?\d+[.,][\d.,]*[.,]\d+\s?\D*", text)), "")
    if "," in both and "." in both:
        return "," if both.rfind(",") > both.rfind(".") else "."
    if points or not commas:
        return "."
    if any(not re.fullmatch(r"[-+]?[1-9]\d{0,2},\d{3}\s?\D*", text) for text in commas):
        return ","
    return ""
