"""The matrix: every line of the policy, asked by every actor of the cast, and what was wrong with the answers."""

import json
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django.apps import apps
from django.conf import settings
from django.db import connection, transaction
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver
from django.utils import timezone

from portfolio.door.views import DoorView
from portfolio.models import DeviceToken, LoginTries
from tests.architecture import (  # noqa: F401  (their lines)
    policy_binders,
    policy_evidence,
    policy_pages,
    policy_samples,
    policy_settings,
    policy_trends,
)
from tests.architecture.policy import LINES, Line
from tests.cast import Actor, Cast


@dataclass(frozen=True)
class Route:
    path: str
    view: Any  # the view class, or the function

    @property
    def methods(self) -> set[str]:
        if isinstance(self.view, type) and issubclass(self.view, DoorView):
            return set(self.view.verbs) or {"GET"}
        if isinstance(self.view, type):
            return {m for m in ("GET", "POST", "PUT", "PATCH", "DELETE") if hasattr(self.view, m.lower())}
        return set(getattr(self.view, "methods", {"GET"}))


def routes(patterns: Iterable[Any] | None = None, prefix: str = "") -> Iterator[Route]:
    """All that the server answers to."""
    for pattern in get_resolver().url_patterns if patterns is None else patterns:
        path = prefix + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            yield from routes(pattern.url_patterns, path)
        elif isinstance(pattern, URLPattern):
            view = getattr(pattern.callback, "cls", None) or getattr(pattern.callback, "view_class", pattern.callback)
            yield Route(path, view)


def unlisted() -> set[str]:
    """Methods of routes without a line, and lines without a route."""
    served = {f"{method} {route.path}" for route in routes() for method in route.methods}
    listed = {f"{line.method} {line.route}" for line in LINES}
    return {f"no line: {one}" for one in served - listed} | {f"no route: {one}" for one in listed - served}


def faults(cast: Cast, lines: Iterable[Line] = LINES, relations: Iterable[str] | None = None) -> Iterator[str]:
    """Each wrong answer in words. Every request is rolled back, so that none sees what another did."""
    sessions = _signed_in(cast)
    before = _kept()
    for line in lines:
        for actor in cast.actors:
            if relations is not None and actor.relation not in relations:
                continue
            with transaction.atomic():
                with _writing() as written:
                    response = _ask(cast, line, actor, sessions)
                is_refused = line.method != "GET" and line.expected(actor) != line.ok
                after = _kept() if is_refused and written else before
                transaction.set_rollback(True)
            where = f"{actor.name}: {line.method} {line.route}"
            yield from (f"{where}: {fault}" for fault in _wrong(cast, line, actor, response))
            if after != before:
                yield f"{where}: refused, and yet it changed {[name for name in before if before[name] != after[name]]}"


def _signed_in(cast: Cast) -> dict[str, str]:
    """The session of each person, opened once; their tokens count as used, so that reading writes nothing."""
    DeviceToken.objects.update(last_used_at=timezone.now() + timedelta(days=1))
    sessions = {}
    for actor in cast.actors:
        if actor.person:
            client = Client()
            client.force_login(actor.person)
            sessions[actor.name] = client.cookies[settings.SESSION_COOKIE_NAME].value
    return sessions


@contextmanager
def _writing() -> Iterator[list[str]]:
    """The statements that are no mere reading: where there is none, no row can have changed."""
    written: list[str] = []

    def watch(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        if not sql.lstrip().upper().startswith(_READING):
            written.append(sql)
        return execute(sql, params, many, context)

    with connection.execute_wrapper(watch):
        yield written


_READING = ("SELECT ", "SAVEPOINT ", "RELEASE SAVEPOINT ", "ROLLBACK TO SAVEPOINT ")


def _ask(cast: Cast, line: Line, actor: Actor, sessions: dict[str, str]) -> Any:
    client = Client(raise_request_exception=True)
    headers = dict(line.headers(cast) if callable(line.headers) else line.headers or {})
    if line.is_page and actor.person:
        client.cookies[settings.SESSION_COOKIE_NAME] = sessions[actor.name]
    else:
        headers |= actor.headers
    if line.content is not None:
        content = line.content(cast)
    else:
        body = line.body(cast) if callable(line.body) else line.body
        content = b"" if body is None else json.dumps(body).encode()
    return client.generic(line.method, _url(cast, line, actor), content, line.content_type, headers=headers)


def _url(cast: Cast, line: Line, actor: Actor) -> str:
    parts = []
    for part in line.route.split("/"):
        if part.startswith("<"):
            given = line.params[part.strip("<>").rpartition(":")[2]]
            part = str(given(cast, actor) if callable(given) else cast.things[given].pk)
        parts.append(part)
    return "/" + "/".join(parts)


def _wrong(cast: Cast, line: Line, actor: Actor, response: Any) -> Iterator[str]:
    wanted = line.expected(actor)
    text = _text(response)
    if response.status_code != wanted:
        yield f"{response.status_code} instead of {wanted}: {text[:300]}"
        return
    if wanted >= 400 and not line.is_page and response["Content-Type"] != "application/problem+json":
        yield f"the refusal is {response['Content-Type']}"
    if wanted == 403 and not line.is_page and not response.json()["detail"].strip():
        yield "403 without a reason"
    met = {region for region, canary in cast.canaries.items() if canary in text}
    secret = {region for region, canary in cast.canaries.items() if canary in cast.forbidden(actor)}
    if met & secret:
        yield f"it tells of {sorted(met & secret)}"
    if wanted == line.ok and line.shows and cast.canaries[line.shows] in cast.known(actor) and line.shows not in met:
        yield f"it does not show {line.shows}"


def _text(response: Any) -> str:
    body = b"".join(response.streaming_content) if response.streaming else response.content
    return f"{body.decode('utf-8', 'replace')}\n" + "\n".join(f"{k}: {v}" for k, v in response.items())


def _kept() -> dict[str, Any]:
    """All rows of both apps, but for when a token or a password was last used, and how often somebody has asked."""
    kept = {}
    for app in ("portfolio", "commissioning"):
        for model in apps.get_app_config(app).get_models(include_auto_created=True):
            if model is LoginTries:
                continue
            fields = [f.attname for f in model._meta.concrete_fields if f.attname not in ("last_used_at", "last_login")]
            rows = model._default_manager.values_list(*fields)
            kept[model._meta.label] = sorted(repr(row) for row in rows)
    return kept
