"""What is said of a source's logs, kept version by version, and the file read through it."""

from typing import Any

from django.db import IntegrityError, transaction
from django.http import HttpRequest
from pydantic import ValidationError
from rest_framework.request import Request

from commissioning.dossier.problem import Problem
from commissioning.evidence.trends.receiving import JOB
from commissioning.logs.mapping import LogMapping
from commissioning.models import LogMappingVersion, TrendUpload
from portfolio import audit
from portfolio.jobs import queue
from portfolio.models import Building, Person, Position


class MappingFaulty(Exception):
    """Not kept; each problem names the field, the value, the reason and the remedy."""

    def __init__(self, problems: list[Problem]) -> None:
        super().__init__(f"{len(problems)} faults")
        self.problems = problems


def read_mapping(given: Any) -> LogMapping:
    """From JSON's values, or MappingFaulty."""
    try:
        return LogMapping.model_validate(given)
    except ValidationError as error:
        raise MappingFaulty([_problem(one) for one in error.errors()[:50]]) from None


def _problem(error: Any) -> Problem:
    pointer = "/" + "/".join(str(part) for part in error["loc"]) if error["loc"] else ""
    given = error.get("input")
    value = str(given)[:80] if isinstance(given, (str, int, float)) else ""
    reason = str(error["msg"]).removeprefix("Value error, ")
    return Problem(pointer, value, f"{reason[:1].upper()}{reason[1:]}.", "See docs/trends.md for what it may be.")


def apply(
    upload: TrendUpload, mapping: LogMapping, person: Person, *, request: Request | HttpRequest | None = None
) -> LogMappingVersion:
    """Keep what is said of the source, and want the file to be read through it."""
    unknown = unknown_tags(upload, mapping, person)
    if unknown:
        raise MappingFaulty(
            [
                Problem("/points", tag, "No unit of this building has this tag.", "Write it as its page shows it.")
                for tag in unknown
            ]
        )
    with transaction.atomic():
        held = TrendUpload.objects.select_for_update().get(pk=upload.pk)
        if held.state in (TrendUpload.State.RECEIVING, TrendUpload.State.ACCEPTED):
            said = "is still coming in" if held.state == TrendUpload.State.RECEIVING else "was accepted"
            raise MappingFaulty([Problem("", held.state, f"The file {said}.", "Begin another upload for a change.")])
        row = keep_version(upload.position.building, mapping, person, request=request)
        held.mapping, held.state, held.fault, held.result = row, TrendUpload.State.READING, "", {}
        held.save(update_fields=["mapping", "state", "fault", "result"])
        queue.want(JOB, [held.pk])
    return row


def unknown_tags(upload: TrendUpload, mapping: LogMapping, person: Person) -> list[str]:
    tags = {point.tag for point in mapping.points} - {""}
    seen = Position.objects.visible_to(person).filter(building=upload.position.building_id, tag__in=tags)
    return sorted(tags - set(seen.values_list("tag", flat=True)))


def keep_version(
    building: Building, mapping: LogMapping, person: Person, *, request: Request | HttpRequest | None = None
) -> LogMappingVersion:
    """The same text as the newest version is that version; else the next number."""
    key = " ".join(mapping.source.split()).casefold()
    for last_try in (False, True):
        try:
            with transaction.atomic():
                newest = (
                    LogMappingVersion.objects.filter(building=building, source_key=key).order_by("-version").first()
                )
                if newest is not None and newest.sha256 == mapping.sha256:
                    return newest
                row = LogMappingVersion.objects.create(
                    building=building,
                    source=mapping.source,
                    source_key=key,
                    version=newest.version + 1 if newest else 1,
                    sha256=mapping.sha256,
                    document=mapping.model_dump(mode="json"),
                    made_by=person,
                )
                told = {"sha256": row.sha256, "version": row.version}
                audit.note(request=request, person=person, verb="submit_evidence", obj=row, detail=told)
                return row
        except IntegrityError:  # somebody kept the same number meanwhile
            if last_try:
                raise
    raise AssertionError("unreachable")


def known_mapping(building: Building, columns: set[str]) -> LogMappingVersion | None:
    """The newest version of the source whose points this file has most of; None where none has half of its points."""
    best, most = None, 0.5
    for row in LogMappingVersion.objects.filter(building=building).newest().order_by("-made_at")[:50]:
        names = {point["name"] for point in row.document["points"]}
        share = len(names & columns) / len(names) if names else 0.0
        if share > most or (share == most and best is None):
            best, most = row, share
    return best
