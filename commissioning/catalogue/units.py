"""The vocabulary of equipment: kinds, options, field sensors, motors, trades, reasons, hazards. From `units.toml`."""

import tomllib
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any


@dataclass(frozen=True, slots=True)
class Reason:
    """Why something cannot be answered, and the trade that usually unblocks it; empty where it has to be said."""

    words: str
    trade: str


@dataclass(frozen=True, slots=True)
class Hazard:
    """What can hurt, and the caution that stands before the step."""

    title: str
    text: str


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """Codes and their words, in the order of the file."""

    version: int
    signing: tuple[str, ...]
    kinds: Mapping[str, str]
    options: Mapping[str, str]
    sensors: Mapping[str, str]
    motors: Mapping[str, str]
    ducted: Mapping[str, str]
    trades: Mapping[str, str]
    reasons: Mapping[str, Reason]
    hazards: Mapping[str, Hazard]
    only_at: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # a firm's own option or sensor -> kinds
    like: Mapping[str, str] = field(default_factory=dict)  # a firm's own kind -> the kind of ours that it is like

    def may_have(self, code: str, kind: str, own_kind: str = "") -> bool:
        """Whether a unit may have the option or sensor: one of a firm's own may be of some kinds only."""
        kinds = self.only_at.get(code, ())
        return not kinds or Equipment(kind, own_kind=own_kind).is_any_of(kinds)


@dataclass(frozen=True, slots=True)
class Equipment:
    """What is known of one unit. What nobody has stated of its motors is None: then whatever may apply is asked."""

    kind: str
    options: frozenset[str] = frozenset()
    sensors: frozenset[str] = frozenset()
    motors: frozenset[str] | None = None
    drive: bool | None = None
    ducted: str = ""
    own_kind: str = ""  # a firm's own, like `kind`

    def is_any_of(self, kinds: Collection[str]) -> bool:
        """Of one of these kinds, or of a firm's own kind among them."""
        return self.kind in kinds or (bool(self.own_kind) and self.own_kind in kinds)


def read(text: str) -> Vocabulary:
    """From the text of the file. A field too many or too few is refused by its name."""
    held: dict[str, Any] = tomllib.loads(text)
    reasons = {code: Reason(**one) for code, one in held.pop("reasons").items()}
    hazards = {code: Hazard(**one) for code, one in held.pop("hazards").items()}
    signing = tuple(held.pop("signing"))
    vocabulary = Vocabulary(**held, signing=signing, reasons=reasons, hazards=hazards)
    strange = {*signing, *(one.trade for one in reasons.values())} - {"", *vocabulary.trades}
    if strange:
        raise ValueError(f"no trade is called {', '.join(sorted(strange))}")
    return vocabulary


VOCABULARY = read(Path(__file__).with_name("units.toml").read_text(encoding="utf-8"))
