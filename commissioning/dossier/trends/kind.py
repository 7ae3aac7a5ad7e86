"""What an expectation over a log is made of: what it needs, its limits with where they come from, and its rule."""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field

from commissioning.dossier.trends.logged import Log
from commissioning.dossier.trends.said import Said

COMMON = "common practice, no source"
SIDES = ("supply", "exhaust")
DAMPER = {"supply": "outdoor", "exhaust": "exhaust"}  # the damper that lets a fan's air through


@dataclass(frozen=True, slots=True)
class Limit:
    """`default` is in SI, None where only a setting tells it; `setting` by its code, read before the default."""

    unit: str
    default: float | None = None
    setting: str = ""
    source: str = COMMON


@dataclass(frozen=True, slots=True)
class Week:
    """When a unit is to run, in hours of the site's clock; Monday is 0."""

    days: tuple[int, ...]
    from_h: float
    to_h: float


@dataclass(frozen=True, slots=True)
class Terms:
    """What is asked of one log: where on the unit, with which limits."""

    at: str
    limits: Mapping[str, float]
    week: Week | None = None

    def __getitem__(self, name: str) -> float:
        return self.limits[name]


@dataclass(frozen=True, slots=True)
class Kind:
    """`needs` are roles, `a|b` where one of them does; {at} and {damper} stand for the place and its damper.

    `when` are settings that have to be one of these where they were read; `look` is what to look at next.
    """

    code: str
    title: str
    needs: tuple[str, ...]
    judge: Callable[[Log, Terms], Said]
    look: str
    limits: Mapping[str, Limit] = field(default_factory=dict)
    ats: tuple[str, ...] = ("",)
    when: Mapping[str, tuple[str | bool, ...]] = field(default_factory=dict)
    by_week: bool = False

    def roles(self, at: str) -> tuple[str, ...]:
        return tuple(one.format(at=at, damper=DAMPER.get(at, at)) for one in self.needs)

    def fits(self, at: str, held: Collection[str]) -> bool:
        """Whether these roles of a log are enough to ask it of a place."""
        return all(set(one.split("|")) & set(held) for one in self.roles(at))
