"""What a firm says of equipment in its own words: kinds, options, field sensors, groups of checks. Pure.

A code of the firm's own begins with `own_`. A kind of its own is like one of the catalogue, and has the checks,
settings, rules and tests of that one.
"""

import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Annotated, Any

from pydantic import Field, StringConstraints, model_validator
from pydantic_core import PydanticCustomError

from commissioning.catalogue.checks import CATALOGUE, Group
from commissioning.catalogue.units import VOCABULARY, Vocabulary
from commissioning.dossier import quantities as q
from commissioning.dossier.problem import Problem, pointer_of

OWN_ID = re.compile(r"own_[a-z0-9_]{2,40}")
MOST_WORDS = 60
LISTS = {"options": "option", "field_sensors": "sensor"}
"""Of the design's `equipment`: each list, and the word for one of it."""

Id = Annotated[str, StringConstraints(min_length=1, max_length=50)]
Title = Annotated[str, StringConstraints(min_length=3, max_length=80, strip_whitespace=True)]
Kinds = Annotated[list[Id], Field(max_length=60)]
_SPLITS = re.compile(r"[;,\n•|+/&]")


def refused(reason: str, remedy: str) -> PydanticCustomError:
    return PydanticCustomError("own_checks", "{reason}", {"reason": reason, "remedy": remedy})


class NamedModel(q.Closed):
    """What has a code of the firm's own and a title."""

    code: Id
    title: Title

    @model_validator(mode="after")
    def _is_own(self) -> "NamedModel":
        if not OWN_ID.fullmatch(self.code):
            raise refused(f"the code {self.code} is none of a firm's own", "Begin it with own_, like own_sash_switch.")
        return self


class OwnKindModel(NamedModel):
    """A kind of unit by the firm's name for it."""

    like: Id

    @model_validator(mode="after")
    def _is_like_one_of_ours(self) -> "OwnKindModel":
        if self.like not in VOCABULARY.kinds:
            remedy = f"It is like one of these: {', '.join(VOCABULARY.kinds)}."
            raise refused(f"the kind {self.code} is like {self.like}, and no kind of the catalogue is", remedy)
        return self


class OwnWordModel(NamedModel):
    """An option or a field sensor; without kinds every unit may have it. `read_as`: how schedules write it."""

    kinds: Kinds = []
    read_as: Annotated[list[Title], Field(max_length=20)] = []

    @model_validator(mode="after")
    def _can_be_read(self) -> "OwnWordModel":
        apart = [spelled for spelled in self.read_as if _SPLITS.search(spelled)]
        if apart:
            remedy = "A cell is read apart at ; , | + / and &. Write it without."
            raise refused(f"{apart[0]} is more than one word of a schedule", remedy)
        return self


class OwnGroupModel(NamedModel):
    """A group of checks, walked after those of the catalogue; without kinds it applies to every unit."""

    kinds: Kinds = []

    @property
    def group(self) -> Group:
        return Group(self.code, self.title, tuple(self.kinds))


OwnKinds = Annotated[list[OwnKindModel], Field(max_length=MOST_WORDS)]
OwnWords = Annotated[list[OwnWordModel], Field(max_length=MOST_WORDS)]
OwnGroups = Annotated[list[OwnGroupModel], Field(max_length=MOST_WORDS)]


def vocabulary(
    kinds: Collection[OwnKindModel], options: Collection[OwnWordModel], sensors: Collection[OwnWordModel]
) -> Vocabulary:
    """The catalogue's words, and the firm's after them."""
    return replace(
        VOCABULARY,
        kinds={**VOCABULARY.kinds, **{one.code: one.title for one in kinds}},
        options={**VOCABULARY.options, **{one.code: one.title for one in options}},
        sensors={**VOCABULARY.sensors, **{one.code: one.title for one in sensors}},
        only_at={one.code: tuple(one.kinds) for one in (*options, *sensors) if one.kinds},
        like={one.code: one.like for one in kinds},
    )


def faults_of_kinds(name: str, what: Collection[OwnWordModel | OwnGroupModel], words: Vocabulary) -> Iterator[str]:
    for one in what:
        yield from (f"the {name} {one.code}: no kind is called {code}" for code in one.kinds if code not in words.kinds)


def faults_of_titles(name: str, what: Collection[NamedModel]) -> Iterator[str]:
    """Titles by which two of a list cannot be told apart, those of the catalogue among them."""
    ours = {
        "kind": VOCABULARY.kinds.values(),
        "option": VOCABULARY.options.values(),
        "sensor": VOCABULARY.sensors.values(),
        "group": [group.title for group in CATALOGUE.groups],
    }[name]
    seen = {title.casefold() for title in ours}
    for one in what:
        if one.title.casefold() in seen:
            yield f"the {name} {one.code}: another {name} is called {one.title}"
        seen.add(one.title.casefold())


def kind_in_words(kind: str, title: str, design: Mapping[str, Any], words: Vocabulary) -> str:
    """A unit's kind by its title, and before it the firm's name for it where the design gives one that is like it."""
    own = ((design.get("equipment") or {}).get("unit") or {}).get("own_kind") or ""
    if not own or words.like.get(own) != kind:
        return title
    return f"{words.kinds[own][0].upper()}{words.kinds[own][1:]} ({title.lower()})"


@dataclass(frozen=True, slots=True)
class Named:
    """A code of a firm's own that a design names, and where."""

    path: tuple[str | int, ...]
    what: str  # kind, option or sensor
    code: str


def named_in(design: Mapping[str, Any]) -> Iterator[Named]:
    """
    >>> [one.code for one in named_in({"equipment": {"unit": {"options": ["bypass", "own_sash"]}}})]
    ['own_sash']
    """
    unit = (design.get("equipment") or {}).get("unit") or {}
    above = ("equipment", "unit")
    if unit.get("own_kind"):
        yield Named((*above, "own_kind"), "kind", unit["own_kind"])
    for field, what in LISTS.items():
        for index, code in enumerate(unit.get(field) or ()):
            if OWN_ID.fullmatch(code):
                yield Named((*above, field, index), what, code)


def unknown_in(design: Mapping[str, Any], words: Vocabulary, above: tuple[str | int, ...]) -> Iterator[Problem]:
    """What a design names that the firm's version has not."""
    known = {"kind": words.like, "option": words.options, "sensor": words.sensors}
    for one in named_in(design):
        if one.code not in known[one.what]:
            reason = f"The firm has no {one.what} of its own called {one.code}."
            remedy = f"Add it to own_checks as a {one.what}, or leave it out."
            yield Problem(pointer_of((*above, *one.path)), one.code, reason, remedy)
