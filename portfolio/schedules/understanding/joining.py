"""From drafts to one draft per tag: runs spread, types joined to their tags, a tag met twice brought together."""

from collections.abc import Iterator
from dataclasses import replace

from portfolio.schedules.understanding.drafts import Draft, Value
from portfolio.schedules.understanding.result import Choices, Quantity, Written
from portfolio.schedules.understanding.said import Said
from portfolio.schedules.understanding.tags import read_tags

_JOINED_TEXTS = ("remarks", "notes")
_OWN_TEXTS = ("type", "location", "serves", "building")
_SHOWN = 3


def one_per_tag(drafts: list[Draft], choices: Choices, said: Said) -> list[Draft]:
    """Spread, join and bring together; what cannot be is an error, and its rows are left out."""
    types, listed = _types(drafts)
    chosen = {_key(name): tags for name, tags in choices.tags_of.items()}
    spread: list[Draft] = []
    for draft in drafts:
        key = _key(draft.reading.tags[0])
        if types.get(key) is draft:
            spread += _of_type(draft, key, listed.get(key, []), chosen, said)
        elif not draft.by_type and not _joins(draft, types):
            spread += _spread(draft, chosen, said)
        _tell_of_type(draft, types, said)
    order = {id(draft.key): place for place, draft in enumerate(drafts)}
    spread.sort(key=lambda draft: order.get(id(draft.key), 0))
    return _together(spread, said)


def _types(drafts: list[Draft]) -> tuple[dict[str, Draft], dict[str, list[Draft]]]:
    """The rows that describe a type, and the rows of tags that name it."""
    listed: dict[str, list[Draft]] = {}
    for draft in drafts:
        named = draft.values.get("type")
        if not draft.by_type and isinstance(named, Written):
            listed.setdefault(_key(named.text), []).append(draft)
    types: dict[str, Draft] = {}
    for draft in drafts:
        key = _key(draft.reading.tags[0])
        describes = draft.by_type or (
            key in listed and len(draft.reading.tags) == 1 and all(one is not draft for one in listed[key])
        )
        if describes:
            types.setdefault(key, draft)
    return types, listed


def _joins(draft: Draft, types: dict[str, Draft]) -> bool:
    """Whether the row of tags names a type that is described somewhere."""
    named = draft.values.get("type")
    return isinstance(named, Written) and _key(named.text) in types


def _tell_of_type(draft: Draft, types: dict[str, Draft], said: Said) -> None:
    """Tell of a row that hangs on a type nobody describes, or of a type described twice."""
    if draft.by_type and types.get(_key(draft.reading.tags[0])) is not draft:
        first = types[_key(draft.reading.tags[0])]
        reason = f"the type is described here and in {first.key.at}"
        said.error(draft.key.at, draft.key.text, reason, "Leave one of the two", "type_twice")
        return
    named = draft.values.get("type")
    by_types = {one.key.at.sheet for one in types.values() if one.by_type}
    if not by_types or draft.by_type or not isinstance(named, Written) or _key(named.text) in types:
        return
    if not any(isinstance(value, Quantity) for value in draft.values.values()):
        reason = f"type '{named.text}' is described nowhere in the file"
        said.error(named.at, named.text, reason, "Correct the type, or add its row to the types", "type_unknown")


def _of_type(
    draft: Draft, key: str, listed: list[Draft], chosen: dict[str, tuple[str, ...]], said: Said
) -> Iterator[Draft]:
    """The tags of a described type: from the rows that name it, or from a person's choice."""
    names = [tag for row in listed for tag in row.reading.tags]
    if not listed and key in chosen:
        yield from _with_tags(draft, chosen[key], said)
        return
    if draft.expected > 1 and draft.expected != len(names):
        what = f"it stands for {draft.expected} units, and {len(names)} tags name it"
        _count_error(draft, what, said)
        return
    if not listed:
        said.error(
            draft.key.at,
            draft.key.text,
            "the row describes a type, and no tag of that type is listed",
            "Add a table with the columns TAG and TYPE, or give the tags",
            "type_without_tags",
        )
        return
    for row in listed:
        for tag in row.reading.tags:
            yield _joined(row, draft, tag, said)


def _joined(row: Draft, described: Draft, tag: str, said: Said) -> Draft:
    """A row of tags with what its type says; what the row itself says counts."""
    values: dict[str, Value] = {path: value for path, value in described.values.items() if path not in _OWN_TEXTS}
    for path, value in row.values.items():
        before = values.get(path)
        if isinstance(before, Quantity) and isinstance(value, Quantity) and not _same(before, value):
            said.remark(value.at, f"{tag} has its own value here; its type says {before.text}", "own_value")
        values[path] = value
    notes = tuple(dict.fromkeys((*described.notes, *row.notes)))
    return replace(
        row,
        tag=tag,
        kind=row.kind if row.kind_by_tag or not described.kind else described.kind,
        values=values,
        open={**described.open, **row.open},
        other={**described.other, **row.other},
        notes=notes,
        scope=row.scope or described.scope,
        basis=described.basis or row.basis,
        type_at=described.key,
        table=row.table,
    )


def _spread(draft: Draft, chosen: dict[str, tuple[str, ...]], said: Said) -> Iterator[Draft]:
    """One draft per tag of a row; a row that speaks of more units than it names is an error."""
    tags = draft.reading.tags
    if draft.expected > 1 and draft.expected != len(tags):
        named = chosen.get(_key(draft.key.text)) or chosen.get(_key(tags[0]))
        if named:
            yield from _with_tags(draft, named, said)
        else:
            names = tags[0] if len(tags) == 1 else f"{len(tags)} tags"
            _count_error(draft, f"it stands for {draft.expected} units, and names {names}", said)
        return
    for tag in tags:
        yield draft.for_tag(tag)


def _with_tags(draft: Draft, tags: tuple[str, ...], said: Said) -> Iterator[Draft]:
    """Tags given by a person, as runs or one by one."""
    found: list[str] = []
    for text in tags:
        reading = read_tags(text)
        if reading.problem:
            said.error(draft.key.at, text, reading.problem, "Write tags like ERV-1 thru 6", "tag_unreadable")
            return
        found += reading.tags
    if draft.expected > 1 and draft.expected != len(found):
        _count_error(draft, f"it stands for {draft.expected} units, and {len(found)} tags were given", said)
        return
    for tag in dict.fromkeys(found):
        yield draft.for_tag(tag)


def _count_error(draft: Draft, what: str, said: Said) -> None:
    at = draft.expected_at or draft.key.at
    said.error(
        at,
        draft.key.text,
        f"{what}; {draft.expected} tags are expected",
        f"Write all {draft.expected} tags in the cell, add a list of tags with this type, or give the tags",
        "tags_missing",
    )


def _together(drafts: list[Draft], said: Said) -> list[Draft]:
    """One draft per tag and building; two that agree are merged, two that contradict are an error."""
    groups: dict[str, list[Draft]] = {}
    order: dict[int, int] = {}
    for place, draft in enumerate(drafts):
        order[id(draft)] = place
        groups.setdefault(draft.tag, []).append(draft)
    found: list[tuple[int, Draft]] = []
    for tag, group in groups.items():
        if len(group) == 1:
            found.append((order[id(group[0])], group[0]))
            continue
        by_building: dict[str, list[Draft]] = {}
        for draft in group:
            by_building.setdefault(_building(draft), []).append(draft)
        nowhere = by_building.pop("", [])
        if not by_building:
            by_building[""] = nowhere
        elif len(by_building) == 1:
            next(iter(by_building.values())).extend(nowhere)
        elif nowhere:
            by_building[""] = nowhere
        found += [(order[id(same[0])], _merged(tag, same, said)) for same in by_building.values()]
    return [draft for _, draft in sorted(found, key=lambda one: one[0])]


def _merged(tag: str, group: list[Draft], said: Said) -> Draft:
    first = group[0]
    for second in group[1:]:
        first = _two(tag, first, second, said)
    return first


def _two(tag: str, first: Draft, second: Draft, said: Said) -> Draft:
    against = []
    for path, value in second.values.items():
        before = first.values.get(path)
        if isinstance(value, Quantity) and isinstance(before, Quantity) and not _same(before, value):
            against.append(f"{_words(path)} is {_shown(before)} in {before.at} and {_shown(value)} in {value.at}")
    here, there = {word.code for word in first.scope}, {word.code for word in second.scope}
    if here != there and here and there:
        against.append(f"its scope is {first.scope[0].text!r} and {second.scope[0].text!r}")
    if against:
        more = f", and {len(against) - _SHOWN} more" if len(against) > _SHOWN else ""
        said.error(
            second.key.at,
            second.key.text,
            f"{tag} stands in {first.key.at} and in {second.key.at}, and differently: "
            + "; ".join(against[:_SHOWN])
            + more,
            "Correct one of the two, or clear the row that does not count",
            "tag_twice",
        )
        return first
    said.remark(second.key.at, f"{tag} stands in {first.key.at} too; the two were brought together", "tag_repeated")
    values: dict[str, Value] = {**second.values, **first.values}
    for path in _JOINED_TEXTS:
        one, other = first.values.get(path), second.values.get(path)
        if isinstance(one, Written) and isinstance(other, Written) and one.text.casefold() != other.text.casefold():
            values[path] = Written(f"{one.text}; {other.text}", one.at)
    return replace(
        first,
        values=values,
        open={path: why for path, why in {**second.open, **first.open}.items() if path not in values},
        other={**second.other, **first.other},
        notes=tuple(dict.fromkeys((*first.notes, *second.notes))),
        scope=tuple({word.code: word for word in (*second.scope, *first.scope)}.values()),
        basis=first.basis or second.basis,
        kind=first.kind or second.kind,
    )


def _same(one: Quantity, other: Quantity) -> bool:
    return one.value == other.value and one.unit == other.unit


def _shown(value: Quantity) -> str:
    return f"{value.value:g} {value.unit}" if value.unit != "1" else f"{value.value:g}"


def _words(path: str) -> str:
    group, _, name = path.rpartition(".")
    return f"{group.replace('.', ' ')} {name.replace('_', ' ')}".strip()


def _building(draft: Draft) -> str:
    building = draft.values.get("building")
    return _key(building.text) if isinstance(building, Written) else ""


def _key(text: str) -> str:
    return " ".join(text.upper().split())
