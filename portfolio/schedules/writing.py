"""A revision written straight in, without a schedule's file: each entry says only what changes."""

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Max

from portfolio.jobs import queue
from portfolio.models import DesignEntry, DesignRevision, Person, Project
from portfolio.schedules.plan import Heading


def write(
    *, project: Project, person: Person, heading: Heading, entries: Mapping[UUID, Mapping[str, Any]]
) -> DesignRevision:
    """Make a partial revision of these positions' fields, and want a judging for each of them."""
    with transaction.atomic():
        Project.objects.select_for_update().get(pk=project.pk)
        top = DesignRevision.objects.filter(project=project).aggregate(top=Max("number"))["top"] or 0
        revision = DesignRevision.objects.create(
            project=project,
            number=top + 1,
            dated=heading.dated,
            source=heading.source,
            title=heading.title,
            partial=True,
            applied_by=person,
        )
        DesignEntry.objects.bulk_create(
            DesignEntry(revision=revision, position_id=position, fields=fields) for position, fields in entries.items()
        )
        queue.want("judge", entries)
        return revision
