"""Photos on forms: kept as they come, by hash in the record and on its page; a hash alone is believed of nobody."""

import hashlib
import json
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from commissioning.evidence.photos import keep_photo
from commissioning.models import Issue, IssueEvent, RecordPhoto, Submission
from portfolio.blobs.photos import accept_photo
from portfolio.models import AuditEvent, Blob
from tests.cast import Cast
from tests.portfolio.photographs import jpeg, png

pytestmark = pytest.mark.django_db
FRAME = {"id": "0b9c63a8-5d55-4f5e-8f8b-3d7a2f7caaaa", "observed_at": "2026-05-04T10:15:00-06:00", "display": "ip"}
START = {"permissive-power": "given", "supply-command": "on", "supply-commanded": "45"}
STEP = {"procedure": "power", "run": "FT-1", "a-kept": "yes"}
WHEN = "2026-05-04T10:15:00Z"
ITEM = {"a-grounded": "yes"}
SETTING = {"moment": "as_found", "set-units_of_measure": "ip"}


def opened(cast: Cast, kind: str) -> tuple[Client, str]:
    client = Client()
    client.force_login(cast.person("own", "technician"))
    return client, f"/units/{cast.things['position'].pk}/record/{kind}"


def picture(data: bytes = b"") -> SimpleUploadedFile:
    return SimpleUploadedFile("site.jpg", data or jpeg(), "image/jpeg")


def envelope() -> dict[str, Any]:
    held: dict[str, Any] = json.loads(bytes(Submission.objects.get().raw))
    return held


def test_a_start_takes_photos_of_what_it_is_seen_at_and_none_is_lost(cast: Cast) -> None:
    client, url = opened(cast, "startup")
    given = client.post(
        url,
        {**FRAME, **START, "supply-commanded": "soon", "photo-supply_fan": picture(), "photo-before": picture(png())},
    )
    assert given.status_code == 400
    fan, before = (hashlib.sha256(data).hexdigest() for data in (jpeg(), png()))
    page = given.content.decode()
    assert f'name="photo-supply_fan" value="{fan}"' in page
    assert "A photo is kept; another one takes its place" in page
    sent = client.post(url, {**FRAME, **START, "photo-supply_fan": fan, "photo-before": before})
    assert sent.status_code == 303
    assert envelope()["photos"] == [
        {"sha256": before, "caption": "Before the start"},
        {"sha256": fan, "caption": "Supply fan"},
    ]
    unit = client.get(f"/units/{cast.things['position'].pk}").content.decode()
    assert f'<img src="/photos/{fan}" alt="Supply fan"' in unit
    assert client.get(f"/photos/{fan}").getvalue()


def test_a_step_of_a_test_takes_one_and_what_is_no_photo_is_refused_at_its_step(cast: Cast) -> None:
    client, url = opened(cast, "test_run")
    refused = client.post(url, {**FRAME, **STEP, "photo-kept": picture(b"%PDF-1.7")})
    assert refused.status_code == 400
    assert "photo kept: A photo is a JPEG or a PNG file." in refused.content.decode()
    assert client.post(url, {**FRAME, **STEP, "photo-kept": picture()}).status_code == 303
    (answer,) = envelope()["payload"]["answers"]
    assert answer["photos"] == [RecordPhoto.objects.get().sha256] == [hashlib.sha256(jpeg()).hexdigest()]
    event = AuditEvent.objects.get(verb="attach_photo")
    assert (event.project_id, event.person_id) == (cast.things["project"].pk, cast.person("own", "technician").pk)


@pytest.mark.parametrize(
    ("kind", "typed", "field"),
    [
        ("startup", START, "photo-supply_fan"),
        ("test_run", STEP, "photo-kept"),
        ("test_run", {**STEP, "signed": "Idris Vane"}, "photo-signature"),
        ("checklist", ITEM, "photo-grounded"),
        ("settings", SETTING, "photo-1"),
    ],
)
def test_a_typed_hash_is_refused_by_name_whether_it_is_of_nothing_or_of_anothers(
    cast: Cast, kind: str, typed: dict[str, str], field: str
) -> None:
    client, url = opened(cast, kind)
    elsewhere = keep_photo(
        jpeg(), project=cast.things["foreign_project"].pk, person=cast.person("foreign", "lead"), request=None
    )
    kept = accept_photo(png())  # by nobody for nothing
    anothers = hashlib.sha256(jpeg(50)).hexdigest()
    assert cast.actor("foreign", "lead").call("PUT", f"photos/{anothers}", jpeg(50)).status_code == 200
    for sha256 in ("ab" * 32, elsewhere.pk, kept.pk, anothers):
        refused = client.post(url, {**FRAME, **typed, field: sha256})
        assert refused.status_code == 400
        page = refused.content.decode()
        assert f"{field.replace('-', ' ')}: “{sha256[:12]}…” is no photo that was kept for this project." in page
        assert "Send a JPEG or a PNG." in page
        assert sha256 not in page
    assert not Submission.objects.exists()
    assert client.post(url, {**FRAME, **typed}).status_code == 303


def named_by_an_issue(cast: Cast, sha256: str) -> None:
    project = cast.things["project"]
    issue = Issue.objects.create(project=project, number=1, title="Belt", opened_at=WHEN, moved_at=WHEN)
    IssueEvent.objects.create(issue=issue, at=WHEN, act="add_photo", detail={"sha256": sha256})


def sent_by_device(cast: Cast, sha256: str) -> None:
    assert cast.actor("own", "technician").call("PUT", f"photos/{sha256}", jpeg()).status_code == 200


def sent_for_the_project(cast: Cast, sha256: str) -> None:
    keep_photo(jpeg(), project=cast.things["project"].pk, person=cast.person("own", "lead"), request=None)


@pytest.mark.parametrize("known_by", [named_by_an_issue, sent_by_device, sent_for_the_project])
def test_a_photo_that_the_project_has_or_the_person_sent_may_be_named_again(cast: Cast, known_by: Any) -> None:
    client, url = opened(cast, "startup")
    blob: Blob = accept_photo(jpeg())
    known_by(cast, blob.pk)
    assert client.post(url, {**FRAME, **START, "photo-supply_fan": blob.pk}).status_code == 303
    assert RecordPhoto.objects.get().sha256 == blob.pk
    again = client.post(url, {**FRAME, **START, "photo-supply_fan": blob.pk})  # the same form, sent twice
    assert again.status_code == 303
    assert Submission.objects.count() == 1
