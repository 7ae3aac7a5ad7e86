"""Two weeks of visits: which units, by whom on which day, for what, and what each visit needs.

Worked out anew each time from what is due, what is ready for retest and what is drawn to be verified; only day and
person are planned. A test for which a unit is not drawn is no reason to go there.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from commissioning.blocks import Block, Column, Sentence, Table
from commissioning.catalogue.procedures import LIBRARY, Procedure
from commissioning.catalogue.units import VOCABULARY
from commissioning.engineering import units as unit_codes
from commissioning.models import CurrentVerdict, Issue, SampleUnit, Visit
from commissioning.samples.results import units_of
from commissioning.verdicts.sampled_tests import of_tests
from portfolio.dashboards.words import count, listed, opening, weekday
from portfolio.dashboards.words import units as units_word
from portfolio.models import Person, Position, bulk

AHEAD = timedelta(days=14)
NOT_SAID = (
    "What is done under the site's permits or by licensed persons alone is theirs to say. Nothing here says that a "
    "unit is safe to enter, to start or to energise."
)
_DUE = ("not_due", "recheck")


@dataclass
class Stop:
    """One unit and why somebody goes there."""

    unit: Position
    tests: list[Procedure] = field(default_factory=list)
    retests: list[Issue] = field(default_factory=list)
    verify: bool = False
    visit: Visit | None = None

    @property
    def day(self) -> date | None:
        """As it is planned; else when its retest is scheduled."""
        if self.visit is not None:
            return self.visit.day
        return min((one.retest_on for one in self.retests if one.retest_on), default=None)

    @property
    def person(self) -> Person | None:
        return self.visit.person if self.visit is not None else None

    @property
    def version(self) -> int:
        return self.visit.version if self.visit is not None else 0

    @property
    def what(self) -> str:
        told = [f"retest for issue {one.number}" for one in self.retests]
        told += [f"test: {one.title}" for one in self.tests]
        return "; ".join([*told, *(["verification readings"] if self.verify else [])])

    @property
    def needs(self) -> str:
        """Who has to be there, what has to be so, what is taken along, and which work is for permits and licences."""
        trades = _once(VOCABULARY.trades[code] for one in self.tests for code in one.needs.present)
        said = [f"to be there: {listed(trades)}"] if trades else []
        for name in ("season", "occupancy", "coordination"):
            said += _once(getattr(one.needs, name) for one in self.tests if getattr(one.needs, name))
        tools = _once(_instruments(self.tests)) or (["the instruments of the first readings"] if self.verify else [])
        said += [f"to take along: {listed(tools)}"] if tools else []
        hazards = _once(VOCABULARY.hazards[code].title for one in self.tests for code in one.hazards)
        said += [f"permits and licensed persons: {listed(hazards)}"] if hazards else []
        return "; ".join(one.rstrip(".") for one in said)


def _once(texts: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(texts))


def _instruments(tests: Sequence[Procedure]) -> Iterable[str]:
    for one in tests:
        for step in one.steps:
            if step.measured:
                yield f"{unit_codes.quantity_of(step.unit).replace('_', ' ')} instrument"
            elif step.answer == "interval":
                yield "watch"


def stops(units: Collection[Position], issues: Iterable[Issue]) -> list[Stop]:
    """`units` are counted ones; `issues` those ready for retest that the reader sees, with their checks."""
    held = {one.pk: Stop(one) for one in units}
    for pk, tests in _tests(list(held)).items():
        held[pk].tests = tests
    for issue in issues:
        for pk in {check.position_id for check in issue.checks.all()} & held.keys():
            held[pk].retests.append(issue)
    for pk in _to_verify(list(held)):
        held[pk].verify = True
    for visit in Visit.objects.newest().filter(bulk.among("position", list(held))).select_related("person"):
        held[visit.position_id].visit = visit
    due = [one for one in held.values() if one.tests or one.retests or one.verify]
    return sorted(due, key=_by_place)


def _by_place(one: Stop) -> tuple[str, str, str]:
    return one.unit.building.site.name, one.unit.building.name, one.unit.tag


def _tests(positions: Collection[UUID]) -> dict[UUID, list[Procedure]]:
    rows = CurrentVerdict.objects.filter(
        bulk.among("position", positions), requirement="functional_tests", outcome__in=_DUE
    ).values_list("position", "port", "judgement__result__absence__text")
    left_out = SampleUnit.objects.filter(
        bulk.among("position", positions), drawn=False, sample__in=of_tests().values("pk")
    ).values_list("position", "sample__plan")
    spared = {(pk, plan["procedure"]) for pk, plan in left_out}
    found: dict[UUID, set[str]] = defaultdict(set)
    for pk, code, text in rows:
        not_run = str(text).startswith(("Not run yet", "Not drawn"))
        deferred = str(text).startswith("Deferred")
        if code in LIBRARY.procedures and not deferred and not (not_run and (pk, code) in spared):
            found[pk].add(code)
    return {pk: [one for code, one in LIBRARY.procedures.items() if code in codes] for pk, codes in found.items()}


def _to_verify(positions: Collection[UUID]) -> set[UUID]:
    """Drawn units of airflow samples that are not repeated yet."""
    rows = SampleUnit.objects.filter(bulk.among("position", positions), drawn=True).select_related(
        "sample__first", "position__building__site"
    )
    tests = set(of_tests().values_list("pk", flat=True))
    by_sample: dict[UUID, list[SampleUnit]] = defaultdict(list)
    for row in rows:
        if row.sample_id not in tests and not row.sample.procedure:
            by_sample[row.sample_id].append(row)
    found: set[UUID] = set()
    for held in by_sample.values():
        since = (held[0].sample.first or held[0].sample).drawn_at
        found |= {one.position.pk for one in units_of(held, since) if one.is_due}
    return found


def sentence(held: Sequence[Stop], today: date) -> str:
    planned = [one for one in held if one.day and one.day <= today + AHEAD]
    if not held:
        return "Nothing is due: no unit is waiting for a test, a retest or a verification."
    are = "is" if len(held) == 1 else "are"
    soon = count(len(planned)) if planned else "none"
    return opening(f"{count(len(held))} {units_word(len(held))} {are} to be visited; {soon} within two weeks.")


def days(held: Sequence[Stop], today: date) -> list[tuple[str, tuple[Block, ...]]]:
    """A section for each day with a visit, one for what was missed, one for what has no day; crews apart."""
    by_day: dict[date, list[Stop]] = defaultdict(list)
    for one in held:
        if one.day is not None and one.day <= today + AHEAD:
            by_day[one.day].append(one)
    late = [one for day, stops in sorted(by_day.items()) if day < today for one in stops]
    sections = [("Planned for a day that is past", (_table(late),))] if late else []
    sections += [(weekday(day), (_table(by_day[day]),)) for day in sorted(by_day) if day >= today]
    rest = [one for one in held if one.day is None]
    sections += [("Without a day", (_table(rest),))] if rest else []
    return [*sections, ("What holds at every visit", (Sentence(NOT_SAID),))] if sections else []


def _table(held: Sequence[Stop]) -> Table:
    """By crew and then by site, so that one journey serves what lies together."""
    ordered = sorted(held, key=lambda one: (one.person is None, one.person.name if one.person else "", _by_place(one)))
    rows = tuple(
        (
            one.person.name if one.person else "nobody yet",
            one.unit.building.site.name,
            one.unit.building.name,
            one.unit.tag,
            one.what,
            one.needs,
        )
        for one in ordered
    )
    titles = ("Crew", "Site", "Building", "Unit", "What for", "What it needs")
    return Table(tuple(Column(title) for title in titles), rows)


def mine(held: Sequence[Stop], person: Person) -> list[Stop]:
    return [one for one in held if one.person == person]


def typed(one: Stop) -> Mapping[str, Any]:
    """A unit as the form offers it: its id with the version of its plan that was seen."""
    day = f", {weekday(one.day)}" if one.day else ""
    who = f", {one.person.name}" if one.person else ""
    return {"value": f"{one.unit.pk}:{one.version}", "words": f"{one.unit.tag}, {one.unit.building.name}{day}{who}"}
