"""The door: what is not declared, not signed in or not readable is refused, always as a problem document."""

import base64
import hashlib
import json
from datetime import timedelta
from io import BytesIO
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from portfolio.door import tokens
from portfolio.door.authentication import digest_of
from portfolio.models import AuditEvent, DeviceToken, Owner
from tests.cast import Actor, Cast

pytestmark = pytest.mark.django_db


def problem(response: Any, status: int, code: str) -> dict[str, Any]:
    assert response.status_code == status, response.content
    assert response["Content-Type"] == "application/problem+json"
    document: dict[str, Any] = response.json()
    assert document["status"] == status
    assert document["code"] == code
    assert document["request_id"] == response["X-Request-ID"]
    return document


def lead(cast: Cast) -> Actor:
    return cast.actor("own", "lead")


def owners(cast: Cast) -> str:
    return f"firms/{cast.things['firm'].pk}/owners"


# --- who ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "header", ["Bearer", "Bearer x", "Basic abc", "Bearer vfd_short", "Bearer vfd_" + "x" * 43, "vfd_" + "x" * 43]
)
def test_what_is_no_token_is_401(header: str) -> None:
    response = Client().get("/api/v1/me", headers={"Authorization": header})
    problem(response, 401, "token_refused")
    assert response["WWW-Authenticate"].startswith("Bearer")


def test_nobody_is_401_before_405_and_404(cast: Cast) -> None:
    anonymous = cast.actor("anonymous", "")
    problem(anonymous.call("PUT", "me"), 401, "not_authenticated")
    problem(anonymous.call("GET", f"positions/{cast.things['position'].pk}"), 401, "not_authenticated")


def test_a_token_is_kept_only_as_a_digest_and_dies_when_revoked_or_old(cast: Cast) -> None:
    actor = lead(cast)
    token = DeviceToken.objects.get(digest=digest_of(actor.secret))
    assert actor.secret not in json.dumps(list(DeviceToken.objects.values_list("digest", "label")))
    assert actor.call("GET", "me").status_code == 200
    DeviceToken.objects.filter(pk=token.pk).update(expires_at=timezone.now() - timedelta(seconds=1))
    problem(actor.call("GET", "me"), 401, "token_expired")
    DeviceToken.objects.filter(pk=token.pk).update(expires_at=timezone.now() + timedelta(days=1))
    assert actor.call("DELETE", f"tokens/{token.pk}").status_code == 204
    problem(actor.call("GET", "me"), 401, "token_revoked")


def test_last_use_is_written_at_most_once_a_minute(cast: Cast, django_assert_num_queries: Any) -> None:
    actor = lead(cast)
    actor.call("GET", "me")
    first = DeviceToken.objects.get(digest=digest_of(actor.secret)).last_used_at
    assert first is not None
    actor.call("GET", "me")
    assert DeviceToken.objects.get(digest=digest_of(actor.secret)).last_used_at == first
    DeviceToken.objects.update(last_used_at=first - timedelta(seconds=61))
    actor.call("GET", "me")
    assert DeviceToken.objects.get(digest=digest_of(actor.secret)).last_used_at > first - timedelta(seconds=61)  # type: ignore[operator]


def test_an_inactive_persons_token_is_refused(cast: Cast) -> None:
    actor = lead(cast)
    assert actor.person is not None
    actor.person.is_active = False
    actor.person.save()
    problem(actor.call("GET", "me"), 401, "token_refused")


@pytest.mark.parametrize(
    ("scope", "path", "status"),
    [
        ("read", "me", 200),
        ("submit", "me", 200),
        ("read", "tokens", 403),
        ("submit", "tokens", 403),
        ("act", "tokens", 201),
    ],
)
def test_the_tokens_scope_bounds_what_its_person_may(cast: Cast, scope: str, path: str, status: int) -> None:
    _, secret = tokens.make(person=cast.person("own", "lead"), label="x", scope=scope)
    actor = Actor("own", "lead", None, secret)
    body = {"label": "more", "scope": "act"} if path == "tokens" else None
    response = actor.call("GET" if body is None else "POST", path, body)
    assert response.status_code == status
    if status == 403:
        assert "nothing more" in problem(response, 403, "forbidden")["detail"]


def test_a_token_limited_to_a_project_shows_and_makes_only_that(cast: Cast) -> None:
    _, secret = tokens.make(person=cast.person("own", "lead"), label="x", scope="act", project=cast.things["project"])
    actor = Actor("own", "lead", None, secret)
    text = b"".join(actor.call("GET", path).content for path in ("projects", "positions", "buildings", "people"))
    assert cast.canaries["p1"].encode() in text
    assert cast.canaries["p2"].encode() not in text
    assert actor.call("GET", f"positions/{cast.things['other_position'].pk}").status_code == 404
    problem(actor.call("POST", "tokens", {"label": "wide", "scope": "act"}), 403, "forbidden")
    narrow = {"label": "narrow", "scope": "act", "project": str(cast.things["project"].pk)}
    assert actor.call("POST", "tokens", narrow).status_code == 201


def test_a_session_needs_the_csrf_token(cast: Cast) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(cast.person("own", "lead"))
    assert client.get("/api/v1/me").status_code == 200
    refused = client.post(f"/api/v1/{owners(cast)}", {"name": "X"}, content_type="application/json")
    problem(refused, 403, "csrf_failed")
    client.cookies["csrf"] = "a" * 32
    allowed = client.post(
        f"/api/v1/{owners(cast)}", {"name": "X"}, content_type="application/json", headers={"X-CSRFToken": "a" * 32}
    )
    assert allowed.status_code == 201


# --- what --------------------------------------------------------------------------------------------------------


def test_an_undeclared_method_is_405(cast: Cast) -> None:
    for method in ("PUT", "DELETE", "OPTIONS", "TRACE"):
        response = lead(cast).call(method, "me")
        problem(response, 405, "method_not_allowed")
        assert set(response["Allow"].split(", ")) == {"GET", "HEAD"}


@pytest.mark.parametrize("path", ["/api/v1/nothing", "/api/v1/positions/not-a-uuid", "/api/nothing"])
def test_unknown_routes_under_api_are_problems_too(path: str) -> None:
    problem(Client().get(path), 404, "not_found")


def test_a_fault_of_ours_tells_its_request_id_and_nothing_else(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: Any) -> None:
        raise RuntimeError("the secret of the trade")

    monkeypatch.setattr("portfolio.api.people.MeView.allow", broken)
    response = Client(raise_request_exception=False).get("/api/v1/me", headers=lead(cast).headers)
    problem(response, 500, "fault")
    assert b"secret" not in response.content


def test_a_view_that_forgets_to_ask_does_not_answer(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    from rest_framework.response import Response

    monkeypatch.setattr("portfolio.api.people.MeView.get", lambda self, request: Response({"all": "told"}))
    response = Client(raise_request_exception=False).get("/api/v1/me", headers=lead(cast).headers)
    problem(response, 500, "fault")
    assert b"told" not in response.content


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        (b'{"name": NaN}', "/name"),
        (b'{"name": "a", "name": "b"}', "/name"),
        (b'{"name": 1e999}', "/name"),
        (b'{"name": "a\\u0000b"}', "/name"),
        (b'{"name": "\\ud800"}', "/name"),
        (b'{"\\ud800": 1}', "/\\ud800"),
        (b"[" * 100_000, ""),
        (b'{"name": ', ""),
        (b"\xff\xfe", ""),
    ],
)
def test_what_is_not_strict_json_is_400_and_says_where(cast: Cast, body: bytes, pointer: str) -> None:
    document = problem(lead(cast).call("POST", owners(cast), body), 400, "unreadable")
    assert document["errors"][0]["pointer"] == pointer
    assert document["errors"][0]["remedy"]
    assert Owner.objects.filter(firm=cast.things["firm"]).count() == 2


@pytest.mark.parametrize(
    ("body", "pointer", "code"),
    [
        ({"name": "X", "id": "5"}, "/id", "unknown_field"),
        ({}, "/name", "required"),
        ({"name": None}, "/name", "null"),
        ({"name": " "}, "/name", "blank"),
        ({"name": 5}, "/name", "invalid"),
        ({"name": True}, "/name", "invalid"),
        ({"name": "a\u202eb"}, "/name", "control"),
        ({"name": "a\nb"}, "/name", "control"),
        ({"name": "x" * 201}, "/name", "max_length"),
        ([], "", "invalid"),
        ("text", "", "invalid"),
    ],
)
def test_a_bad_field_is_named_with_value_and_remedy(cast: Cast, body: Any, pointer: str, code: str) -> None:
    document = problem(lead(cast).call("POST", owners(cast), body), 400, "invalid")
    error = document["errors"][0]
    assert (error["pointer"], error["code"]) == (pointer, code)
    if isinstance(body, dict) and body.get("id"):
        assert error["value"] == "5"
        assert error["remedy"]


def test_other_content_types_are_415(cast: Cast) -> None:
    response = Client().post(f"/api/v1/{owners(cast)}", {"name": "X"}, headers=lead(cast).headers)
    problem(response, 415, "unsupported_media_type")


def test_too_large_and_cut_short_bodies(cast: Cast) -> None:
    problem(lead(cast).call("POST", owners(cast), b" " * (1024 * 1024 + 1)), 413, "too_large")
    cut: Any = {"CONTENT_LENGTH": "10", "wsgi.input": BytesIO(b"{}")}
    short = Client().generic(
        "POST", f"/api/v1/{owners(cast)}", b"{}", "application/json", headers=lead(cast).headers, **cut
    )
    problem(short, 400, "cut_short")


def test_the_content_digest_is_compared(cast: Cast) -> None:
    body = json.dumps({"name": "Digested"}).encode()
    good = base64.b64encode(hashlib.sha256(body).digest()).decode()
    bad = base64.b64encode(hashlib.sha256(body + b" ").digest()).decode()

    def send(value: str) -> Any:
        return lead(cast).call("POST", owners(cast), body, headers={"Content-Digest": value})

    problem(send(f"sha-256=:{bad}:"), 400, "digest_mismatch")
    problem(send("sha-256=nonsense"), 400, "digest_unreadable")
    problem(send("sha-256=:!!:"), 400, "digest_unreadable")
    assert send(f"sha-512=:AAAA:, sha-256=:{good}:").status_code == 201


def test_what_is_there_already_is_409_with_its_id(cast: Cast) -> None:
    made = lead(cast).call("POST", owners(cast), {"name": "Twice"}).json()
    document = problem(lead(cast).call("POST", owners(cast), {"name": "Twice"}), 409, "exists")
    assert document["id"] == made["id"]


def test_every_write_is_audited_with_person_token_and_request(cast: Cast) -> None:
    before = AuditEvent.objects.count()
    response = lead(cast).call("POST", owners(cast), {"name": "Audited"})
    event = AuditEvent.objects.get(object_id=response.json()["id"])
    assert AuditEvent.objects.count() == before + 1
    assert (event.verb, event.object_type) == ("edit_portfolio", "portfolio.owner")
    assert event.person_id == cast.person("own", "lead").pk
    assert event.token_id == DeviceToken.objects.get(digest=digest_of(lead(cast).secret)).pk
    assert event.request_id == response["X-Request-ID"]


def test_answers_are_not_kept_by_anyone_between(cast: Cast) -> None:
    assert lead(cast).call("GET", "me")["Cache-Control"] == "no-store"
