"""The procedures of functional tests: what is done, what is expected, when it applies. One file each in `functional/`.

Where a limit follows from a unit's own settings or design, a step names the expectation; working it out is no business
of the catalogue.
"""

import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, fields
from functools import cached_property
from pathlib import Path
from typing import Any, Literal, TypeAlias

from commissioning.catalogue import forbidden
from commissioning.catalogue.units import VOCABULARY, Equipment, Vocabulary
from commissioning.engineering import units

ANSWERS = ("yes_no", "number", "interval", "trend")
PARTS = ("run", "restore")
CODE = re.compile(r"[a-z]{3,20}")  # it stands where a port stands
STEP_ID = re.compile(r"[a-z_]{4,40}")
ALL = "all_that_apply"  # in a design's list of tests
Word: TypeAlias = str | bool
IsOwn: TypeAlias = Callable[[str], object]
Applies: TypeAlias = Literal["yes", "no", "not_known"]


def none_is(code: str) -> bool:
    return False


@dataclass(frozen=True, slots=True)
class When:
    """One way in which something applies: all that is named has to hold; of a list, any one."""

    kinds: tuple[str, ...] = ()
    options: tuple[str, ...] = ()
    sensors: tuple[str, ...] = ()
    settings: Mapping[str, tuple[Word, ...]] = field(default_factory=dict)

    def holds(self, unit: Equipment, settings: Mapping[str, Any], *, is_listed: bool) -> Applies:
        """`is_listed`: the design says what the unit has. What neither it nor a setting tells is not known."""
        found: list[Applies] = []
        if self.kinds:
            found.append("yes" if unit.is_any_of(self.kinds) else "no")
        for asked, held in ((self.options, unit.options), (self.sensors, unit.sensors)):
            if asked:
                found.append("yes" if held & set(asked) else "no" if is_listed else "not_known")
        for code, words in self.settings.items():
            found.append("not_known" if code not in settings else "yes" if settings[code] in words else "no")
        return "no" if "no" in found else "not_known" if "not_known" in found else "yes"


def applies(ways: tuple[When, ...], unit: Equipment, settings: Mapping[str, Any], *, is_listed: bool) -> Applies:
    """Any one way is enough; without one it always applies. Where one says no, it stays no until another says yes."""
    found = {way.holds(unit, settings, is_listed=is_listed) for way in ways}
    return "yes" if not found or "yes" in found else "no" if "no" in found else "not_known"


@dataclass(frozen=True, slots=True)
class Step:
    """What to do, what to expect, by what it is judged and what stays as evidence.

    With `expects`, `low` and `high` are told from the expected value: as fractions of it, or in `unit` where `offset`.
    """

    id: str
    do: str
    expect: str
    part: str = "run"
    answer: str = "yes_no"
    photo: bool = False  # the answer needs one
    measured: bool = False  # with an instrument, not read off the controller
    caution: tuple[str, ...] = ()  # codes of hazards
    who: str = ""  # the trade that does it
    first: str = ""  # of an interval: what begins it
    then: str = ""  # and what ends it
    unit: str = ""
    unit_ip: str = ""
    low: float | None = None
    high: float | None = None
    offset: bool = False
    expects: str = ""
    source: str = ""  # of the limits
    simulated: str = ""  # the part of it that is simulated
    untested: str = ""  # what that leaves untested
    trend: tuple[str, ...] = ()  # expectations over a trend log on which it stands: code, or code.place
    leaves: str = ""  # what of it they leave to the eye
    look: str = ""  # where to look if it is not as expected
    when: tuple[When, ...] = ()
    retired: bool = False

    def asked_in(self, display: str) -> str:
        return (self.unit_ip or self.unit) if display == "ip" else self.unit


@dataclass(frozen=True, slots=True)
class Needs:
    """What has to be so before it begins."""

    season: str
    occupancy: str
    coordination: str
    present: tuple[str, ...] = ()  # trades that have to be there, each by a witness


@dataclass(frozen=True)
class Procedure:
    """`counts_from`: runs of this version and later still count. `touched`: new airflows make it due again."""

    code: str
    title: str
    version: int
    why: str
    needs: Needs
    safe_state: str  # in which it is left where it is broken off
    steps: tuple[Step, ...]
    counts_from: int = 1
    caution: tuple[str, ...] = ()
    when: tuple[When, ...] = ()
    otherwise: str = ""  # why it does not apply where it does not
    settings: tuple[str, ...] = ()  # which it depends on, beside those that its steps name
    touched: bool = False
    witnessed: bool = False  # another contractor's test, witnessed and never made by us

    @cached_property
    def by_id(self) -> Mapping[str, Step]:
        return {step.id: step for step in self.steps}

    @cached_property
    def hazards(self) -> tuple[str, ...]:
        """Of the whole and of its steps, each once, in the order of the vocabulary."""
        named = {*self.caution, *(code for step in self.steps for code in step.caution)}
        return tuple(code for code in VOCABULARY.hazards if code in named)


def read(text: str) -> Procedure:
    """From the text of its file. What contradicts itself or names what the vocabulary has not is refused by its id."""
    made = built(tomllib.loads(text))
    found = [f"{made.code}: {fault}" for fault in faults(made)]
    found += [f"{made.code}, {step.id}: {fault}" for step in made.steps for fault in faults_of_step(step)]
    if found:
        raise ValueError("; ".join(found))
    return made


def built(held: Mapping[str, Any]) -> Procedure:
    """From what its file holds; whether it holds together is said by `faults` and `faults_of_step`."""
    return Procedure(
        **_plain(held, Procedure)
        | {
            "needs": Needs(**_tuples(held["needs"])),
            "when": _ways(held),
            "steps": tuple(step_built(one) for one in held["step"]),
        }
    )


def step_built(held: Mapping[str, Any]) -> Step:
    return Step(**_plain(held, Step) | {"when": _ways(held)})


def plain(one: Procedure) -> dict[str, Any]:
    """As plain JSON values, in the form of its file; `built` makes the same of it."""
    held = {name: _json(value) for name, value in _said(one).items() if name not in ("steps", "when", "needs")}
    steps = [{**_json(_said(step)), "when": _json([_said(way) for way in step.when])} for step in one.steps]
    return {**held, "needs": _json(_said(one.needs)), "when": _json([_said(way) for way in one.when]), "step": steps}


def _said(one: Any) -> dict[str, Any]:
    """The fields that differ from what they are where nothing is said."""
    return {each.name: value for each in fields(one) if (value := getattr(one, each.name)) != each.default}


def _json(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {name: _json(one) for name, one in value.items()}
    return [_json(one) for one in value] if isinstance(value, list | tuple) else value


def _plain(held: Mapping[str, Any], kind: type) -> dict[str, Any]:
    named = {"step", "needs", "when"}
    strange = set(held) - {one.name for one in fields(kind)} - named
    if strange:
        raise ValueError(f"{held.get('code') or held.get('id')}: nothing is called {', '.join(sorted(strange))}")
    return _tuples({name: one for name, one in held.items() if name not in named})


def _ways(held: Mapping[str, Any]) -> tuple[When, ...]:
    return tuple(
        When(**_tuples(one) | ({"settings": _tuples(one["settings"])} if "settings" in one else {}))
        for one in held.get("when", ())
    )


def faults(one: Procedure, *, is_own: IsOwn = none_is) -> Iterator[str]:
    """What is wrong with it as a whole. `is_own`: whether a code may be a firm's own, which is not known here."""
    ids = [step.id for step in one.steps]
    yield from (f"{id} stands twice" for id in sorted({id for id in ids if ids.count(id) > 1}))
    yield from (f"no hazard is called {code}" for code in one.caution if code not in VOCABULARY.hazards)
    yield from (f"no trade is called {code}" for code in one.needs.present if code not in VOCABULARY.trades)
    yield from _faults_of_ways(one.when, is_own)
    parts = [step.part for step in one.steps]
    if set(parts) != set(PARTS) or parts != sorted(parts, key=PARTS.index):
        yield "its steps are run, then what was changed is restored"
    if not 1 <= one.counts_from <= one.version:
        yield "a version counts from itself or an earlier one"
    if bool(one.when) != bool(one.otherwise):
        yield "what applies to some units says why it does not to others"
    yield from _faults_of_care(one)


def _faults_of_care(one: Procedure) -> Iterator[str]:
    """What it has to say for those who run it, and for the unit that they leave."""
    needs = one.needs
    said = {name: getattr(needs, name) for name in ("season", "occupancy", "coordination")}
    for name, text in (("why", one.why), ("safe_state", one.safe_state), *said.items()):
        if not text.strip():
            yield f"it does not say its {name}"
    asked = [step for step in one.steps if not step.retired]
    back = [step for step in asked if step.part == "restore"]
    if not any(step.photo for step in back) and not one.witnessed:
        yield "a step of its restoring has a photo, which proves it restored"
    for step in asked:
        if step.who and step.who not in needs.present:
            yield f"{step.id}: {step.who} does it and does not have to be there"
        for code in forbidden.hazards_of(step.do):
            if code not in (*one.caution, *step.caution):
                yield f"{step.id}: what it asks for needs the caution {code}"
    theirs = "fire_alarm" in (*needs.present, *one.hazards, *(step.who for step in asked))
    theirs = theirs or any(forbidden.is_of_the_fire_alarm(step.do) for step in asked)
    if theirs and not one.witnessed:
        yield "what touches the fire alarm is that contractor's test, and is only `witnessed`"
    if one.witnessed and (needs.present != ("fire_alarm",) or {step.who for step in asked} - {"", "fire_alarm"}):
        yield "what is witnessed is the fire alarm contractor's test, and no other trade does a step of it"
    yield from forbidden.never((one.title, one.why, one.safe_state, one.otherwise, *said.values()))


def faults_of_step(step: Step, *, is_own: IsOwn = none_is) -> Iterator[str]:
    """What is wrong with a step, whatever the others are."""
    yield from (f"no hazard is called {code}" for code in step.caution if code not in VOCABULARY.hazards)
    yield from _faults_of_ways(step.when, is_own)
    if not STEP_ID.fullmatch(step.id):
        yield "an id of a step is 4 to 40 small letters and underscores"
    if step.part not in PARTS:
        yield f"no part is called {step.part}"
    if step.who and step.who not in VOCABULARY.trades:
        yield f"no trade is called {step.who}"
    if step.answer not in ANSWERS:
        yield f"no answer is called {step.answer}"
    yield from _faults_of_criterion(step)
    if bool(step.simulated) != bool(step.untested):
        yield "what is simulated says what stays untested"
    if step.simulated and not step.who:
        yield "who makes what is simulated is not said, as `who`"
    if forbidden.switches(step.do) and not (step.who == "electrical" and "live_parts" in step.caution):
        yield "what is switched is switched by the trade electrical, with the caution live_parts, or it “stays closed”"
    yield from forbidden.never((step.do, step.expect, step.look, step.simulated, step.untested))


def _faults_of_criterion(step: Step) -> Iterator[str]:
    counted = step.answer in ("number", "interval")
    if counted != (step.low is not None or step.high is not None) or counted != bool(step.unit):
        yield "a number has a unit and limits, and nothing else has"
    if counted and not step.source:
        yield "limits have a source"
    yield from (fault for code in (step.unit, step.unit_ip) if code for fault in _fault_of_unit(code))
    if step.low is not None and step.high is not None and step.low > step.high:
        yield f"the limits {step.low:g} and {step.high:g} cross"
    is_interval = step.answer == "interval"
    if is_interval != bool(step.first and step.then) or (is_interval and step.unit != "s"):
        yield "an interval has a beginning and an end, and is told in seconds"
    if (step.trend and counted) or (step.leaves and not step.trend):
        yield "only what is seen stands on expectations over a trend, and only they leave something to the eye"
    if step.measured and step.answer != "number":
        yield "only a number is measured"
    if (step.expects or step.offset) and not (counted and step.expects):
        yield "only a number follows from an expectation"


def _fault_of_unit(code: str) -> Iterator[str]:
    try:
        known = units.unit(code).code
    except ValueError as error:
        yield str(error)
    else:
        if known != code:
            yield f"the unit {code} is written {known}"


def _faults_of_ways(ways: tuple[When, ...], is_own: IsOwn) -> Iterator[str]:
    yield from (f"no {what} is called {code}" for what, code in unknown(ways, VOCABULARY) if not is_own(code))


def unknown(ways: tuple[When, ...], words: Vocabulary) -> Iterator[tuple[str, str]]:
    """What ways name of equipment, as kind, option or sensor and its code, and these words do not have."""
    for way in ways:
        named = (("kind", way.kinds, words.kinds), ("option", way.options, words.options))
        for what, codes, held in (*named, ("sensor", way.sensors, words.sensors)):
            yield from ((what, code) for code in codes if code not in held)


def _tuples(given: Mapping[str, Any]) -> dict[str, Any]:
    return {name: tuple(one) if isinstance(one, list) else one for name, one in given.items()}


@dataclass(frozen=True)
class Library:
    """All procedures by code, in the order in which a unit is tested. Any change raises the version."""

    version: int
    procedures: Mapping[str, Procedure]

    @property
    def listable(self) -> dict[str, str]:
        """What a design's list of tests may say, with the words for it."""
        return {code: one.title for code, one in self.procedures.items()} | {ALL: "all that apply"}


def load(folder: Path) -> Library:
    """`order.toml` names the files and the version of the whole."""
    order = tomllib.loads((folder / "order.toml").read_text(encoding="utf-8"))
    held = [read((folder / f"{code}.toml").read_text(encoding="utf-8")) for code in order["procedures"]]
    pairs = zip(held, order["procedures"], strict=True)
    strange = [one.code for one, code in pairs if one.code != code or not CODE.fullmatch(code)]
    if strange or {one.stem for one in folder.glob("*.toml")} != {"order", *order["procedures"]}:
        raise ValueError(f"files and codes of procedures do not fit: {', '.join(strange)}")
    return Library(order["version"], {one.code: one for one in held})


LIBRARY = load(Path(__file__).with_name("functional"))
