"""Where positions stand and who has the next move: recomputed whole, never counted up.

Reads what holds (design, records, current verdicts, live issues) and writes the rows that pages read.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from operator import attrgetter
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Exists, OuterRef

from commissioning.dossier.canonical import canonical_json
from commissioning.judging import signing
from commissioning.judging.signing import TESTS
from commissioning.models import CurrentVerdict, Issue, IssueCheck, JudgedPosition, Record, Signature, Supersession
from commissioning.verdicts import signed
from portfolio.models import Building, Position, Standing, bulk
from portfolio.models.design import DesignEntry
from portfolio.models.standing import as_text

Code = Standing.Code
FAILS = "does_not_conform"
_WORST_FIRST = (
    FAILS,
    "disputed",
    "inconclusive",
    "recheck",
    "not_judged",
    "not_due",
    "conforms",
    "not_given",
    "not_counted",
)
_SETTLED = {"conforms", "not_given", "not_counted"}


@dataclass
class Seen:
    """All that is known of one position, gathered before anything is decided."""

    position: Position
    has_design: bool = False
    outcomes: dict[tuple[str, str], str] = field(default_factory=dict)
    issues: list[Issue] = field(default_factory=list)
    accepted: set[tuple[str, str]] = field(default_factory=set)
    band: dict[str, Any] | None = None
    needs_attention: bool = False
    last_observed_at: datetime | None = None
    zone: str = "UTC"  # the site's: days are told in it
    deferred: set[str] = field(default_factory=set)  # procedures that wait for their season
    signature: Signature | None = None
    lines: signed.Lines = field(default_factory=list)  # read where there is a signature to compare with

    @property
    def statement(self) -> dict[str, Any]:
        """What a signature given now would cover."""
        return signing.statement(self.lines, self.accepted, self.deferred)

    @property
    def broken(self) -> list[tuple[str, str]]:
        """What is no longer as it was signed; nothing, if the signature stands or there is none."""
        return signing.differing(self.signature.statement, self.statement) if self.signature else []

    def day(self, moment: datetime) -> date:
        return moment.astimezone(ZoneInfo(self.zone)).date()

    def unsettled(self) -> dict[tuple[str, str], str]:
        return {k: o for k, o in self.outcomes.items() if o not in _SETTLED and k not in self.accepted}


@dataclass(frozen=True)
class Place:
    """What is written of one position."""

    code: Code
    sentence: str
    mover: str = ""
    company_id: UUID | None = None
    since: date | None = None
    due: date | None = None


def refresh(positions: Collection[UUID]) -> None:
    """Work out the standing of these positions anew and write what differs. Inside the transaction of the cause."""
    new = [fresh for _, kept, fresh in _compared(positions) if fresh != kept]
    bulk.insert(Standing, _NAMES, [_in_database(values) for values in new], unique=("position",))


def differences(positions: Collection[UUID]) -> list[str]:
    """Which of these positions' kept standing is not what a whole recomputation gives; refreshes nothing."""
    return [
        f"{tag}: kept {kept[_CODE] if kept else 'nothing'}, is {fresh[_CODE]}"
        for tag, kept, fresh in _compared(positions)
        if fresh != kept
    ]


_KEPT = tuple(f.attname for f in Standing._meta.concrete_fields)
_NAMES = tuple(f.name for f in Standing._meta.concrete_fields)
_CODE, _BAND = _NAMES.index("code"), _NAMES.index("band")
_values = attrgetter(*_KEPT)


def _compared(positions: Collection[UUID]) -> Iterator[tuple[str, tuple[Any, ...] | None, tuple[Any, ...]]]:
    """Tag of each position, its standing's values as they are kept, and as they are now."""
    held = {row[0]: row for row in Standing.objects.filter(bulk.among("pk", positions)).values_list(*_KEPT)}
    for one in gather(positions):
        yield one.position.tag, held.get(one.position.pk), _values(_row(one))


def _in_database(values: tuple[Any, ...]) -> tuple[Any, ...]:
    band = values[_BAND]
    return (*values[:_BAND], None if band is None else canonical_json(band).decode(), *values[_BAND + 1 :])


def gather(positions: Collection[UUID]) -> list[Seen]:
    """One query per table, whatever the number of positions."""
    seen = {p.pk: Seen(p) for p in Position.objects.filter(bulk.among("pk", positions)).order_by("pk")}
    for pk in (
        DesignEntry.objects.filter(bulk.among("position", positions)).values_list("position", flat=True).distinct()
    ):
        seen[pk].has_design = True
    verdicts = CurrentVerdict.objects.filter(bulk.among("position", positions))
    for pk, requirement, port, outcome in verdicts.values_list("position", "requirement", "port", "outcome"):
        seen[pk].outcomes[requirement, port] = outcome
    for pk, band in JudgedPosition.objects.filter(bulk.among("position", positions)).values_list("pk", "band"):
        seen[pk].band = band
    _add_issues(seen, positions)
    _add_records(seen, positions)
    _add_zones(seen.values())
    _add_signatures(seen)
    return list(seen.values())


def _add_issues(seen: dict[UUID, Seen], positions: Collection[UUID]) -> None:
    checks = IssueCheck.objects.filter(bulk.among("position", positions)).select_related("issue__company")
    for check in checks.filter(issue__state__in={*Issue.LIVE, Issue.State.ACCEPTED}):
        one, issue = seen[check.position_id], check.issue
        if issue.state == Issue.State.ACCEPTED:
            one.accepted.add((check.requirement, check.port))
        elif issue.is_live and issue not in one.issues:
            one.issues.append(issue)


def _add_records(seen: dict[UUID, Seen], positions: Collection[UUID]) -> None:
    gone = Supersession.objects.filter(names=OuterRef("submission__client_id"))
    rows = Record.objects.filter(~Exists(gone), bulk.among("position", positions)).values_list(
        "position", "observed_at", "needs_attention"
    )
    for pk, observed_at, needs_attention in rows:
        one = seen[pk]
        one.needs_attention |= needs_attention
        if not needs_attention:
            one.last_observed_at = max(observed_at, one.last_observed_at or observed_at)


def _add_zones(seen: Collection[Seen]) -> None:
    buildings = {one.position.building_id for one in seen}
    zones = dict(Building.objects.filter(bulk.among("pk", buildings)).values_list("pk", "site__time_zone"))
    for one in seen:
        one.zone = zones[one.position.building_id]


def _add_signatures(seen: dict[UUID, Seen]) -> None:
    waiting = [pk for pk, one in seen.items() if any(key[0] == TESTS for key in one.unsettled())]
    for pk, procedures in (signed.deferred(waiting) if waiting else {}).items():
        seen[pk].deferred = procedures
    signatures = signed.newest(list(seen))
    for pk, held in (signed.lines(list(signatures)) if signatures else {}).items():
        seen[pk].signature, seen[pk].lines = signatures[pk], held


def worst_of(one: Seen) -> dict[str, str]:
    """The worst outcome per requirement over the ports; what was accepted as is says so."""
    held: dict[str, list[str]] = defaultdict(list)
    for (requirement, port), outcome in one.outcomes.items():
        held[requirement].append("accepted" if (requirement, port) in one.accepted else outcome)
    return {name: min(outcomes, key=_rank) for name, outcomes in held.items()}


def _rank(outcome: str) -> int:
    return _WORST_FIRST.index(outcome) if outcome in _WORST_FIRST else _WORST_FIRST.index("conforms")


def _row(one: Seen) -> Standing:
    place = decide(one)
    return Standing(
        position=one.position,
        code=place.code.value,
        sentence=place.sentence,
        mover=place.mover,
        company_id=place.company_id,
        since=place.since,
        due=place.due,
        band=one.band,
        live_issues=len(one.issues),
        last_observed_at=one.last_observed_at,
        building_id=one.position.building_id,
        tag=one.position.tag,
        outcomes=as_text(worst_of(one)),
    )


def decide(one: Seen) -> Place:
    """The first sentence that applies, in the order in which somebody has to act; and that a signature is void."""
    place = _decide(one)
    if one.signature is None or not one.broken:
        return place
    return replace(place, sentence=f"{place.sentence} {void_in_words(one.signature, one.broken, one.zone)}")


def _decide(one: Seen) -> Place:
    if not one.position.is_counted:
        why = f": {one.position.scope_reason}" if one.position.scope_reason else ""
        return Place(Code.NOT_COUNTED, f"{one.position.get_scope_display()}{why}.")
    if one.needs_attention:
        return Place(Code.ATTENTION, "A record came in that cannot be evaluated: correct it.", "technician")
    if not one.has_design:
        return Place(Code.NO_DESIGN, "No design revision names this unit.", "lead")
    return _by_issues(one) or _by_outcomes(one)


def _by_issues(one: Seen) -> Place | None:
    by_state: dict[str, list[Issue]] = defaultdict(list)
    for issue in sorted(one.issues, key=lambda i: (i.due or date.max, i.number)):
        by_state[issue.state].append(issue)
    failing = any(outcome == FAILS for outcome in one.unsettled().values())
    for state, say in _ISSUE_SENTENCES:
        if by_state[state]:
            return replace(say(by_state[state], failing), since=one.day(by_state[state][0].moved_at))
    return None


def _numbers(issues: Iterable[Issue]) -> str:
    listed = list(issues)
    return ("issue " if len(listed) == 1 else "issues ") + ", ".join(str(i.number) for i in listed)


def _draft(issues: list[Issue], failing: bool) -> Place:
    return Place(Code.DRAFT, f"Release or drop {_numbers(issues)}.", "lead")


def _not_ours(issues: list[Issue], failing: bool) -> Place:
    company = issues[0].company
    sentence = f"{company} says {_numbers(issues)} is not theirs: decide whose."
    return Place(Code.WITH_COMPANY, sentence, "lead", due=issues[0].due)


def _ready(issues: list[Issue], failing: bool) -> Place:
    if not failing:
        return _to_close(issues)
    when = f" on {issues[0].retest_on:%a %d %b}" if issues[0].retest_on else ""
    return Place(
        Code.READY,
        f"Retest{when}: {_numbers(issues)} declared ready by {issues[0].company}.",
        "technician",
        due=issues[0].retest_on or issues[0].due,
    )


def _released(issues: list[Issue], failing: bool) -> Place:
    if not failing:
        return _to_close(issues)
    first = issues[0]
    return Place(
        Code.WITH_COMPANY,
        f"{first.company} has {_numbers(issues)}.",
        "contractor",
        first.company_id,
        due=first.due,
    )


def _to_close(issues: list[Issue]) -> Place:
    return Place(Code.TO_CLOSE, f"The evidence passes: close {_numbers(issues)}.", "lead")


_ISSUE_SENTENCES = (
    (Issue.State.DRAFT, _draft),
    (Issue.State.NOT_OURS, _not_ours),
    (Issue.State.READY, _ready),
    (Issue.State.RELEASED, _released),
)


def _by_outcomes(one: Seen) -> Place:
    since = one.day(one.last_observed_at) if one.last_observed_at else None
    if since is None:
        return Place(Code.NOT_MEASURED, "Nothing is measured yet.", "technician")
    unsettled = one.unsettled()
    if not unsettled.keys() - {(TESTS, procedure) for procedure in one.deferred}:
        return _settled(one, since)
    ports: dict[str, list[str]] = defaultdict(list)
    tests: dict[str, list[str]] = defaultdict(list)
    for (requirement, port), outcome in unsettled.items():
        (tests if requirement == TESTS else ports)[outcome].append(port or "the unit")
    start = _START_SENTENCES.get(unsettled.get(("started", ""), ""))
    if start and not ports["disputed"]:
        return Place(*start, "technician", since=since)
    for held, sentences in ((ports, _OUTCOME_SENTENCES), (tests, _TEST_SENTENCES)):
        for outcome, code, words, mover in sentences:
            if held[outcome]:
                named = ", ".join(sorted(set(held[outcome])))
                return Place(code, words.format(ports=named), mover, since=since)
    return Place(Code.UNSETTLED, "Not every requirement has a verdict.", "technician", since=since)


def _settled(one: Seen, since: date) -> Place:
    """Nothing is left to do now: signed already, or to be signed."""
    taken = (
        " or is accepted as it is" if any(one.outcomes.get(k, "") not in {"", *_SETTLED} for k in one.accepted) else ""
    )
    season = ", ".join(sorted(one.deferred))
    if one.signature is None or one.broken:
        later = f" Seasonal test outstanding: {season}." if season else ""
        sentence = f"Everything that is due conforms{taken}: it can be signed.{later}"
        return Place(Code.SIGNABLE, sentence, "lead", since=since)
    signed_on = one.day(one.signature.signed_at)
    if season:
        sentence = f"Accepted {_day(signed_on)}; seasonal test outstanding: {season}."
        return Place(Code.SEASON, sentence, since=signed_on)
    return Place(Code.SIGNED, f"Signed {_day(signed_on)}: everything that was due conforms{taken}.", since=signed_on)


def void_in_words(signature: Signature, broken: Sequence[tuple[str, str]], zone: str) -> str:
    """That a signature no longer holds, and why."""
    named = [" ".join(filter(None, (requirement.replace("_", " "), port))) for requirement, port in broken]
    more = f" and {len(named) - _NAMED} more" if len(named) > _NAMED else ""
    on = _day(signature.signed_at.astimezone(ZoneInfo(zone)).date())
    return f"The signature of {on} is void, since this changed: {', '.join(named[:_NAMED])}{more}."


_NAMED = 3


def _day(value: date) -> str:
    return f"{value.day} {value:%b %Y}"


_START_SENTENCES = {
    "recheck": (Code.RECHECK, "The start is due again: see what of it."),
    "not_due": (Code.PRELIMINARY, "The start is not complete: see what of it is open, and who is next."),
}
"""A unit is started before it is measured."""

_OUTCOME_SENTENCES = (
    ("disputed", Code.DISPUTED, "Two finals disagree at {ports}: retest together.", "lead"),
    ("recheck", Code.RECHECK, "Measure {ports} again: the unit was touched since.", "technician"),
    ("not_due", Code.PRELIMINARY, "Final readings are missing at {ports}.", "technician"),
    ("inconclusive", Code.UNSETTLED, "Inconclusive at {ports}: see what would settle it.", "technician"),
    ("not_judged", Code.UNSETTLED, "Not judged at {ports}: see why.", "technician"),
)
_TEST_SENTENCES = (
    ("recheck", Code.RECHECK, "Functional tests to run again: {ports}.", "technician"),
    ("not_due", Code.PRELIMINARY, "Functional tests to run or to finish: {ports}.", "technician"),
    ("inconclusive", Code.UNSETTLED, "Functional tests inconclusive: {ports}; see why.", "technician"),
    ("not_judged", Code.UNSETTLED, "Functional tests not judged: {ports}; see why.", "technician"),
)
