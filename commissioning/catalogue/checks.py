"""The checks before a unit is tested: groups and items from `checks.toml`, and which of them apply to a unit."""

import tomllib
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from commissioning.catalogue.units import VOCABULARY, Equipment, Vocabulary
from commissioning.engineering import units

ANSWERS = ("yes_no", "number", "choice", "photo")
HOLDS = ("safety", "quality", "")


@dataclass(frozen=True, slots=True)
class Group:
    """Items of one part of the walk. Without kinds it applies to every unit."""

    code: str
    title: str
    kinds: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class When:
    """What makes an item apply: all that is named; of a list, any one."""

    kinds: tuple[str, ...] = ()
    options: tuple[str, ...] = ()
    sensors: tuple[str, ...] = ()
    motors: tuple[str, ...] = ()
    drive: bool | None = None
    ducted: str = ""

    def holds(self, unit: Equipment) -> bool:
        return (
            (not self.kinds or unit.is_any_of(self.kinds))
            and (not self.options or bool(unit.options & set(self.options)))
            and (not self.sensors or bool(unit.sensors & set(self.sensors)))
            and (not self.motors or unit.motors is None or bool(unit.motors & set(self.motors)))
            and (self.drive is None or unit.drive is None or unit.drive == self.drive)
            and (not self.ducted or unit.ducted == self.ducted)
        )


@dataclass(frozen=True, slots=True)
class Item:
    """One check. `hold`: what a wrong answer holds back; `trade`: who answers it, and mends it."""

    id: str
    group: str
    text: str
    why: str
    how: str
    trade: str
    answer: str = "yes_no"
    hold: str = ""
    caution: tuple[str, ...] = ()  # codes of hazards
    choices: tuple[str, ...] = ()
    right: tuple[str, ...] = ()  # of the choices
    unit: str = ""  # of the number and its limits
    unit_ip: str = ""  # in which it is asked where a project counts in inches
    low: float | None = None
    high: float | None = None
    source: str = ""  # of the limits
    when: When = When()
    retired: bool = False  # no longer asked; old answers to it are still read

    def asked_in(self, display: str) -> str:
        return (self.unit_ip or self.unit) if display == "ip" else self.unit

    def limits(self, display: str) -> str:
        """The limits in words, in the unit in which it is asked.

        >>> CATALOGUE.items["panel_depth"].limits("ip"), CATALOGUE.items["control_voltage"].limits("si")
        ('at least 3 ft', '21.6 to 26.4 V')
        """
        code = self.asked_in(display)
        low, high = (None if end is None else _in(end, self.unit, code) for end in (self.low, self.high))
        label = units.unit(code).label
        if low is not None and high is not None:
            return f"{low:.4g} to {high:.4g} {label}"
        return f"at least {low:.4g} {label}" if low is not None else f"at most {high:.4g} {label}"

    def is_within(self, value: float, unit: str) -> bool:
        """Whether a number lies within the limits; the ends belong to them, by the last bits of a conversion too."""
        given = _in(value, unit, self.unit)
        slack = 1e-9 * max(abs(given), 1.0)
        return (self.low is None or given >= self.low - slack) and (self.high is None or given <= self.high + slack)


@dataclass(frozen=True, slots=True)
class Catalogue:
    version: int
    groups: tuple[Group, ...]
    items: Mapping[str, Item]  # by id, in the order of the walk
    words: Vocabulary = VOCABULARY

    def applying(self, unit: Equipment) -> Iterator[Item]:
        """The items that apply to a unit, in the order of the walk. A firm's own kind holds where it is like this."""
        if unit.own_kind and self.words.like.get(unit.own_kind) != unit.kind:
            unit = replace(unit, own_kind="")
        groups = {group.code for group in self.groups if not group.kinds or unit.is_any_of(group.kinds)}
        for item in self.items.values():
            if not item.retired and item.group in groups and item.when.holds(unit):
                yield item


def read(text: str) -> Catalogue:
    """From the text of the file. What contradicts itself or names what the vocabulary has not is refused by its id."""
    held: dict[str, Any] = tomllib.loads(text)
    groups = tuple(Group(**_tuples(one)) for one in held["group"])
    items: dict[str, Item] = {}
    for given in held["item"]:
        item = Item(**(_tuples(given) | {"when": When(**_tuples(given.get("when", {})))}))
        if item.id in items:
            raise ValueError(f"{item.id} stands twice")
        found = list(faults(item, {group.code for group in groups}))
        if found:
            raise ValueError(f"{item.id}: {'; '.join(found)}")
        items[item.id] = item
    order = [group.code for group in groups]
    walk = sorted(items.values(), key=lambda one: order.index(one.group))
    return Catalogue(held["version"], groups, {one.id: one for one in walk})


def faults(item: Item, groups: Collection[str], words: Vocabulary = VOCABULARY) -> Iterator[str]:
    """What contradicts itself in an item, or names what the vocabulary has not."""
    yield from unknown(item, groups, words)
    yield from contradictions(item)


def unknown(item: Item, groups: Collection[str], words: Vocabulary = VOCABULARY) -> Iterator[str]:
    known: tuple[tuple[str, tuple[str, ...], Mapping[str, Any]], ...] = (
        ("trade", (item.trade,), words.trades),
        ("caution", item.caution, words.hazards),
        ("kind", item.when.kinds, words.kinds),
        ("option", item.when.options, words.options),
        ("sensor", item.when.sensors, words.sensors),
        ("motor", item.when.motors, words.motors),
        ("ducted", tuple(filter(None, (item.when.ducted,))), words.ducted),
    )
    for what, codes, held in known:
        yield from (f"no {what} is called {code}" for code in codes if code not in held)
    if item.group not in groups:
        yield f"no group is called {item.group}"


def contradictions(item: Item) -> Iterator[str]:
    if item.answer not in ANSWERS or item.hold not in HOLDS:
        yield f"no answer or hold is called {item.answer} or {item.hold}"
    if (item.answer == "choice") != bool(item.choices) or not set(item.right) <= set(item.choices):
        yield "the choices and the answer do not fit"
    if item.answer == "choice" and not item.right:
        yield "no choice is right"
    if (item.answer == "number") != (item.low is not None or item.high is not None) or bool(item.unit) != bool(
        item.answer == "number"
    ):
        yield "a number has a unit and limits, and nothing else has"
    elif item.answer == "number" and not item.source:
        yield "limits have a source"


def _in(value: float, unit: str, other: str) -> float:
    return value if unit == other else float(units.from_si(float(units.to_si(value, unit)), other))


def _tuples(given: Mapping[str, Any]) -> dict[str, Any]:
    return {name: tuple(one) if isinstance(one, list) else one for name, one in given.items()}


CATALOGUE = read(Path(__file__).with_name("checks.toml").read_text(encoding="utf-8"))
