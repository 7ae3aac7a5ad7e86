"""Making and revoking device tokens. The secret is told once and never kept."""

import secrets
from datetime import timedelta
from uuid import UUID

from django.utils import timezone

from portfolio.door.authentication import PREFIX, digest_of
from portfolio.door.problems import Problem
from portfolio.models import DeviceToken, Person, Project

LONGEST_DAYS = 400


def make(
    *,
    person: Person,
    label: str,
    scope: str,
    days: int = 90,
    project: Project | None = None,
    made_with: DeviceToken | None = None,
) -> tuple[DeviceToken, str]:
    """A new token and its secret. A token that is limited to a project cannot make one that is not."""
    if not 1 <= days <= LONGEST_DAYS:
        raise Problem(400, "invalid", "The request has faults", f"A token lives 1 to {LONGEST_DAYS} days.")
    limit = made_with.project_id if made_with else None
    if limit is not None and (project is None or project.pk != limit):
        raise Problem(403, "forbidden", "Not allowed", "A token limited to a project makes only such tokens.")
    secret = PREFIX + secrets.token_urlsafe(32)
    token = DeviceToken.objects.create(
        person=person,
        label=label,
        scope=scope,
        project=project,
        digest=digest_of(secret),
        expires_at=timezone.now() + timedelta(days=days),
    )
    return token, secret


def revoke(*, person: Person, token_id: UUID) -> bool:
    """Whether there was a live one to revoke; it is refused from the next request on."""
    live = DeviceToken.objects.filter(pk=token_id, person=person, revoked_at__isnull=True)
    return live.update(revoked_at=timezone.now()) == 1
