"""Links by which a company answers its list without an account. The secret is told once; a digest is kept."""

import hashlib
import secrets
from datetime import timedelta

from django.db.models import Q, QuerySet
from django.utils import timezone

from commissioning.models import AnswerLink, Issue
from portfolio.models import Company, Person, Project

DAYS = 21


def make(*, project: Project, company: Company, person: Person, days: int = DAYS) -> tuple[AnswerLink, str]:
    secret = secrets.token_urlsafe(32)
    link = AnswerLink.objects.create(
        project=project,
        company=company,
        made_by=person,
        digest=_digest(secret),
        expires_at=timezone.now() + timedelta(days=days),
    )
    return link, secret


def find(secret: str) -> AnswerLink | None:
    """The link of this secret while it lasts, and while the company is still party to the project."""
    link = (
        AnswerLink.objects.select_related("project", "company", "made_by")
        .filter(digest=_digest(secret), revoked_at__isnull=True, expires_at__gt=timezone.now())
        .first()
    )
    if link is None or not link.project.parties.filter(pk=link.company_id).exists():
        return None
    return link


def issues_of(link: AnswerLink) -> QuerySet[Issue]:
    """What this link may see: issues released to its company in its project."""
    released = ~Q(state__in=[Issue.State.DRAFT, Issue.State.DROPPED, Issue.State.MERGED])
    return Issue.objects.filter(released, project=link.project_id, company=link.company_id)


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


def revoke(link: AnswerLink) -> None:
    AnswerLink.objects.filter(pk=link.pk, revoked_at__isnull=True).update(revoked_at=timezone.now())
