"""Who is asking: a device by its token, or a browser by its session (then with CSRF)."""

import hashlib
import re
from datetime import timedelta
from typing import Any

from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.middleware.csrf import CsrfViewMiddleware
from django.utils import timezone
from rest_framework import exceptions
from rest_framework.authentication import BaseAuthentication
from rest_framework.request import Request

from portfolio.models import DeviceToken, Person
from portfolio.models.prepared import Prepared

PREFIX = "vfd_"
_SHAPE = re.compile(r"vfd_[A-Za-z0-9_-]{43,128}\Z")
_USED_AGAIN_AFTER = timedelta(minutes=1)
_BY_DIGEST = Prepared(lambda digest: DeviceToken.objects.select_related("person").filter(digest=digest), str)


def digest_of(secret: str) -> str:
    """SHA-256 suffices: the secret has 256 random bits, so there is nothing to guess slowly."""
    return hashlib.sha256(secret.encode()).hexdigest()


class DeviceTokenAuthentication(BaseAuthentication):
    def authenticate(self, request: Request) -> tuple[Person, DeviceToken] | None:
        header = request.META.get("HTTP_AUTHORIZATION", "")
        if not header:
            return None
        scheme, _, secret = header.partition(" ")
        if scheme.lower() != "bearer" or not _SHAPE.match(secret):
            raise exceptions.AuthenticationFailed("This is not a device token.", "token_refused")
        token: DeviceToken | None = next(iter(_BY_DIGEST(digest_of(secret))), None)
        if token is None or not token.person.is_active:
            raise exceptions.AuthenticationFailed("No such device token.", "token_refused")
        now = timezone.now()
        if token.revoked_at is not None:
            raise exceptions.AuthenticationFailed("This device token was revoked.", "token_revoked")
        if token.expires_at <= now:
            raise exceptions.AuthenticationFailed("This device token has expired.", "token_expired")
        _mark_used(token)
        person = token.person
        person.only_project = token.project_id
        return person, token

    def authenticate_header(self, request: Request) -> str:
        return 'Bearer realm="ventfolio"'


def _mark_used(token: DeviceToken) -> None:
    """At most once a minute, and by one statement: reading must not queue for the database's one writer."""
    now = timezone.now()
    if token.last_used_at is not None and token.last_used_at > now - _USED_AGAIN_AFTER:
        return
    stale = Q(last_used_at__isnull=True) | Q(last_used_at__lte=now - _USED_AGAIN_AFTER)
    DeviceToken.objects.filter(stale, pk=token.pk).update(last_used_at=now)


class _Check(CsrfViewMiddleware):
    def _reject(self, request: HttpRequest, reason: str) -> HttpResponse:
        raise exceptions.PermissionDenied(f"CSRF: {reason}", "csrf_failed")


def _unused(request: HttpRequest) -> HttpResponse:
    return HttpResponse()


class SessionAuthentication(BaseAuthentication):
    """For our own pages. The check gets Django's request, so that it never reads a body that is not a form."""

    def authenticate(self, request: Request) -> tuple[Person, None] | None:
        inner: Any = request._request
        person = getattr(inner, "user", None)
        if not isinstance(person, Person) or not person.is_active:
            return None
        check = _Check(_unused)
        check.process_request(inner)
        check.process_view(inner, _unused, (), {})
        return person, None
