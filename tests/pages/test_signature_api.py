"""Signing by API: the page's own act, for exactly what was read, once however often it is sent."""

import hashlib
import json
from typing import Any

import pytest

from commissioning.models import CurrentVerdict, Signature
from portfolio.models import AuditEvent, Standing
from tests.pages.conftest import Browser, Device
from tests.pages.reading import text
from tests.pages.world import World

pytestmark = pytest.mark.django_db


def path(firm: World, tag: str) -> str:
    return f"positions/{firm.units[tag].pk}/signatures"


def sign(firm: World, device: Device, tag: str, of: str, who: str = "lead", **body: Any) -> Any:
    return device(who).call("POST", path(firm, tag), body, headers={"If-Match": f'"{of}"'} if of else {})


def test_the_lead_reads_what_would_be_signed_and_signs_exactly_that(
    firm: World, device: Device, browser: Browser
) -> None:
    read = device("lead").call("GET", path(firm, "ERV-1"))
    offered = read.json()["signable"]
    assert read["ETag"] == f'"{offered["sha256"]}"'
    written = json.dumps(offered["statement"], sort_keys=True, separators=(",", ":"))
    assert hashlib.sha256(written.encode()).hexdigest() == offered["sha256"]  # anybody's own hash of what was read
    held = CurrentVerdict.objects.filter(position=firm.units["ERV-1"].pk).count()
    assert len(offered["statement"]["judgements"]) == held > 0

    made = sign(firm, device, "ERV-1", offered["sha256"], note="Seen on site.")
    assert made.status_code == 201, made.content
    kept = Signature.objects.get()
    assert (kept.sha256, kept.signed_by_id, kept.note) == (offered["sha256"], firm.people["lead"].pk, "Seen on site.")
    assert made.json()["signed_by"] == str(firm.people["lead"].pk)
    assert AuditEvent.objects.get(verb="sign_unit").token_id is not None
    assert Standing.objects.get(pk=firm.units["ERV-1"].pk).code == "signed"
    page = text(browser("owner").get(f"/units/{firm.units['ERV-1'].pk}"))
    assert "with the note “Seen on site.”. It stands." in page
    (told,) = device("owner").call("GET", path(firm, "ERV-1")).json()["signatures"]
    assert (told["number"], told["stands"], told["state"]) == (1, True, "It stands.")


def test_what_is_sent_again_is_the_signature_that_stands(firm: World, device: Device) -> None:
    of = device("lead").call("GET", path(firm, "ERV-1")).json()["signable"]["sha256"]
    first, again = (sign(firm, device, "ERV-1", of) for _ in range(2))
    assert (again.status_code, again.json()) == (201, first.json())
    assert Signature.objects.count() == AuditEvent.objects.filter(verb="sign_unit").count() == 1
    other = sign(firm, device, "ERV-1", of, note="Other words.")
    assert (other.status_code, other.json()["code"]) == (409, "not_signed")


def test_a_verdict_that_changed_meanwhile_is_412_with_what_holds_now(firm: World, device: Device) -> None:
    of = device("lead").call("GET", path(firm, "ERV-1")).json()["signable"]["sha256"]
    firm.measured("ERV-1", {"supply": 1020}, at="2026-06-02T10:00:00-06:00", name="ERV-1 once more", session="AL-2")
    waits = sign(firm, device, "ERV-1", of)
    assert waits.status_code == 409
    assert waits.json()["detail"] == "A judging of this unit is under way. Look at what it says, then sign."
    firm.judged()
    late = sign(firm, device, "ERV-1", of)
    assert (late.status_code, late.json()["code"]) == (412, "stale")
    assert late.json()["detail"] == "Look at the current state and decide again."
    now = late.json()["current"]["sha256"]
    assert now != of
    assert late["ETag"] == f'"{now}"'
    assert [sign(firm, device, "ERV-1", held).status_code for held in ("", "*")] == [428, 412]
    assert not Signature.objects.exists()
    assert sign(firm, device, "ERV-1", now).status_code == 201


def test_who_may_not_sign_is_told_why_and_sees_no_offer(firm: World, device: Device) -> None:
    of = device("lead").call("GET", path(firm, "ERV-1")).json()["signable"]["sha256"]
    for who, status in (("technician", 403), ("owner", 403), ("stranger", 404)):
        assert sign(firm, device, "ERV-1", of, who).status_code == status
    assert device("owner").call("GET", path(firm, "ERV-1")).json()["signable"] is None
    phone = device("lead", "submit").call("POST", path(firm, "ERV-1"), {}, headers={"If-Match": f'"{of}"'})
    assert phone.status_code == 403
    refused = sign(firm, device, "ERV-3", of)
    assert refused.status_code == 409
    assert "This unit cannot be signed yet. Garrowby Mechanical has issue" in refused.json()["detail"]
    assert not Signature.objects.exists()
