"""Where a firm's own kinds, options and field sensors are in use, and how its schedules write them."""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from typing import Any
from uuid import UUID

from commissioning.catalogue.units import Vocabulary
from commissioning.dossier.own_checks import merged
from commissioning.dossier.own_equipment import Named, named_in
from commissioning.dossier.problem import Problem
from commissioning.models import OwnChecks
from portfolio.models import DesignEntry, Firm, Position
from portfolio.models.design import fold_entries
from portfolio.schedules.understanding.equipment import OPTIONS, SENSORS, OwnWord, codes_in

_FIELDS = {"option": OPTIONS, "sensor": SENSORS}
_SHOWN = 5


def in_use(firm: Firm, before: Mapping[str, Any], after: Mapping[str, Any]) -> list[Problem]:
    """What units of the firm have by their design and the next version would take from under them."""
    held, new = merged(before).words, merged(after).words
    if all(_stays(code, held, new) for code in (*held.like, *held.options, *held.sensors)):
        return []
    tags: dict[tuple[str, str], list[str]] = defaultdict(list)
    for position, design in _designs(firm):
        for one in named_in(design):
            if not _fits(one, position.kind, design, new):
                tags[one.what, one.code].append(position.tag)
    return [_told(what, code, sorted(found), new) for (what, code), found in sorted(tags.items())]


def _stays(code: str, held: Vocabulary, new: Vocabulary) -> bool:
    known = all(code not in getattr(held, name) or code in getattr(new, name) for name in ("options", "sensors"))
    narrower = code in new.only_at and new.only_at[code] != held.only_at.get(code)
    return known and held.like.get(code) == new.like.get(code) and not narrower


def _fits(one: Named, kind: str, design: Mapping[str, Any], new: Vocabulary) -> bool:
    if one.what == "kind":
        return new.like.get(one.code) == kind
    known = new.options if one.what == "option" else new.sensors
    own_kind = design["equipment"]["unit"].get("own_kind") or ""
    return one.code in known and new.may_have(one.code, kind, own_kind)


def _told(what: str, code: str, tags: list[str], new: Vocabulary) -> Problem:
    known = {"kind": new.like, "option": new.options, "sensor": new.sensors}[what]
    count = f"{len(tags)} unit{'s' * (len(tags) > 1)}"
    more = f" and {len(tags) - _SHOWN} more" if len(tags) > _SHOWN else ""
    becomes = "is not in this version" if code not in known else "is for other kinds of unit in this version"
    reason = f"{count} {'have' if len(tags) > 1 else 'has'} the {what} {code}, which {becomes}"
    remedy = "Leave it as it is, or first set these units up without it."
    return Problem(f"/{what}", code, f"{reason}: {', '.join(tags[:_SHOWN])}{more}.", remedy)


def _designs(firm: Firm) -> Iterator[tuple[Position, dict[str, Any]]]:
    """Of each unit whose design says what it has, the design of that."""
    rows = DesignEntry.objects.filter(position__building__site__project__firm=firm, fields__has_key="equipment")
    held: dict[UUID, list[DesignEntry]] = defaultdict(list)
    for row in rows.select_related("revision", "position"):
        held[row.position_id].append(row)
    for entries in held.values():
        yield entries[0].position, fold_entries(entries)


def read_otherwise(document: Mapping[str, Any]) -> Iterator[Problem]:
    """Spellings that a schedule's reader already takes for something else, of the catalogue or of the firm."""
    own = tuple(_words(document))
    for word in own:
        for spelled in (word.title, *word.spelled):
            others = tuple(one for one in own if one is not word)
            codes = set(codes_in(word.field, spelled, others)[0]) - {word.code}
            if codes:
                what = next(name for name, field in _FIELDS.items() if field == word.field)
                reason = f"A schedule's {spelled} is read as {', '.join(sorted(codes))} already."
                yield Problem(f"/{what}", word.code, reason, "Take another title or another spelling.")


def words_of(project: UUID) -> tuple[OwnWord, ...]:
    """How the schedules of a project may write what its firm has of its own. The setting EQUIPMENT_WORDS names it."""
    newest = OwnChecks.objects.newest().filter(firm__projects=project).first()
    return tuple(_words(newest.document)) if newest else ()


def _words(document: Mapping[str, Any]) -> Iterator[OwnWord]:
    for name, field in _FIELDS.items():
        for one in document.get(name, ()):
            spelled, kinds = (tuple(one.get(key, ())) for key in ("read_as", "kinds"))
            yield OwnWord(field, one["code"], one["title"], spelled, kinds)
