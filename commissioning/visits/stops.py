"""Which units are to be visited and for what, and what each visit needs.

Worked out anew each time from what is due, what is ready for retest and what is drawn to be verified; only day and
person are planned. A test for which a unit is not drawn is no reason to go there.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.utils import timezone

from commissioning.catalogue.procedures import Procedure
from commissioning.catalogue.units import VOCABULARY
from commissioning.engineering import units as unit_codes
from commissioning.evidence.own_procedures import library_of
from commissioning.models import CurrentVerdict, Issue, SampleUnit, Visit
from commissioning.samples.population import Units, lying_in
from commissioning.samples.results import units_of
from commissioning.verdicts.sampled_tests import of_tests
from portfolio.access import may
from portfolio.dashboards.words import listed
from portfolio.models import Person, Position, Site, bulk

AHEAD = timedelta(days=14)
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
    def place(self) -> tuple[str, str, str]:
        return self.unit.building.site.name, self.unit.building.name, self.unit.tag

    @property
    def day(self) -> date | None:
        """As it is planned; else when its retest is scheduled."""
        if self.visit is not None and self.visit.day is not None:
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


@dataclass(frozen=True)
class Plan:
    """What a person is shown: a lead all stops, a technician their own; `today` is the site's."""

    stops: list[Stop]
    zone: str
    today: date

    @property
    def ahead(self) -> list[Stop]:
        """Of two weeks, with what was missed and what has no day yet."""
        return [one for one in self.stops if one.day is None or one.day <= self.today + AHEAD]


def plan_for(person: Person, part: Units) -> Plan:
    site = Site.objects.filter(project=part.project).order_by("name").first()
    zone = site.time_zone if site else "UTC"
    counted = lying_in(part).filter(scope__in=Position.COUNTED).select_related("building__site")
    ready = Issue.objects.visible_to(person).filter(project=part.project, state=Issue.State.READY)
    held = stops(list(counted), ready.prefetch_related("checks"))
    shown = held if may(person, "plan_visits", part) else [one for one in held if one.person == person]
    return Plan(shown, zone, timezone.now().astimezone(ZoneInfo(zone)).date())


def stops(units: Collection[Position], issues: Iterable[Issue]) -> list[Stop]:
    """`units` are counted ones; `issues` those ready for retest that the reader sees, with their checks."""
    held = {one.pk: Stop(one) for one in units}
    for pk, tests in _tests(held).items():
        held[pk].tests = tests
    for issue in issues:
        for pk in {check.position_id for check in issue.checks.all()} & held.keys():
            held[pk].retests.append(issue)
    for pk in _to_verify(list(held)):
        held[pk].verify = True
    for visit in Visit.objects.newest().filter(bulk.among("position", list(held))).select_related("person"):
        held[visit.position_id].visit = visit
    due = [one for one in held.values() if one.tests or one.retests or one.verify]
    return sorted(due, key=lambda one: one.place)


def _tests(stops: Mapping[UUID, Stop]) -> dict[UUID, list[Procedure]]:
    positions = list(stops)
    rows = CurrentVerdict.objects.filter(
        bulk.among("position", positions), requirement="functional_tests", outcome__in=_DUE
    ).values_list("position", "port", "judgement__result__absence__text")
    left_out = SampleUnit.objects.filter(
        bulk.among("position", positions), drawn=False, sample__in=of_tests().values("pk")
    ).values_list("position", "sample__plan")
    spared = {(pk, plan["procedure"]) for pk, plan in left_out}
    projects = {pk: one.unit.building.site.project_id for pk, one in stops.items()}
    known = {project: library_of(project).procedures for project in set(projects.values())}
    found: dict[UUID, set[str]] = defaultdict(set)
    for pk, code, text in rows:
        not_run = str(text).startswith(("Not run yet", "Not drawn"))
        deferred = str(text).startswith("Deferred")
        if code in known[projects[pk]] and not deferred and not (not_run and (pk, code) in spared):
            found[pk].add(code)
    return {pk: [one for code, one in known[projects[pk]].items() if code in codes] for pk, codes in found.items()}


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
