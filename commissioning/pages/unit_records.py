"""The records of a unit as they came, page by page, and what changed of its verdicts. Superseded ones stay in sight."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.safestring import SafeString

from commissioning.dossier.startup.words import stage_of
from commissioning.judging import KINDS, place_of
from commissioning.models import Record, RecordPhoto, Supersession, VerdictChange
from commissioning.pages.record_forms import FORMS
from commissioning.pages.render.marks import outcome
from portfolio.dashboards.words import moment, requirement_in_words
from portfolio.models import Blob, Person, Position

PAGE_SIZE = 25
_FORMS = frozenset(form.kind for form in FORMS)
CHANGES_SHOWN = 25
PHOTOS_SHOWN = 60


@dataclass(frozen=True)
class Line:
    client_id: str
    what: str
    form: str  # on which it can be recorded again
    observed: str
    received: str
    by: str
    superseded: str  # why it no longer stands
    problems: list[Mapping[str, Any]]
    sha256: str


@dataclass(frozen=True)
class RecordsPage:
    lines: list[Line]
    number: int
    pages: int
    total: int


def page(unit: Position, zone: str, number: str, not_final: Collection[str] = ()) -> RecordsPage:
    """`not_final`: those that were sent as final and count as preliminary."""
    rows = Record.objects.filter(position=unit).order_by("-observed_at", "-pk")
    total = rows.count()
    pages = max(1, -(-total // PAGE_SIZE))
    at = min(int(number), pages) if number.isascii() and number.isdigit() and 0 < len(number) < 7 else 1
    start = (max(at, 1) - 1) * PAGE_SIZE
    return RecordsPage(
        _lines(list(rows[start : start + PAGE_SIZE].select_related("submission")), zone, not_final), at, pages, total
    )


def needing_attention(unit: Position, zone: str) -> list[Line]:
    """Records that were kept and cannot be evaluated, as long as nobody corrected them."""
    rows = (
        Record.objects.filter(position=unit, needs_attention=True).order_by("-observed_at").select_related("submission")
    )
    return [line for line in _lines(list(rows[:PAGE_SIZE]), zone) if not line.superseded]


def _lines(records: list[Record], zone: str, not_final: Collection[str] = ()) -> list[Line]:
    names = {p.pk: p.name for p in Person.objects.filter(pk__in={r.observed_by for r in records})}
    ids = [r.submission.client_id for r in records]
    reasons = dict(Supersession.objects.filter(names__in=ids).values_list("names", "reason"))
    return [
        Line(
            client_id=str(record.submission.client_id),
            what=_what(record, is_counted=str(record.submission.client_id) not in not_final),
            form=record.kind if record.kind in _FORMS else "airflow",
            observed=moment(record.observed_at, zone),
            received=moment(record.submission.received_at, zone),
            by=names.get(record.observed_by, "somebody no longer named"),
            superseded=reasons.get(record.submission.client_id, ""),
            problems=record.problems,
            sha256=record.submission.sha256,
        )
        for record in records
    ]


@dataclass(frozen=True)
class Taken:
    """A photo that a record names; `here` once its bytes have arrived."""

    sha256: str
    caption: str
    what: str
    observed: str
    here: bool


def photos(unit: Position, zone: str) -> list[Taken]:
    """The newest first; those of superseded records too, since a photo shows what was there."""
    rows = (
        RecordPhoto.objects.filter(record__position=unit)
        .select_related("record")
        .order_by("-record__observed_at", "pk")
    )
    held = list(rows[:PHOTOS_SHOWN])
    here = set(Blob.objects.filter(pk__in={one.sha256 for one in held}).values_list("pk", flat=True))
    return [
        Taken(one.sha256, one.caption, _what(one.record), moment(one.record.observed_at, zone), one.sha256 in here)
        for one in held
    ]


def _what(record: Record, *, is_counted: bool = True) -> str:
    if record.kind in ("checklist", "startup", "trend"):  # no session is theirs
        return KINDS[record.kind].TITLE.lower()
    stage = stage_of(is_final=record.is_final, is_counted=is_counted)
    session = f", session {record.session}" if record.session else ""
    return f"{record.kind.replace('_', ' ')}, {stage}{session}"


def changes(unit: Position, zone: str) -> list[tuple[str, str, SafeString, SafeString]]:
    rows = VerdictChange.objects.filter(position=unit).exclude(before="").order_by("-pk")[:CHANGES_SHOWN]
    return [
        (
            moment(row.at, zone),
            ", ".join(filter(None, (requirement_in_words(row.requirement), place_of(row.port, [row.requirement])))),
            outcome(row.before) if row.before else SafeString("nothing"),
            outcome(row.after) if row.after else SafeString("nothing"),
        )
        for row in rows
    ]
