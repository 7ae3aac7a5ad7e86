"""Who did what: one row, in the caller's transaction, so that neither exists without the other."""

from typing import Any
from uuid import UUID

from django.db import models
from django.http import HttpRequest
from rest_framework.request import Request

from portfolio.models import AuditEvent, DeviceToken, Person


def note(
    *,
    request: Request | HttpRequest | None,
    person: Person | None,
    verb: str,
    obj: models.Model,
    project_id: UUID | None = None,
    detail: dict[str, Any] | None = None,
) -> AuditEvent:
    """Write down an act. Names of people never go into `detail`: the audit names them by id.

    Control characters cannot forge a line: `detail` is JSON, and the verb is one of our own words.
    """
    token = getattr(request, "auth", None)
    return AuditEvent.objects.create(
        person_id=person.pk if person else None,
        token_id=token.pk if isinstance(token, DeviceToken) else None,
        request_id=request.META.get("ventfolio.request_id", "") if request else "",
        verb=verb,
        object_type=obj._meta.label_lower,
        object_id=str(obj.pk),
        project_id=project_id,
        detail=detail or {},
    )
