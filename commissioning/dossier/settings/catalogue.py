"""What a controller may be set to, by neutral names in trade words: `catalogue.toml` read, and values held against it.

No values stand here, and no maker's parameter names.
"""

import difflib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, Literal, cast, get_args

from commissioning.engineering import units

Is = Literal["quantity", "number", "whole", "choice", "yes_no", "text"]
Moves = Literal["", "supply", "exhaust", "both", "exchanger"]
Plain = float | str | bool
"""A value inside: SI, a choice, yes or no, a text."""


class NotASetting(ValueError):
    """Why a value cannot be that of a setting, and what to do."""

    def __init__(self, reason: str, remedy: str) -> None:
        super().__init__(reason)
        self.reason, self.remedy = reason, remedy


@dataclass(frozen=True)
class Setting:
    """One line of the catalogue. `least` and `most` are in `unit`, and both belong to what may be."""

    code: str
    title: str
    group: str
    kind: Is
    quantity: str = ""
    unit: str = ""
    least: float = 0.0
    most: float = 0.0
    choices: tuple[str, ...] = ()
    first: bool = False
    moves: Moves = ""  # what a change of it may change

    @cached_property
    def ends_si(self) -> tuple[float, float]:
        if not self.unit:
            return self.least, self.most
        return float(units.to_si(self.least, self.unit)), float(units.to_si(self.most, self.unit))


@dataclass(frozen=True)
class Catalogue:
    version: int
    groups: Mapping[str, str]
    settings: Mapping[str, Setting]
    couplings: Mapping[str, tuple[str, tuple[str, ...]]]  # by side: the setting by which it looks at the other side

    @property
    def first(self) -> tuple[Setting, ...]:
        """The fifteen that matter most, in the order of the catalogue."""
        return tuple(one for one in self.settings.values() if one.first)

    def nearest(self, code: str) -> str:
        """The known name that is most like another one; empty where none is like it."""
        found = difflib.get_close_matches(code, self.settings, n=1, cutoff=0.6)
        return found[0] if found else ""


def read(text: str) -> Catalogue:
    """The catalogue that a text says, or ValueError naming the line that cannot be."""
    given = tomllib.loads(text)
    version = given.pop("version")
    couplings = {side: (held["setting"], tuple(held["choices"])) for side, held in given.pop("couplings", {}).items()}
    settings = {
        code: _setting(code, group, line) for group, held in given.items() for code, line in held["settings"].items()
    }
    return Catalogue(version, {group: held["title"] for group, held in given.items()}, settings, couplings)


def _setting(code: str, group: str, line: Mapping[str, Any]) -> Setting:
    kind = line["is"]
    if kind not in get_args(Is):
        raise ValueError(f"{code}: {kind!r} is no kind of setting")
    moves = line.get("moves", "")
    if moves not in get_args(Moves):
        raise ValueError(f"{code}: {moves!r} is nothing that a setting moves")
    made = Setting(
        code,
        line["title"],
        group,
        cast(Is, kind),
        line.get("quantity", ""),
        line.get("unit", ""),
        float(line.get("least", 0.0)),
        float(line.get("most", 0.0)),
        tuple(line.get("choices", ())),
        bool(line.get("first", False)),
        cast(Moves, moves),
    )
    if kind == "choice" and len(set(made.choices)) < 2:
        raise ValueError(f"{code}: a choice has two words or more")
    if kind in ("quantity", "number", "whole") and made.least >= made.most:
        raise ValueError(f"{code}: its least lies below its most")
    if kind == "quantity" and units.unit(made.unit).quantity != made.quantity:
        raise ValueError(f"{code}: {made.unit} is no unit of {made.quantity}")
    return made


CATALOGUE = read(Path(__file__).with_name("catalogue.toml").read_text(encoding="utf-8"))


def value_of(setting: Setting, given: Any, *, inch_of_water_pa: float = units.INCH_OF_WATER_4C_PA) -> Plain:
    """What was given for a setting, in SI; NotASetting where it cannot be.

    >>> value_of(CATALOGUE.settings["co2_setpoint"], {"value": 900, "unit": "ppm"})
    0.0009
    >>> value_of(CATALOGUE.settings["enabling"], "by magic")
    Traceback (most recent call last):
    commissioning.dossier.settings.catalogue.NotASetting: enabled by is none of these words
    """
    if setting.kind == "quantity":
        return _within(setting, _si(setting, given, inch_of_water_pa), given)
    if setting.kind in ("number", "whole"):
        if isinstance(given, bool) or not isinstance(given, int | float):
            raise NotASetting(f"{_lower(setting)} is a bare number", "Send it without quotes and without a unit.")
        if setting.kind == "whole" and float(given) != int(given):
            raise NotASetting(f"{_lower(setting)} is a whole number", "Send it without decimals.")
        return _within(setting, float(given), given)
    if setting.kind == "yes_no":
        if not isinstance(given, bool):
            raise NotASetting(f"{_lower(setting)} is true or false", "Send true or false, without quotes.")
        return given
    if not isinstance(given, str) or not given.strip() or len(given) > 200:
        raise NotASetting(f"{_lower(setting)} is a text of 1 to 200 characters", "Send it in quotes.")
    if setting.kind == "choice" and given not in setting.choices:
        raise NotASetting(f"{_lower(setting)} is none of these words", f"Use one of: {', '.join(setting.choices)}.")
    return given


def _si(setting: Setting, given: Any, inch_of_water_pa: float) -> float:
    codes = units.codes_of(setting.quantity)
    form = f"Send an object of value and unit, the unit one of: {', '.join(codes)}."
    if not isinstance(given, Mapping) or set(given) != {"value", "unit"}:
        raise NotASetting(f"{_lower(setting)} is a number with its unit", form)
    value, unit = given["value"], given["unit"]
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise NotASetting(f"the value of {_lower(setting)} is no number", form)
    if unit not in codes:
        raise NotASetting(f"the unit {str(unit)[:40]} is none of {setting.quantity}", form)
    return float(units.to_si(float(value), unit, inch_of_water_pa=inch_of_water_pa))


def _within(setting: Setting, value: float, given: Any) -> float:
    low, high = setting.ends_si
    slack = 1e-9 * max(abs(low), abs(high), 1.0 if setting.quantity == "temperature" else 0.0)
    if not low - slack <= value <= high + slack:
        unit = f" {setting.unit}" if setting.unit else ""
        raise NotASetting(
            f"{_lower(setting)} lies outside {setting.least:,.12g} to {setting.most:,.12g}{unit}",
            "Correct the value or its unit.",
        )
    return value


def _lower(setting: Setting) -> str:
    word = setting.title.split(" ")[0]
    return setting.title if word.isupper() or word == "CO2" else setting.title[:1].lower() + setting.title[1:]
