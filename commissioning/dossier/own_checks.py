"""What a firm adds to the checks before a test, drops from them and words otherwise; merged with the catalogue. Pure.

A safety item is neither dropped nor changed. An id of the firm's own begins with `own_`, and what is no longer asked is
still read. Its kinds, options, field sensors and groups stand in the same version: see `own_equipment`.
"""

import json
from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import lru_cache
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field, StringConstraints, ValidationInfo, field_validator, model_validator

from commissioning.catalogue import checks
from commissioning.catalogue.checks import CATALOGUE, Catalogue, Group, Item, When
from commissioning.dossier import own_equipment
from commissioning.dossier import quantities as q
from commissioning.dossier.own_equipment import OWN_ID, Id, OwnGroups, OwnKinds, OwnWords, refused
from commissioning.engineering import units

MOST = 200
_NAMED = ("kind", "option", "sensor", "group")

Words = Annotated[str, StringConstraints(min_length=5, max_length=400, strip_whitespace=True)]
Codes = Annotated[list[Id], Field(max_length=60)]
Choice = Annotated[str, StringConstraints(min_length=1, max_length=200)]


class WhenModel(q.Closed):
    """What makes an item apply: all that is named; of a list, any one."""

    kinds: Codes = []
    options: Codes = []
    sensors: Codes = []
    motors: Codes = []
    drive: bool | None = None
    ducted: Literal["", "stand_alone", "to_air_handler"] = ""


class AddedItemModel(q.Closed):
    """An item of the firm's own, with all that one of the catalogue has."""

    id: Id
    group: Id
    text: Words
    why: Words
    how: Words
    trade: Id
    answer: Literal["yes_no", "number", "choice", "photo"] = "yes_no"
    hold: Literal["safety", "quality", ""] = ""
    caution: Codes = []
    choices: Annotated[list[Choice], Field(max_length=12)] = []
    right: Annotated[list[Choice], Field(max_length=12)] = []
    unit: Annotated[str, StringConstraints(max_length=20)] = ""
    low: q.Number | None = None
    high: q.Number | None = None
    source: Annotated[str, StringConstraints(max_length=400)] = ""
    when: WhenModel = WhenModel()

    @model_validator(mode="after")
    def _holds_together(self) -> "AddedItemModel":
        if not OWN_ID.fullmatch(self.id):
            remedy = "Begin it with own_, in small letters, like own_label."
            raise refused(f"the id {self.id} is none of a firm's own", remedy)
        if self.unit:
            try:
                units.unit(self.unit)
            except ValueError as error:
                raise refused(str(error), "Use a unit code of docs/api.md, like ft, V or Pa.") from None
        return self

    @property
    def item(self) -> Item:
        given = self.model_dump(exclude={"when"})
        when = {name: _tuple(one) for name, one in self.when.model_dump().items()}
        return Item(**{name: _tuple(one) for name, one in given.items()}, when=When(**when))


class ChangedItemModel(q.Closed):
    """Other words or limits of an item of the catalogue; what is not named stays, and its way of answering too."""

    id: Id
    text: Words | None = None
    why: Words | None = None
    how: Words | None = None
    low: q.Number | None = None
    high: q.Number | None = None
    source: Annotated[str, StringConstraints(min_length=5, max_length=400)] | None = None

    @model_validator(mode="after")
    def _may_change(self) -> "ChangedItemModel":
        item = _known(self.id)
        if item.hold == "safety":
            remedy = "Leave it as it is; what you want beside it is an item of your own."
            raise refused(f"the safety item {self.id} is not changed", remedy)
        named = {name for name in type(self).model_fields if getattr(self, name) is not None} - {"id"}
        if not named:
            raise refused(f"nothing of {self.id} is changed", "Name text, why, how, low or high, or leave it out.")
        if named & {"low", "high"}:
            if item.answer != "number":
                raise refused(f"the item {self.id} is answered by no number", "Leave its limits out.")
            if "source" not in named:
                raise refused("limits of your own have a source", "Say where they come from, in `source`.")
            low, high = (getattr(self, end) if end in named else getattr(item, end) for end in ("low", "high"))
            if low is not None and high is not None and low > high:
                raise refused(f"the limits {low:g} and {high:g} cross", f"Give them in {item.unit}, the lower first.")
        return self

    @property
    def changes(self) -> dict[str, Any]:
        return self.model_dump(exclude={"id"}, exclude_none=True)


def _fits(given: AddedItemModel, info: ValidationInfo) -> AddedItemModel:
    """An item among the words of its version. Where one of these is wrong itself, that is told first."""
    if set(_NAMED) <= set(info.data):
        held = {name: info.data[name] for name in _NAMED}
        words = own_equipment.vocabulary(held["kind"], held["option"], held["sensor"])
        groups = {one.code for one in (*CATALOGUE.groups, *held["group"])}
        faults = list(checks.faults(given.item, groups, words))
        if faults:
            remedy = "Use the codes of the catalogue's files, or those of your own in this version."
            raise refused(f"the item {given.id}: {'; '.join(faults)}", remedy)
    return given


class OwnChecksModel(q.Closed):
    """A version of what a firm has of its own."""

    version: Annotated[int, Field(ge=1)] = 1
    kind: OwnKinds = []
    option: OwnWords = []
    sensor: OwnWords = []
    group: OwnGroups = []
    add: Annotated[list[Annotated[AddedItemModel, AfterValidator(_fits)]], Field(max_length=MOST)] = []
    change: Annotated[list[ChangedItemModel], Field(max_length=MOST)] = []
    drop: Annotated[list[Id], Field(max_length=MOST)] = []

    @field_validator(*_NAMED)
    @classmethod
    def _are_told_apart(cls, given: list[Any], info: ValidationInfo) -> list[Any]:
        name = info.field_name or ""
        faults = list(own_equipment.faults_of_titles(name, given))
        if name != "kind" and "kind" in info.data:
            words = own_equipment.vocabulary(info.data["kind"], (), ())
            faults += own_equipment.faults_of_kinds(name, given, words)
        if faults:
            raise refused("; ".join(faults), f"Give each {name} a title of its own, and kinds that there are.")
        return given

    @field_validator("drop")
    @classmethod
    def _may_be_dropped(cls, given: list[str]) -> list[str]:
        held = [id for id in given if _known(id).hold == "safety"]
        if held:
            remedy = "Leave it in. A safety item is asked of every unit that it applies to."
            raise refused(f"the safety item {', '.join(held)} is never dropped", remedy)
        return given

    @model_validator(mode="after")
    def _each_once(self) -> "OwnChecksModel":
        ids = [*(one.id for one in self.add), *(one.id for one in self.change), *self.drop]
        ids += [one.code for name in _NAMED for one in getattr(self, name)]
        twice = sorted({id for id in ids if ids.count(id) > 1})
        if twice:
            raise refused(f"the item {', '.join(twice)} stands twice", "Add, change or drop an item once.")
        return self


def _known(id: str) -> Item:
    item = CATALOGUE.items.get(id)
    if item is None:
        raise refused(f"no item of the catalogue is called {id}", "Take its id from the catalogue's list.")
    return item


def _tuple(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value


def merged(own: Mapping[str, Any] | None) -> Catalogue:
    """The catalogue with what a firm has of its own, in the order of the walk; from values that were validated."""
    return _merged(json.dumps(own, sort_keys=True)) if own else CATALOGUE


@lru_cache(maxsize=32)
def _merged(own: str) -> Catalogue:
    held = OwnChecksModel.model_validate_json(own)
    changes = {one.id: one.changes for one in held.change}
    items = [
        replace(item, **changes.get(id, {}), retired=item.retired or id in held.drop)
        for id, item in CATALOGUE.items.items()
    ]
    groups = (*CATALOGUE.groups, *(one.group for one in held.group))
    order = [group.code for group in groups]
    walk = sorted([*items, *(one.item for one in held.add)], key=lambda item: order.index(item.group))
    words = own_equipment.vocabulary(held.kind, held.option, held.sensor)
    return Catalogue(CATALOGUE.version, groups, {item.id: item for item in walk}, words)


def differing(items: Mapping[str, Item], groups: Iterable[Group] = ()) -> dict[str, dict[str, Any]]:
    """Of these items those that are not as in the catalogue, as a judgement keeps them: their words and hazards.

    `groups`: those of the firm's version. The title of one of its own is kept with the item.
    """
    titles = {group.code: group.title for group in groups if group not in CATALOGUE.groups}
    own = {id: item for id, item in items.items() if CATALOGUE.items.get(id) != item}
    return {
        id: {"text": one.text, "group": one.group, "caution": list(one.caution)}
        | ({"group_title": titles[one.group]} if one.group in titles else {})
        for id, one in own.items()
    }


def group_titles(own: Mapping[str, Mapping[str, Any]]) -> dict[str, str]:
    """All groups by code in the order of the walk, those of the firm's own that these items name last."""
    named = {one["group"]: str(one["group_title"]) for one in own.values() if "group_title" in one}
    return {group.code: group.title for group in CATALOGUE.groups} | {code: named[code] for code in sorted(named)}
