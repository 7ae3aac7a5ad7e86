"""Photos that a person sees: those of the records of units, and of the issues, that the person sees."""

from commissioning.models import Issue, IssueEvent, RecordPhoto
from portfolio.models import Blob, Person, Position


def seen_by(person: Person, sha256: str) -> Blob | None:
    """The photo, if it has arrived and something that the person sees names it."""
    units = Position.objects.visible_to(person).values("pk")
    issues = Issue.objects.visible_to(person).values("pk")
    named = (
        RecordPhoto.objects.filter(sha256=sha256, record__position__in=units).exists()
        or IssueEvent.objects.filter(issue__in=issues, act="add_photo", detail__sha256=sha256).exists()
    )
    return Blob.objects.filter(pk=sha256).first() if named else None
