"""The lead signs for a unit; what changes a verdict afterwards makes the signature void, and every list says so."""

import re

import pytest
from django.db import DatabaseError, transaction

from commissioning import standing
from commissioning.models import Signature
from commissioning.verdicts import keep
from portfolio.models import AuditEvent, Job, Standing
from tests.pages.conftest import Browser
from tests.pages.reading import text
from tests.pages.world import World

pytestmark = pytest.mark.django_db


def offered(firm: World, browser: Browser, tag: str) -> str:
    body = browser("lead").get(f"/units/{firm.units[tag].pk}").content.decode()
    found = re.search(r'name="of" value="([0-9a-f]{64})"', body)
    return found[1] if found else ""


def sign(firm: World, browser: Browser, tag: str, of: str, who: str = "lead") -> int:
    """Found again by whom it concerns: the status of the answer."""
    return browser(who).post(f"/units/{firm.units[tag].pk}/sign", {"of": of, "note": "Seen on site."}).status_code


def code(firm: World, tag: str) -> str:
    return Standing.objects.get(pk=firm.units[tag].pk).code


def test_the_lead_signs_for_what_the_page_shows_and_lists_say_so(firm: World, browser: Browser) -> None:
    of = offered(firm, browser, "ERV-1")
    assert sign(firm, browser, "ERV-1", of) == 303
    kept = Signature.objects.get()
    assert (kept.number, kept.sha256, kept.signed_by_id) == (1, of, firm.people["lead"].pk)
    assert AuditEvent.objects.filter(verb="sign_unit", person_id=firm.people["lead"].pk).count() == 1
    with pytest.raises(DatabaseError, match="never changed"), transaction.atomic():
        Signature.objects.update(note="")

    assert code(firm, "ERV-1") == "signed"
    said = text(browser("owner").get(f"/units/{firm.units['ERV-1'].pk}"))
    assert "1. Signed by Maren Tollefsby, " in said
    assert "with the note “Seen on site.”. It stands." in said
    listed = text(browser("lead").get("/"))
    assert "One of eight units is signed. Three more can be signed." in listed
    assert "One of five units is signed." in text(browser("owner").get("/"))
    assert offered(firm, browser, "ERV-1") == ""


def test_a_form_that_is_sent_twice_signs_once_and_nobody_signs_over_it(firm: World, browser: Browser) -> None:
    of = offered(firm, browser, "ERV-1")
    assert [sign(firm, browser, "ERV-1", of) for _ in range(2)] == [303, 303]
    assert Signature.objects.count() == 1
    assert AuditEvent.objects.filter(verb="sign_unit").count() == 1
    other = browser("lead").post(f"/units/{firm.units['ERV-1'].pk}/sign", {"of": of, "note": "Other words."})
    assert other.status_code == 409
    assert "This unit is signed for, and nothing has changed since." in text(other)
    assert Signature.objects.count() == 1


def test_a_later_reading_that_changes_a_verdict_makes_it_void_and_it_is_signed_again(
    firm: World, browser: Browser
) -> None:
    first = offered(firm, browser, "ERV-1")
    sign(firm, browser, "ERV-1", first)
    firm.measured("ERV-1", {"supply": 1020}, at="2026-06-02T10:00:00-06:00", name="ERV-1 once more", session="AL-2")
    firm.judged()
    assert code(firm, "ERV-1") == "signable"
    assert "is void, since this changed:" in Standing.objects.get(pk=firm.units["ERV-1"].pk).sentence
    assert "is void, since this changed:" in text(browser("owner").get(f"/units/{firm.units['ERV-1'].pk}"))
    assert "1. Signed" in text(browser("owner").get(f"/units/{firm.units['ERV-1'].pk}"))

    assert sign(firm, browser, "ERV-1", first) == 409  # of what is no longer so
    assert sign(firm, browser, "ERV-1", offered(firm, browser, "ERV-1")) == 303
    assert code(firm, "ERV-1") == "signed"
    assert list(Signature.objects.order_by("number").values_list("number", flat=True)) == [1, 2]


def test_what_is_burnt_and_judged_again_to_the_same_leaves_the_signature_standing(
    firm: World, browser: Browser
) -> None:
    sign(firm, browser, "ERV-1", offered(firm, browser, "ERV-1"))
    unit = firm.units["ERV-1"].pk
    keep.burn([unit])
    Job.objects.filter(kind="judge", subject=unit).update(wanted=99, due=True)
    firm.judged()
    assert (code(firm, "ERV-1"), standing.differences([unit])) == ("signed", [])


def test_what_cannot_be_signed_or_not_by_them_is_refused_with_the_reason(firm: World, browser: Browser) -> None:
    assert offered(firm, browser, "ERV-3") == ""
    refused = browser("lead").post(f"/units/{firm.units['ERV-3'].pk}/sign", {"of": "0" * 64})
    assert refused.status_code == 409
    assert "This unit cannot be signed yet. Garrowby Mechanical has issue" in text(refused)
    of = offered(firm, browser, "ERV-1")
    assert [sign(firm, browser, "ERV-1", of, who) for who in ("technician", "owner", "stranger")] == [403, 403, 404]
    assert sign(firm, browser, "ERV-1", "") == 409
    Job.objects.filter(kind="judge", subject=firm.units["ERV-1"].pk).update(wanted=99, due=True)
    waits = browser("lead").post(f"/units/{firm.units['ERV-1'].pk}/sign", {"of": of})
    assert "A judging of this unit is under way." in text(waits)
    assert not Signature.objects.exists()
