"""The checklist form: cautions before their items, only what is touched is sent, holds go by those who may lift."""

import json
import re
from io import BytesIO
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.test import Client
from PIL import Image

from commissioning.evidence import remake
from commissioning.evidence.accept import Kept, Sender, accept
from commissioning.models import CurrentVerdict, Issue, Record, RecordPhoto, Submission
from portfolio.jobs import runner
from portfolio.models import Blob, DesignEntry, DesignRevision
from tests import envelopes
from tests.cast import Cast

pytestmark = pytest.mark.django_db(transaction=True)
EQUIPMENT = {"unit": {"options": ["fixed_core", "belt_drive"], "field_sensors": ["smoke_detector"]}}
IDS = iter(f"0b9c63a8-5d55-4f5e-8f8b-3d7a2f7c{n:04d}" for n in range(1000, 9999))


def opened(cast: Cast, who: str = "technician", equipment: dict[str, Any] | None = None) -> tuple[Client, str]:
    place = cast.things["position"]
    if not DesignEntry.objects.filter(position=place).exists():
        revision = DesignRevision.objects.create(
            project=cast.things["project"], number=1, dated="2026-01-05", source="design",
            applied_by=cast.person("own", "lead"),
        )  # fmt: skip
        given = {"equipment": EQUIPMENT if equipment is None else equipment}
        fields = envelopes.design({"supply": 1000.0}) | (given if given["equipment"] else {})
        DesignEntry.objects.create(revision=revision, position=place, fields=fields)
    client = Client()
    client.force_login(cast.person("own", who))
    return client, f"/units/{place.pk}/record/checklist"


def sent(client: Client, url: str, **typed: Any) -> Any:
    at = typed.pop("at", "2026-05-04T10:15:00-06:00")
    fields = {name.replace("__", "-"): value for name, value in typed.items()}
    answer = client.post(url, {"id": next(IDS), "observed_at": at, "display": "ip"} | fields)
    runner.drain()
    return answer


def payload(number: int = -1) -> dict[str, Any]:
    held = [json.loads(bytes(one.raw))["payload"] for one in Submission.objects.order_by("received_at")]
    found: dict[str, Any] = held[number]
    return found


def outcome(cast: Cast, requirement: str) -> str:
    rows = CurrentVerdict.objects.filter(position=cast.things["position"], requirement=requirement)
    return rows.get().outcome


def text(client: Client, url: str) -> str:
    return client.get(url).content.decode()


def jpeg() -> SimpleUploadedFile:
    out = BytesIO()
    Image.new("RGB", (8, 8), "white").save(out, "JPEG")
    return SimpleUploadedFile("plate.jpg", out.getvalue(), "image/jpeg")


def test_cautions_stand_before_the_items_that_they_guard(cast: Cast) -> None:
    page = text(*opened(cast))
    assert page.index("Nothing on this page says that a unit is safe") < page.index('class="fields field"')
    for group, hazard, item in (
        ("wiring", "live parts", "grounded"),
        ("rotation", "rotating parts", "belt_guard"),
        ("safeties", "fire alarm", "smoke_detector_wired"),
    ):
        head = page.index(f'id="g-{group}"')
        assert head < page.index(f"Caution: {hazard}.", head) < page.index(f'id="i-{item}"')


def test_only_what_applies_is_asked_and_every_item_has_its_why_and_how(cast: Cast) -> None:
    client, url = opened(cast)
    page = text(client, url)
    assert 'name="a-core_seated"' in page
    assert 'name="a-belt_guard"' in page
    assert 'name="a-wheel_seals"' not in page
    assert 'name="a-gas_released"' not in page
    assert page.count("Why, how, and what stands in the way") == len(set(re.findall(r'id="i-(\w+)"', page))) > 50
    assert "Wanted: at least 3 ft" in page
    assert not re.search(r'name="a-\w+" value="(?!")[^"]+" checked', page)  # nothing is chosen beforehand


def test_only_what_is_touched_is_sent(cast: Cast) -> None:
    client, url = opened(cast)
    answer = sent(
        client, url, a__level="yes", a__doors_tight="no", note__doors_tight="gasket torn", n__panel_depth="3,5",
        a__filters_fitted="construction", a__enable_wired="cannot", why__enable_wired="controls_not_ready",
    )  # fmt: skip
    assert answer.status_code == 303
    assert payload()["answers"] == [
        {"item": "level", "yes": True},
        {"item": "panel_depth", "number": {"value": 3.5, "unit": "ft"}},
        {"item": "doors_tight", "yes": False, "note": "gasket torn"},
        {"item": "filters_fitted", "choice": "construction"},
        {"item": "enable_wired", "cannot": {"reason": "controls_not_ready", "company": ""}},
    ]
    assert outcome(cast, "ready_for_test") == "does_not_conform"
    assert outcome(cast, "safety_holds") == "not_due"
    page = text(client, url)
    assert "Before: no, 2026-05-04 10:15; wrong." in page
    assert "Before: controls not ready, 2026-05-04 10:15; cannot be answered yet." in page
    assert Record.objects.get().session == ""


def test_two_people_answer_their_parts_and_the_newest_of_each_item_stands(cast: Cast) -> None:
    client, url = opened(cast)
    sent(client, url, a__level="yes", a__doors_tight="no")
    lead, _ = opened(cast, "lead")
    sent(lead, url, a__doors_tight="yes", at="2026-05-04T12:00:00-06:00")
    page = text(client, url)
    assert "Before: yes, 2026-05-04 12:00; right." in page
    assert "Before: yes, 2026-05-04 10:15; right." in page
    unit = client.get(f"/units/{cast.things['position'].pk}").content.decode()
    assert "Where two people answered differently" in unit


def test_a_safety_hold_opens_one_issue_of_that_priority_and_goes_by_a_recorded_release(cast: Cast) -> None:
    client, url = opened(cast)
    assert "Releases of safety holds" not in text(client, url)
    sent(client, url, a__grounded="no")
    assert outcome(cast, "safety_holds") == "does_not_conform"
    assert Issue.objects.get().priority == Issue.Priority.SAFETY
    lead, _ = opened(cast, "lead")
    sent(lead, url, a__grounded="yes", at="2026-05-04T11:00:00-06:00")
    assert outcome(cast, "safety_holds") == "does_not_conform"
    assert "a later answer does not" in text(client, url)
    bad = sent(client, url, person__grounded="Tove Brandeis", at="2026-05-04T12:00:00-06:00")
    assert bad.status_code == 400
    assert "A release names company and person." in bad.content.decode()
    assert 'value="Tove Brandeis"' in bad.content.decode()
    done = {
        "person__grounded": "Tove Brandeis", "company__grounded": "Halvard Electric",
        "by__grounded": "licensed_person", "licence__grounded": "E-2214", "at": "2026-05-04T12:00:00-06:00",
    }  # fmt: skip
    assert sent(client, url, **done).status_code == 303
    assert payload()["releases"][0]["on"] == "2026-05-04"
    assert outcome(cast, "safety_holds") == "not_due"  # the others are still to be answered
    unit = client.get(f"/units/{cast.things['position'].pk}").content.decode()
    assert "Tove Brandeis, Halvard Electric, licensed person, licence E-2214" in unit


def test_a_quality_hold_is_lifted_by_the_lead_alone_with_a_reason(cast: Cast) -> None:
    client, url = opened(cast)
    sent(client, url, a__ducts_sealed="no")
    lead, _ = opened(cast, "lead")
    assert 'name="lift-ducts_sealed"' not in text(client, url)
    assert 'name="lift-ducts_sealed"' in text(lead, url)
    reason, later = "Sealed in June by the owner's own crew.", "2026-05-04T12:00:00-06:00"
    refused = sent(client, url, lift__ducts_sealed=reason, at=later)
    assert refused.status_code == 400
    assert "Only the lead lifts a quality hold." in refused.content.decode()
    short = sent(lead, url, lift__ducts_sealed="ok", at=later)
    assert (short.status_code, Record.objects.count()) == (400, 1)
    assert sent(lead, url, lift__ducts_sealed=reason, at=later).status_code == 303
    assert payload()["lifts"][0]["by"] == cast.person("own", "lead").name
    assert outcome(cast, "ready_for_test") == "not_due"
    assert reason.replace("'", "&#x27;") in client.get(f"/units/{cast.things['position'].pk}").content.decode()


def test_whoever_is_not_the_lead_lifts_nothing_by_the_api_either(cast: Cast) -> None:
    """It is kept, as all that was sent, and never evaluated: not after its record is made again, either."""
    client, url = opened(cast)
    sent(client, url, a__ducts_sealed="no")
    lift = {"item": "ducts_sealed", "by": "Somebody Else", "reason": "It is good enough.", "on": "2026-05-04"}
    for who, state, ready in (("technician", "needs_attention", "does_not_conform"), ("lead", "kept", "not_due")):
        person = cast.person("own", who)
        made = envelopes.envelope(
            who, position=cast.things["position"].pk, person=person.pk, instrument=None, flows={},
            at="2026-05-04T12:00:00-06:00",
        )  # fmt: skip
        made |= {"kind": "checklist", "payload": {"lifts": [lift]}}
        (kept,) = accept(Sender(person), [envelopes.raw(made)])
        assert isinstance(kept, Kept)
        assert json.loads(kept.receipt)["state"] == state
        with transaction.atomic():
            remake.records()
        runner.drain()
        assert outcome(cast, "ready_for_test") == ready
    (problem,) = Record.objects.get(needs_attention=True).problems
    assert problem["pointer"] == "/payload/lifts"
    assert "lift a quality hold" in problem["reason"]


def test_a_photo_is_kept_by_its_hash_and_not_lost_when_something_else_is_wrong(cast: Cast) -> None:
    client, url = opened(cast)
    bad = sent(client, url, photo__plate_photo=jpeg(), n__panel_depth="deep")
    assert bad.status_code == 400
    blob = Blob.objects.get()
    assert f'name="photo-plate_photo" value="{blob.sha256}"' in bad.content.decode()
    assert sent(client, url, photo__plate_photo=blob.sha256, a__grounded="yes").status_code == 303
    assert payload()["answers"][0] == {"item": "plate_photo", "photos": [blob.sha256]}
    assert RecordPhoto.objects.get().sha256 == blob.sha256
    no_photo = sent(client, url, photo__plate_photo=SimpleUploadedFile("plate.jpg", b"%PDF-1.7", "image/jpeg"))
    assert no_photo.status_code == 400
    assert "A photo is a JPEG or a PNG file." in no_photo.content.decode()


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({}, "Nothing is answered."),
        ({"a__grounded": "cannot"}, "why grounded: It is not said why it cannot be answered."),
        ({"a__grounded": "cannot", "why__grounded": "other"}, "who grounded: It is not said who unblocks it."),
        ({"note__grounded": "see photo"}, "a grounded: There is a note, a reason or a photo, and no answer."),
        ({"n__panel_depth": "3x"}, "n panel_depth: This is no number."),
        ({"n__panel_depth": "3", "a__panel_depth": "cannot"}, "and that it cannot be answered."),
        ({"a__level": "yes", "supersedes": "0b9c63a8-5d55-4f5e-8f8b-3d7a2f7c2222"}, "A correction needs its reason."),
    ],
)
def test_a_bad_field_is_named_and_nothing_typed_is_lost(cast: Cast, wrong: dict[str, str], said: str) -> None:
    client, url = opened(cast)
    answer = sent(client, url, note="panel 2", who__doors_tight="Orme", a__doors_tight="cannot",
                  why__doors_tight="no_access", **wrong) if wrong else sent(client, url, note="panel 2")  # fmt: skip
    page = answer.content.decode()
    assert answer.status_code == 400
    assert said in page
    assert "panel 2" in page
    assert not wrong or 'value="Orme"' in page
    assert not Submission.objects.exists()


def test_sent_twice_it_is_kept_once(cast: Cast) -> None:
    client, url = opened(cast)
    fields = {"id": next(IDS), "observed_at": "2026-05-04T10:15:00-06:00", "display": "ip", "a-level": "yes"}
    assert [client.post(url, fields).status_code for _ in range(2)] == [303, 303]
    assert Record.objects.count() == 1


def test_without_equipment_in_the_design_the_form_says_so_and_nothing_blocks_signing(cast: Cast) -> None:
    client, url = opened(cast, equipment={})
    assert "The design names no options or field sensors" in text(client, url)
    assert not CurrentVerdict.objects.filter(requirement__in=["safety_holds", "ready_for_test"]).exists()
