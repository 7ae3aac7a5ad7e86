"""A firm's own procedures handed in: read with every fault at once, kept as a version, and its units judged again."""

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any
from uuid import UUID

from django.db import transaction
from django.http import HttpRequest
from pydantic import ValidationError
from rest_framework.request import Request

from commissioning.catalogue.procedures import LIBRARY, Library, Procedure, plain, unknown
from commissioning.dossier import own_checks, strict_json, strict_toml
from commissioning.dossier.faults import problems_of
from commissioning.dossier.own_procedures import OwnProceduresModel, merged
from commissioning.dossier.problem import Problem
from commissioning.models import CurrentVerdict, OwnChecks, OwnProcedures
from portfolio import audit
from portfolio.jobs import queue
from portfolio.models import Firm, Person, Position

MOST_CHARACTERS = 400_000
_WORDS = {"title", "version", "why", "do", "expect", "look"}  # may change without a new version of the procedure
_NAMED = 5


class ProceduresRefused(Exception):
    """Nothing was kept; every fault with its field, value, reason and remedy."""

    def __init__(self, problems: list[Problem]) -> None:
        super().__init__(problems[0].reason)
        self.problems = problems


def read(text: str) -> dict[str, Any]:
    """The document of a version, without its number: TOML, or JSON of the same form. An empty text has nothing."""
    given = _values(text)
    if "version" in given:
        remedy = "Leave it out: the server counts the versions. Each procedure has its own."
        raise ProceduresRefused([Problem("/version", str(given["version"])[:60], "A version is not chosen.", remedy)])
    try:
        OwnProceduresModel.model_validate(given)
    except ValidationError as error:
        raise ProceduresRefused([_brief(one) for one in problems_of(error, given)]) from None
    return given


def _brief(problem: Problem) -> Problem:
    """Of a whole step or procedure the reason names the id; its start is no value that anybody could mend."""
    return replace(problem, value="") if problem.value.startswith("{") else problem


def _values(text: str) -> dict[str, Any]:
    if len(text) > MOST_CHARACTERS:
        told = f"This has more than {MOST_CHARACTERS:,} characters."
        raise ProceduresRefused([Problem("", "", told, "Shorten the texts.")])
    try:
        given = strict_json.parse(text.encode()) if text.lstrip().startswith("{") else strict_toml.parse(text)
    except tomllib.TOMLDecodeError as error:
        told = str(error).rstrip(".")
        remedy = "Mend that line: `[[add]]` with its `[[add.step]]`, then `[[reword]]`, texts in quotes."
        raise ProceduresRefused([Problem("", "", f"This cannot be read as TOML: {told}.", remedy)]) from None
    except strict_json.StrictError as error:
        raise ProceduresRefused([Problem(error.pointer, error.value, error.reason, error.remedy)]) from None
    return dict(given)


def read_for(firm: Firm, text: str) -> dict[str, Any]:
    """As `read`, and held against what stands: old runs stay readable, and what decides them changes openly."""
    document = read(text)
    before, after = (_own(merged(_counted(held))) for held in (newest_of(firm), document))
    faults = [*_gone(firm, [code for code in before if code not in after]), *_not_there(firm, document, after)]
    for code, one in before.items():
        if code in after:
            place = next(index for index, given in enumerate(document["add"]) if given["code"] == code)
            faults += _changed(f"/add/{place}", one, after[code])
    if faults:
        raise ProceduresRefused(faults)
    return document


def newest_of(firm: Firm) -> dict[str, Any]:
    row = OwnProcedures.objects.newest_of(firm)
    return row.document if row else {}


def _counted(document: Mapping[str, Any]) -> dict[str, Any]:
    return {**document, "version": 1}


def _own(library: Library) -> dict[str, Procedure]:
    return {code: one for code, one in library.procedures.items() if code not in LIBRARY.procedures}


def _not_there(firm: Firm, document: Mapping[str, Any], own: Mapping[str, Procedure]) -> Iterator[Problem]:
    """Words of the firm's own for equipment that its checks do not have: the test would apply nowhere, in silence."""
    row = OwnChecks.objects.newest_of(firm)
    words = own_checks.merged(_counted(row.document) if row else None).words
    for index, given in enumerate(document.get("add", ())):
        made = own[given["code"]]
        ways = (*made.when, *(way for step in made.steps for way in step.when))
        for what, code in unknown(ways, words):
            reason = f"The firm has no {what} called {code}."
            yield Problem(f"/add/{index}/when", code, reason, "Keep it first in the firm's own checks, or take it out.")


def _gone(firm: Firm, codes: list[str]) -> Iterator[Problem]:
    """A procedure that was run somewhere is not left out: its runs would lose what they are judged by."""
    for code, tags in sorted(_run_at(firm, codes).items() if codes else ()):
        reason = f"The procedure {code} was run at {', '.join(sorted(tags)[:_NAMED])}: it is not left out."
        yield Problem("/add", code, reason, "Keep it; the designs' lists of tests need not name it any more.")


def _run_at(firm: Firm, codes: list[str]) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    rows = CurrentVerdict.objects.filter(
        requirement="functional_tests", port__in=codes, position__building__site__project__firm=firm
    )
    for code, tag, runs in rows.values_list("port", "position__tag", "judgement__result__facts__runs"):
        if runs:
            found.setdefault(code, set()).add(tag)
    return found


def _changed(at: str, before: Procedure, after: Procedure) -> Iterator[Problem]:
    """What a procedure that was kept may not become in the next version."""
    gone = [one.id for one in before.steps if one.id not in after.by_id]
    for id in gone:
        reason = f"The step {id} of {before.code} is left out, and old runs name it."
        yield Problem(f"{at}/step", id, reason, "Keep it with retired = true: then it is not asked any more.")
    if after.version < before.version or after.counts_from < before.counts_from:
        reason = f"{before.code} was kept as version {before.version}, counting from {before.counts_from}."
        remedy = "Neither goes back: raise the version with what changes."
        yield Problem(f"{at}/version", str(after.version), reason, remedy)
    elif after.version == before.version and not gone and _decides(before) != _decides(after):
        reason = f"{before.code} is not what was kept as its version {before.version}, beyond its words."
        remedy = "Raise its version; and counts_from with it, where old runs are not to count any more."
        yield Problem(f"{at}/version", str(after.version), reason, remedy)


def _decides(procedure: Procedure) -> dict[str, Any]:
    held = {name: value for name, value in plain(procedure).items() if name not in _WORDS}
    return held | {"step": [{n: v for n, v in step.items() if n not in _WORDS} for step in held["step"]]}


def keep(*, firm: Firm, person: Person, text: str, request: HttpRequest | Request) -> OwnProcedures:
    """A new version; every unit of the firm, and of no other, is judged again by it."""
    read(text)  # what is no version at all waits for nobody
    with transaction.atomic():
        Firm.objects.select_for_update().get(pk=firm.pk)
        document = read_for(firm, text)
        newest = OwnProcedures.objects.newest_of(firm)
        number = newest.version + 1 if newest else 1
        row = OwnProcedures.objects.create(firm=firm, version=number, text=text, document=document, made_by=person)
        audit.note(request=request, person=person, verb="keep_procedures", obj=row, detail={"version": number})
        queue.want("rejudge", [firm.pk])
    return row


def library_of(project: UUID) -> Library:
    """The procedures by which a project's units are tested."""
    return merged(OwnProcedures.objects.by_project({project}).get(project))


def library_at(position: UUID | str) -> Library:
    where = Position.objects.filter(pk=position).values_list("building__site__project", flat=True)
    return library_of(where.get())
