"""What was designed: numbered revisions, each naming only what it names, folded into what holds now."""

import uuid
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from django.db import models

from portfolio.models.blobs import Blob
from portfolio.models.parties import Project
from portfolio.models.places import Position
from portfolio.models.reach import Scope

if TYPE_CHECKING:
    from portfolio.models.people import Person


class DesignRevision(models.Model):
    class Source(models.TextChoices):
        DESIGN = "design", "design"
        ADDENDUM = "addendum", "addendum"
        ANSWER = "answer", "answer to a question"
        SUBMITTAL = "submittal", "approved submittal"

    PRECEDENCE = {Source.DESIGN: 0, Source.ADDENDUM: 1, Source.ANSWER: 2, Source.SUBMITTAL: 3}

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="revisions")
    number = models.PositiveIntegerField()
    dated = models.DateField()
    source = models.CharField(max_length=20, choices=Source.choices)
    title = models.CharField(max_length=200, blank=True)
    partial = models.BooleanField(default=False)
    blob = models.ForeignKey(Blob, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    applied_at = models.DateTimeField(auto_now_add=True)
    applied_by = models.ForeignKey("portfolio.Person", on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["project", "number"], name="revision_number_once")]

    def __str__(self) -> str:
        return f"Revision {self.number}, {self.get_source_display()}, {self.dated}"

    def access_scope(self) -> Scope:
        return self.project.access_scope()


class DesignEntry(models.Model):
    """What one revision says about one position: a part of the dossier's ``design``, only the fields it names.

    A field named as ``null`` is *not given* from then on; a field not named keeps what earlier revisions said.
    """

    revision = models.ForeignKey(DesignRevision, on_delete=models.CASCADE, related_name="entries")
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="design_entries")
    fields = models.JSONField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["revision", "position"], name="one_entry_per_revision")]

    def __str__(self) -> str:
        return f"{self.position} in {self.revision}"


GROUPS = ("ports", "fans", "outlets", "rooms", "exchangers", "pressures", "equipment")
"""What a design speaks of: each group holds parts by name, each part holds fields."""


def fold(entries: Iterable[tuple[tuple[Any, ...], str, dict[str, Any]]]) -> dict[str, Any]:
    """The design that holds, from ``(order, source text, fields)`` of each entry.

    Later date wins; on one date the higher precedence; then the higher number: that is the order's meaning.
    Each part carries ``sources``: the revision that each of its fields comes from.

    >>> fold([((1,), "Revision 1", {"ports": {"supply": {"basis": "standard"}}})])
    {'ports': {'supply': {'basis': 'standard', 'sources': {'basis': 'Revision 1'}}}, 'fans': {}}
    """
    design: dict[str, Any] = {"ports": {}, "fans": {}}
    for _, source, fields in sorted(entries, key=lambda entry: entry[0]):
        for group in GROUPS:
            for name, values in fields.get(group, {}).items():
                held = design.setdefault(group, {}).setdefault(name, {"sources": {}})
                for field, value in values.items():
                    held[field] = value
                    held["sources"][field] = source
    return design


def fold_entries(entries: Iterable[DesignEntry]) -> dict[str, Any]:
    """`fold` over rows that were read with their revision."""
    return fold((order_of(entry.revision), str(entry.revision), entry.fields) for entry in entries)


def order_of(revision: DesignRevision) -> tuple[str, int, int]:
    precedence = DesignRevision.PRECEDENCE[DesignRevision.Source(revision.source)]
    return (revision.dated.isoformat(), precedence, revision.number)


class DesignImportQuerySet(models.QuerySet["DesignImport"]):
    def visible_to(self, person: "Person") -> "DesignImportQuerySet":
        return self.filter(project__in=Project.objects.visible_to(person).values("id"))


class DesignImport(models.Model):
    """A schedule that was read and not yet applied: the dry run, kept so that a person can think about it."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="imports")
    blob = models.ForeignKey(Blob, on_delete=models.PROTECT, related_name="+")
    file_name = models.CharField(max_length=255)
    choices = models.JSONField(default=dict)
    understanding = models.JSONField(default=dict)
    revision = models.ForeignKey(
        DesignRevision, null=True, blank=True, on_delete=models.PROTECT, related_name="imports"
    )
    made_at = models.DateTimeField(auto_now_add=True)
    made_by = models.ForeignKey("portfolio.Person", on_delete=models.PROTECT, related_name="+")

    objects = DesignImportQuerySet.as_manager()

    def __str__(self) -> str:
        return self.file_name

    def access_scope(self) -> Scope:
        return self.project.access_scope()
