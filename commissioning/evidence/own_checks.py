"""A firm's own checks handed in: read with every fault at once, kept as a version, and its positions judged again."""

import tomllib
from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.db import transaction
from django.http import HttpRequest
from pydantic import ValidationError
from rest_framework.request import Request

from commissioning.catalogue.checks import Catalogue
from commissioning.dossier import strict_json, strict_toml
from commissioning.dossier.faults import problems_of
from commissioning.dossier.own_checks import AddedItemModel, OwnChecksModel, merged
from commissioning.dossier.own_equipment import kind_in_words, named_in
from commissioning.dossier.problem import Problem
from commissioning.evidence import own_equipment
from commissioning.models import CurrentVerdict, OwnChecks
from portfolio import audit
from portfolio.jobs import queue
from portfolio.models import Firm, Person, Position

MOST_CHARACTERS = 200_000
_WORDS = {"text", "why", "how", "source"}  # what may be said otherwise while a safety hold stands


class ChecksRefused(Exception):
    """Nothing was kept; every fault with its field, value, reason and remedy."""

    def __init__(self, problems: list[Problem]) -> None:
        super().__init__(problems[0].reason)
        self.problems = problems


def read(text: str) -> dict[str, Any]:
    """The document of a version, without its number. An empty text has nothing of its own."""
    try:
        given = strict_toml.parse(text)
    except tomllib.TOMLDecodeError as error:
        told = str(error).rstrip(".")
        remedy = "Mend that line: `drop = [..]`, then `[[add]]`, `[[change]]` and the others, texts in quotes."
        raise ChecksRefused([Problem("", "", f"This cannot be read as TOML: {told}.", remedy)]) from None
    except strict_json.StrictError as error:
        raise ChecksRefused([Problem(error.pointer, error.value, error.reason, error.remedy)]) from None
    if "version" in given:
        remedy = "Leave it out: the server counts the versions."
        raise ChecksRefused([Problem("/version", str(given["version"])[:60], "A version is not chosen.", remedy)])
    try:
        OwnChecksModel.model_validate(given)
    except ValidationError as error:
        raise ChecksRefused(problems_of(error, given)) from None
    return given


def read_for(firm: Firm, text: str) -> dict[str, Any]:
    """As `read`, and held against what stands.

    No version takes a safety hold away, only its release does; nor what units have by their design.
    """
    document = read(text)
    newest = OwnChecks.objects.newest_of(firm)
    before, after = _safety_items(newest.document if newest else {}), _safety_items(document)
    touched = sorted(id for id, held in before.items() if after.get(id) != held)
    standing = _held(firm) if touched else {}
    faults = [
        Problem(
            "/add",
            id,
            f"The safety item {id} holds at {', '.join(standing[id][:5])}: it is neither dropped nor changed.",
            "Leave it as it is, but for its words, until its release is recorded there.",
        )
        for id in touched
        if id in standing
    ]
    faults += own_equipment.read_otherwise(document)
    faults += own_equipment.in_use(firm, newest.document if newest else {}, document)
    if faults:
        raise ChecksRefused(faults)
    return document


def _safety_items(document: Mapping[str, Any]) -> dict[str, Any]:
    items = [AddedItemModel.model_validate(one) for one in document.get("add", ())]
    return {one.id: one.model_dump(exclude=_WORDS) for one in items if one.hold == "safety"}


def _held(firm: Firm) -> dict[str, list[str]]:
    """The items that hold for safety at units of the firm, each with their tags."""
    rows = CurrentVerdict.objects.filter(
        requirement="safety_holds", outcome="does_not_conform", position__building__site__project__firm=firm
    )
    found: dict[str, list[str]] = {}
    for tag, facts in rows.order_by("position__tag").values_list("position__tag", "judgement__result__facts"):
        for one in facts["items"]:
            if one["state"] == "held":
                found.setdefault(one["item"], []).append(tag)
    return found


def keep(*, firm: Firm, person: Person, text: str, request: HttpRequest | Request) -> OwnChecks:
    """A new version; every position of the firm, and of no other, is judged again by it."""
    read(text)  # what is no version at all waits for nobody
    with transaction.atomic():
        Firm.objects.select_for_update().get(pk=firm.pk)
        document = read_for(firm, text)
        newest = OwnChecks.objects.newest_of(firm)
        number = newest.version + 1 if newest else 1
        row = OwnChecks.objects.create(firm=firm, version=number, text=text, document=document, made_by=person)
        audit.note(request=request, person=person, verb="keep_checks", obj=row, detail={"version": number})
        queue.want("rejudge", [firm.pk])
    return row


def kind_of(unit: Position, design: Mapping[str, Any]) -> str:
    """The unit's kind in words, by the firm's own name where its design gives one."""
    title = str(unit.get_kind_display())
    if not any(one.what == "kind" for one in named_in(design)):
        return title
    return kind_in_words(unit.kind, title, design, catalogue_of(unit.building.site.project_id).words)


def catalogue_of(project: UUID) -> Catalogue:
    """The checks that a project's units are asked."""
    return merged(OwnChecks.objects.by_project({project}).get(project))
