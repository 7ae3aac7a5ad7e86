"""The start of one unit as a report: what is missing first, then checklist, settings, start and electrical readings.

Made from what is kept, by the show functions of the kinds and requirements: nothing is judged or worked out here. The
unit page and the binder have the arithmetic; this has who did what, when, and the hash of the evidence.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from commissioning.blocks import Block, Caution, Column, Photo, Sentence, Table, Working
from commissioning.dossier import printing, shows
from commissioning.dossier.figure_shows import BUDGET
from commissioning.dossier.settings import printed
from commissioning.dossier.settings.catalogue import CATALOGUE
from commissioning.dossier.settings.show_restore import hash_in_parts
from commissioning.judging.registry import KINDS, RULES
from commissioning.judging.show import headline, place_of

NOT_SAID = (
    "Nothing here says that the unit may be energised, started or entered: local codes, the site's permits and "
    "licensed persons decide that."
)
_OTHER_VERSION = "Judged by another version of the rule; the words come once it is judged again."
_SETTLED = frozenset({"conforms", "accepted", "not_given", "not_counted"})
_MOST_SAID = 8
_ROLLED_UP = "started"


@dataclass(frozen=True)
class Part:
    """What the start consists of: one kind of record, and what is asked of it."""

    kind: str
    title: str
    lacking: str
    asked: tuple[str, ...]
    opened: tuple[str, ...] = ()  # requirements whose tables stand in the report
    is_shown: bool = False  # whether the record itself does


PARTS = (
    Part(
        "checklist",
        "Checklist",
        "no checklist is recorded",
        ("safety_holds", "ready_for_test"),
        ("safety_holds", "ready_for_test"),
    ),
    Part(
        "settings",
        "Settings as left",
        "no controller settings are recorded",
        ("settings_consistent",),
        ("settings_consistent",),
    ),
    Part(
        "startup",
        "Start",
        "no start is recorded",
        ("started", "start_sequence", "fan_proven"),
        ("started", "start_sequence"),
        is_shown=True,
    ),
    Part(
        "electrical",
        "Electrical readings",
        "no electrical readings are recorded",
        (
            *("fan_rotation", "motor_voltage", "voltage_unbalance", "motor_current", "current_unbalance"),
            "overload_setting",
        ),
        is_shown=True,
    ),
)


@dataclass(frozen=True)
class Evidence:
    """One record of the start that stands: by whom, when, and the hash of its bytes."""

    envelope: str
    kind: str
    observed_at: str
    by: str
    sha256: str
    photos: tuple[tuple[str, str], ...] = ()  # hash and caption


@dataclass(frozen=True)
class OpenIssue:
    number: int
    title: str
    state: str
    company: str
    due: str


@dataclass(frozen=True)
class Given:
    """All that the report is made of; judgements and measurements are the plain JSON values that are kept."""

    identity: tuple[tuple[str, str], ...]
    judgements: Sequence[Mapping[str, Any]]
    measurements: Sequence[Mapping[str, Any]]
    evidence: tuple[Evidence, ...] = ()
    issues: tuple[OpenIssue, ...] = ()
    accepted: frozenset[tuple[str, str]] = frozenset()  # requirement and port of what was accepted as it is
    not_counted: str = ""  # in which scope a unit is that does not count

    def of(self, part: Part) -> list[Mapping[str, Any]]:
        held = [one for one in self.judgements if one["requirement"] in part.asked]
        return sorted(
            held, key=lambda one: (part.asked.index(one["requirement"]), one["port"] != "supply", one["port"])
        )

    def records(self, part: Part) -> list[Mapping[str, Any]]:
        """In the order of observation."""
        held = [one for one in self.measurements if one["kind"] == part.kind]
        return sorted(held, key=lambda one: (datetime.fromisoformat(one["observed_at"]), one["envelope"]))

    def outcome(self, judgement: Mapping[str, Any]) -> str:
        if (judgement["requirement"], judgement["port"]) in self.accepted:
            return "accepted"
        return str(judgement["verdict"] or judgement["absence"]["code"])

    @property
    def has_begun(self) -> bool:
        """Whether anything of the start is recorded at all."""
        return any(self.records(part) for part in PARTS)


@dataclass(frozen=True)
class Section:
    title: str
    blocks: tuple[Block, ...]


def sections(given: Given, display: str) -> tuple[Section, ...]:
    """The report, from the sentence that its reader came for to the evidence."""
    who = Table((Column("Unit"), Column("On record")), given.identity, "The unit")
    return (
        Section("", (Sentence(sentence(given), "lead"), Sentence(NOT_SAID, "aside"), who)),
        *(Section(part.title, tuple(_part(given, part, display))) for part in PARTS),
        Section("Issues open", (_issues(given),)),
        Section("Who did what", tuple(_evidence(given))),
    )


def summary(given: Given, display: str) -> tuple[Block, ...]:
    """The report in a few lines, where the records and judgements themselves stand beside it."""
    rows = tuple((part.title, _standing(given, part), _last(given, part, display)) for part in PARTS)
    table = Table((Column("What"), Column("What is asked of it"), Column("Newest record")), rows)
    return (Sentence(sentence(given)), table)


# --- the sentence --------------------------------------------------------------------------------------------------
def sentence(given: Given) -> str:
    if given.not_counted:
        return f"Not counted, {given.not_counted}: no start is asked of it. What was recorded all the same stands here."
    lacking = missing(given)
    if lacking:
        more = [f"and {len(lacking) - _MOST_SAID} more, below"] if len(lacking) > _MOST_SAID else []
        return f"Not complete: {'; '.join([*lacking[:_MOST_SAID], *more])}."
    titles = [part.title.lower() for part in PARTS if given.records(part)]
    return (
        f"Complete as far as it is recorded: {', '.join(titles[:-1])} and {titles[-1]} are there, and nothing that is "
        "asked of them is open."
    )


def missing(given: Given) -> list[str]:
    """What keeps the start from being complete, in the order of the work."""
    found: list[str] = []
    for part in PARTS:
        records = given.records(part)
        if not records and not _none_apply(given, part):
            found.append(part.lacking)
        elif records and part.kind == "settings" and not any(one["facts"]["moment"] == "as_left" for one in records):
            found.append("the settings are not read as left")
        found += _not_settled(one for one in _outcomes(given, part) if one.requirement != _ROLLED_UP)
    if not found:  # it follows from the others, and says nothing beside them
        found += _not_settled(one for part in PARTS for one in _outcomes(given, part))
    if given.issues:
        found.append("one issue is open" if len(given.issues) == 1 else f"{len(given.issues)} issues are open")
    return found


@dataclass(frozen=True)
class _Outcome:
    requirement: str
    words: str
    where: str


def _outcomes(given: Given, part: Part) -> Iterator[_Outcome]:
    """Those that are not settled."""
    for one in given.of(part):
        code = given.outcome(one)
        if code not in _SETTLED or one["provisional"]:
            yield _Outcome(one["requirement"], _words(code, one), _where(one))


def _none_apply(given: Given, part: Part) -> bool:
    """Whether the newest start says that no readings apply to any of its motors."""
    starts = [one for one in given.measurements if one["kind"] == "startup"] if part.kind == "electrical" else []
    newest = max(starts, key=lambda one: datetime.fromisoformat(one["observed_at"]), default=None)
    fans = newest["facts"]["fans"].values() if newest else ()
    return bool(fans) and all(one["electrical"] == "none_apply" for one in fans)


def _lacking(given: Given, part: Part) -> str:
    return _upper("no electrical readings apply to its motors" if _none_apply(given, part) else part.lacking)


def _not_settled(outcomes: Iterable[_Outcome]) -> Iterator[str]:
    """One phrase for each requirement and outcome, with where."""
    at: dict[tuple[str, str], list[str]] = {}
    for one in outcomes:
        at.setdefault((one.requirement, one.words), []).append(one.where)
    for (requirement, words), where in at.items():
        places = f" ({', '.join(filter(None, where))})" if any(where) else ""
        yield f"{_lower(_title(requirement))}{places}: {words}"


# --- its parts -------------------------------------------------------------------------------------------------------
def _part(given: Given, part: Part, display: str) -> Iterator[Block]:
    records = given.records(part)
    if not records:
        yield Sentence(f"{_lacking(given, part)}.")
    keyed = {f"{one['envelope']} {one['port']}": one for one in given.measurements}
    held = [(one, _shown(one, keyed, display)) for one in given.of(part)]
    tables = [block for one, blocks in held if one["requirement"] in part.opened for block in _tables(blocks)]
    if part.kind == "settings" and records:
        tables = [*_first_settings(records, display), *tables]
    if part.is_shown:
        carrying = {envelope for one, _ in held for envelope in one["rests_on"]}
        standing = [one for one in records if one["envelope"] in carrying] or records[-1:]
        tables += [block for one in standing for block in _tables(KINDS[part.kind].show(one, display), keep_said=True)]
    cautions = dict.fromkeys(block for block in tables if isinstance(block, Caution))
    yield from cautions
    if held:
        yield _verdicts(given, held)
        yield from (_look(one) for one, _ in held if one["requirement"] not in part.opened and one["look_next"])
    yield from _once(block for block in tables if not isinstance(block, Caution))


def _once(blocks: Iterable[Block]) -> Iterator[Block]:
    """Two requirements may tell the same rows, such as the releases of holds: the first one's stand."""
    seen: set[Any] = set()
    for block in blocks:
        told = (block.columns, block.rows) if isinstance(block, Table) else block
        if told not in seen:
            yield block
        seen.add(told)


def _shown(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    rule = RULES.get(judgement["requirement"])
    if rule is None or judgement["rule_version"] != rule.VERSION:
        return (Sentence(_OTHER_VERSION),)
    return rule.show(judgement, measurements, display)


def _tables(blocks: Iterable[Block], *, keep_said: bool = False) -> Iterator[Block]:
    """What a report holds of a page: no arithmetic, no pictures, no sentence that the table of verdicts has."""
    for block in blocks:
        is_said = isinstance(block, Sentence) and not keep_said
        is_empty = isinstance(block, Table) and (not block.rows or block.caption == BUDGET)
        if not isinstance(block, Working | Photo) and not is_said and not is_empty:
            yield block


def _verdicts(given: Given, held: Sequence[tuple[Mapping[str, Any], tuple[Block, ...]]]) -> Table:
    rows = tuple((_asked(one), _words(given.outcome(one), one), _said(one, blocks)) for one, blocks in held)
    return Table(
        (Column("What is asked"), Column("Outcome"), Column("In words")), rows, "What is asked, and what follows"
    )


def _look(judgement: Mapping[str, Any]) -> Table:
    """What to look at, of a requirement whose own tables do not stand in the report."""
    rows = tuple((str(number), step) for number, step in enumerate(judgement["look_next"], start=1))
    return Table((Column("", align="right"), Column("Look at, in this order")), rows, _asked(judgement))


def _said(judgement: Mapping[str, Any], blocks: Iterable[Block]) -> str:
    if judgement["absence"] is not None:
        return str(judgement["absence"]["text"])
    told = [block for block in blocks if isinstance(block, Sentence)]
    first = next((one.text for one in told if one.weight == "lead"), told[0].text if told else "")
    opened = first.partition(". ")
    return opened[2] if opened[0].partition(",")[0] in shows.VERDICTS.values() and opened[2] else first


def _first_settings(records: Sequence[Mapping[str, Any]], display: str) -> Iterator[Block]:
    """The fifteen that matter most, of the newest as left, else of the newest; the restore sheet has all."""
    as_left = [one for one in records if one["facts"]["moment"] == "as_left"]
    newest = (as_left or records)[-1]
    values = newest["facts"]["values"]
    rows = tuple((one.title, printed.value(one.code, values.get(one.code), display)) for one in CATALOGUE.first)
    yield Table(
        (Column("Setting"), Column("Value")),
        rows,
        f"{_upper(headline(newest, display))}; {printing.moment(newest['observed_at'])}",
    )


def _issues(given: Given) -> Table:
    rows = tuple((str(one.number), one.title, one.state, one.company, one.due) for one in given.issues)
    columns = (Column("Issue", "", "right"), Column("What"), Column("State"), Column("Company"), Column("Due"))
    return Table(columns, rows, "", "No issue about this unit is open.")


def _evidence(given: Given) -> Iterator[Block]:
    rows = tuple(
        (printing.moment(one.observed_at), KINDS[one.kind].TITLE, one.by, hash_in_parts(one.sha256))
        for one in given.evidence
    )
    columns = (Column("When"), Column("What"), Column("Who"), Column("SHA-256 of the record"))
    yield Table(columns, rows, "", "Nothing of the start is recorded yet.")
    photos = tuple(
        (caption or "no caption", KINDS[one.kind].TITLE, hash_in_parts(sha256))
        for one in given.evidence
        for sha256, caption in one.photos
    )
    if photos:
        yield Table((Column("Photo"), Column("Of"), Column("SHA-256 of the photo")), photos, "Photos")


# --- in a few lines --------------------------------------------------------------------------------------------------
def _standing(given: Given, part: Part) -> str:
    """Outcomes with their number: *5 conform, 1 inconclusive*."""
    codes = [_words(given.outcome(one), one) for one in given.of(part)]
    counted = [_counted(codes.count(words), words) for words in dict.fromkeys(codes)]
    return ", ".join(counted) or "nothing is asked yet"


def _counted(number: int, words: str) -> str:
    """
    >>> _counted(1, "conforms"), _counted(2, "conforms, provisional"), _counted(3, "does not conform")
    ('1 conforms', '2 conform, provisional', '3 do not conform')
    """
    if number > 1:
        words = words.replace("does not conform", "do not conform").replace("conforms", "conform")
    return f"{number} {words}"


def _last(given: Given, part: Part, display: str) -> str:
    records = given.records(part)
    if not records:
        return _lacking(given, part)
    newest = records[-1]
    source = next((one for one in given.evidence if one.envelope == newest["envelope"]), None)
    who = f"; {source.by}, SHA-256 {source.sha256[:16]}…" if source else ""
    return f"{_upper(headline(newest, display))}; {printing.moment(newest['observed_at'])}{who}"


def _title(requirement: str) -> str:
    rule = RULES.get(requirement)
    return rule.TITLE if rule else requirement.replace("_", " ")


def _asked(judgement: Mapping[str, Any]) -> str:
    return ", ".join(filter(None, (_title(judgement["requirement"]), _where(judgement))))


def _where(judgement: Mapping[str, Any]) -> str:
    return place_of(judgement["port"], [judgement["requirement"]])


def _words(code: str, judgement: Mapping[str, Any]) -> str:
    words = (shows.VERDICTS | shows.ABSENCES | {"accepted": "Accepted as is"}).get(code, code.replace("_", " "))
    return f"{_lower(words)}{', provisional' if judgement['provisional'] else ''}"


def _lower(text: str) -> str:
    return f"{text[:1].lower()}{text[1:]}"


def _upper(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"
