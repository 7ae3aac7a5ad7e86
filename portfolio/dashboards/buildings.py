"""One sentence per building, and buildings × requirements as counts: standing only, in a fixed number of queries."""

import uuid
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Count, QuerySet, Window
from django.db.models.functions import RowNumber

from portfolio.dashboards.words import (
    REQUIREMENTS,
    count,
    listed,
    opening,
    requirement_in_words,
    signed_in_words,
    units,
)
from portfolio.models import Building, Person, Position, Standing
from portfolio.models.standing import from_text

DELIVERS = "design_airflow"
FAILS = "does_not_conform"
ORDER = (
    "does_not_conform",
    "disputed",
    "inconclusive",
    "recheck",
    "not_judged",
    "not_due",
    "conforms",
    "accepted",
    "not_given",
)
_NAMED = 3


@dataclass(frozen=True)
class Failing:
    tag: str
    percent: float | None
    spaces: tuple[str, ...]

    def words(self) -> str:
        where = f" ({listed(self.spaces)})" if self.spaces else ""
        return (
            f"{self.tag}{where} at {self.percent:.0f} % of design" if self.percent is not None else f"{self.tag}{where}"
        )


@dataclass
class BuildingPicture:
    building: Building
    counted: int = 0
    signable: int = 0
    signed: int = 0
    season: int = 0  # of those signed
    outcomes: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    failing: list[Failing] = field(default_factory=list)

    def cell(self, requirement: str) -> list[tuple[str, int]]:
        """Outcomes and how many units have them, the worst first."""
        held = self.outcomes[requirement]
        return [(code, held[code]) for code in ORDER if held[code]]

    @property
    def sentence(self) -> str:
        return sentence_of(self)


def pictures(person: Person, buildings: QuerySet[Building] | None = None) -> list[BuildingPicture]:
    """Those of `buildings` (all, if none are named) that the person sees."""
    seen = Building.objects.visible_to(person)
    chosen = seen if buildings is None else seen.filter(pk__in=buildings.values("pk"))
    found = {
        b.pk: BuildingPicture(b)
        for b in chosen.select_related("site__project").order_by("site__project__name", "site__name", "name")
    }
    failing = set()
    counted = Standing.objects.filter(building__in=list(found)).exclude(code=Standing.Code.NOT_COUNTED)
    rows = counted.values_list("building", "code", "outcomes").annotate(n=Count("pk")).order_by()
    for building, code, text, number in rows:
        picture, outcomes = found[building], from_text(text)
        picture.counted += number
        picture.signable += number if code == Standing.Code.SIGNABLE else 0
        picture.signed += number if code in (Standing.Code.SIGNED, Standing.Code.SEASON) else 0
        picture.season += number if code == Standing.Code.SEASON else 0
        for requirement, outcome in outcomes.items():
            picture.outcomes[requirement][outcome] += number
        if outcomes.get(DELIVERS) == FAILS:
            failing.add(text)
    for pk, first in _failing(counted.filter(outcomes__in=failing)).items():
        found[pk].failing = first
    return list(found.values())


def _failing(standings: QuerySet[Standing]) -> dict[uuid.UUID, list[Failing]]:
    """The first of each building, one more than are named."""
    place = Window(RowNumber(), partition_by="building", order_by=["tag", "pk"])
    first = standings.annotate(place=place).filter(place__lte=_NAMED + 1).order_by("tag", "pk")
    rows = list(first.values("pk", "building", "tag"))
    bands = dict(Standing.objects.filter(pk__in=[row["pk"] for row in rows]).values_list("pk", "band"))
    spaces: dict[Any, list[str]] = defaultdict(list)
    through = Position.spaces.through.objects.filter(position__in=[row["pk"] for row in rows])
    for position, name in through.order_by("servedspace__name").values_list("position", "servedspace__name"):
        spaces[position].append(name)
    found: dict[uuid.UUID, list[Failing]] = defaultdict(list)
    for row in rows:
        band = bands.get(row["pk"]) or {}
        found[row["building"]].append(Failing(row["tag"], band.get("measured"), tuple(spaces[row["pk"]])))
    return found


def sentence_of(picture: BuildingPicture) -> str:
    """
    Eighteen of twenty units in Stage House deliver their air. Two do not: ERV-3 at 82 % of design and ERV-7 at 79 %.
    """
    name, total, held = picture.building.name, picture.counted, picture.outcomes[DELIVERS]
    if not total:
        return f"{name} has no unit in scope yet."
    return " ".join([_deliver(name, total, held["conforms"]), *_others(picture, held, total)])


def _deliver(name: str, total: int, good: int) -> str:
    if total == 1:
        return f"The one unit in {name} {'delivers' if good else 'does not yet deliver'} its air."
    if good == total:
        return f"All {count(total)} units in {name} deliver their air."
    which = opening(count(good)) if good else "None"
    verb = "delivers its air" if good == 1 else "deliver their air"
    return f"{which} of {count(total)} {units(total)} in {name} {verb if good else 'deliver their air yet'}."


def _others(picture: BuildingPicture, held: Counter[str], total: int) -> list[str]:
    said = []
    fails = held["does_not_conform"]
    if fails:
        named = [one.words() for one in picture.failing[:_NAMED]]
        if len(picture.failing) > _NAMED:
            named.append(f"{count(fails - _NAMED)} more")
        said.append(f"{opening(count(fails))} {'does' if fails == 1 else 'do'} not: {listed(named)}.")
    again = held["recheck"] + held["disputed"] + held["inconclusive"]
    if again:
        said.append(f"{opening(count(again))} {'has' if again == 1 else 'have'} to be measured again.")
    if held["accepted"]:
        n = held["accepted"]
        said.append(f"{opening(count(n))} {'is' if n == 1 else 'are'} accepted as {'it is' if n == 1 else 'they are'}.")
    rest = total - held["conforms"] - fails - again - held["accepted"] - held["not_given"]
    if rest > 0 and total > 1:
        said.append(f"{opening(count(rest))} {'has' if rest == 1 else 'have'} no final reading yet.")
    if held["not_given"]:
        n = held["not_given"]
        said.append(f"{opening(count(n))} {'has' if n == 1 else 'have'} no design airflow.")
    if picture.signed:
        said.append(signed_in_words(picture.signed, picture.season, total))
    return said


def requirements_shown(found: Sequence[BuildingPicture]) -> list[tuple[str, str]]:
    """Codes and titles of the requirements that have an outcome anywhere, in the order of the list of them."""
    there = {code for picture in found for code, held in picture.outcomes.items() if held}
    known = [code for code in REQUIREMENTS if code in there]
    return [(code, requirement_in_words(code)) for code in [*known, *sorted(there - set(known))]]
