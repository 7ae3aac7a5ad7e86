"""A firm's mappings and the files of its controllers, through the doors: kept once and for ever, or nothing at all."""

import hashlib
import json
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import DatabaseError, transaction
from django.test import Client

from commissioning.evidence.mappings import keep_mapping
from commissioning.models import JudgedPosition, MappingVersion, Record, Submission
from portfolio.blobs.store import keep
from portfolio.jobs import runner
from portfolio.models import AuditEvent, Blob
from tests.cast import Cast
from tests.dossier.test_settings_mapping import CSV, EXAMPLE
from tests.kinds.settings_records import judged, record
from tests.kinds.test_settings_read_from import READ_FROM
from tests.pages.reading import text

pytestmark = pytest.mark.django_db

OLDER, NEWER = EXAMPLE, EXAMPLE.replace(b"version = 1", b"version = 2")


@pytest.fixture
def mapping(cast: Cast) -> MappingVersion:
    return keep_mapping(firm=cast.things["firm"], person=cast.person("own", "lead"), raw=EXAMPLE)[0]


@pytest.fixture
def technician(cast: Cast) -> Client:
    client = Client()
    client.force_login(cast.person("own", "technician"))
    return client


# Mappings


def test_a_version_is_kept_as_it_came_and_the_same_bytes_once(cast: Cast) -> None:
    lead, path = cast.actor("own", "lead"), f"firms/{cast.things['firm'].pk}/settings-mappings"
    first = lead.call("POST", path, EXAMPLE)
    again = lead.call("POST", path, EXAMPLE)
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.json()["id"] == first.json()["id"]
    shown = cast.actor("own", "technician").call("GET", f"settings-mappings/{first.json()['id']}").json()
    assert (shown["document"].encode(), shown["family"], shown["version"]) == (EXAMPLE, "Tarnbeck T2 (invented)", 1)
    assert AuditEvent.objects.filter(verb="keep_mappings").count() == 1


def test_another_text_needs_a_higher_version_and_both_stay(cast: Cast, mapping: MappingVersion) -> None:
    lead, path = cast.actor("own", "lead"), f"firms/{cast.things['firm'].pk}/settings-mappings"
    changed = lead.call("POST", path, EXAMPLE + b"\n# changed\n")
    assert changed.status_code == 400
    [error] = changed.json()["errors"]
    assert (error["pointer"], error["remedy"]) == ("/version", "Say version = 2, or higher.")
    assert lead.call("POST", path, NEWER).status_code == 201
    assert [one["version"] for one in lead.call("GET", path).json()["results"]] == [2, 1]
    assert MappingVersion.objects.newest().get().version == 2


def test_a_bad_mapping_leaves_nothing_behind(cast: Cast) -> None:
    path = f"firms/{cast.things['firm'].pk}/settings-mappings"
    bad = EXAMPLE.replace(b'"L/s"', b'"Pa"').replace(b'"enabling"', b'"enabled"')
    given = cast.actor("own", "lead").call("POST", path, bad)
    assert given.status_code == 400
    assert len(given.json()["errors"]) == 4  # one name, three airflows
    assert (MappingVersion.objects.count(), Blob.objects.count(), AuditEvent.objects.count()) == (0, 0, 0)


def test_a_kept_version_is_never_changed(mapping: MappingVersion) -> None:
    with pytest.raises(DatabaseError, match="never changed or deleted"), transaction.atomic():
        MappingVersion.objects.update(version=9)


def test_the_page_gives_a_bad_mapping_back_with_every_fault(cast: Cast) -> None:
    client = Client()
    client.force_login(cast.person("own", "lead"))
    url = f"/firms/{cast.things['firm'].pk}/mappings"
    given = client.post(url, {"pasted": EXAMPLE.decode().replace('"L/s"', '"Pa"')})
    assert given.status_code == 400
    assert text(given).count("This is a unit of pressure; here it takes airflow.") == 3
    assert "hours.run" in text(given)
    assert client.post(url, {"pasted": EXAMPLE.decode()}).status_code == 303
    shown = text(client.get(f"/mappings/{MappingVersion.objects.get().pk}"))
    assert "inward.least Supply minimum airflow × 0.1 L/s" in shown
    assert "shutters.fitted Shut-off dampers fitted: yes; not fitted: no" in shown


# A file, on the page


def looked(cast: Cast, client: Client, kept: MappingVersion, raw: bytes = CSV, **rest: str) -> Any:
    url = f"/units/{cast.things['position'].pk}/settings/import"
    file = SimpleUploadedFile("export.csv", raw)
    return client.post(url, {"mapping": str(kept.pk), "file": file, "act": "look"} | rest)


def fields(given: Any) -> dict[str, str]:
    """What a browser would send of the form that came back."""
    names = ("held", "file_name", "seal", "made_id", "observed_at", "display_kept")
    held = {name: given.context[name] for name in names}
    held["id"], held["display"] = held.pop("made_id"), held.pop("display_kept")
    return held | {"mapping": given.context["typed"]["mapping"], "act": "send", "moment": "as_left", "stage": "final"}


def test_looking_shows_what_each_name_is_and_keeps_nothing(
    cast: Cast, technician: Client, mapping: MappingVersion
) -> None:
    given = looked(cast, technician, mapping)
    said = text(given)
    assert given.status_code == 200
    assert "Twelve settings are understood; one name is not known. Nothing is kept before you send it." in said
    assert "Supply minimum airflow 300 cfm inward.least 1415,8" in said  # 141.58 L/s ÷ 0.47194745 L/s in a cfm
    assert "drain.heater : auto" in said
    assert "Left out by the mapping: panel.brightness." in said
    assert (Submission.objects.count(), Blob.objects.count()) == (0, 0)


def test_sending_makes_an_ordinary_record_and_keeps_the_file(
    cast: Cast, technician: Client, mapping: MappingVersion
) -> None:
    position = cast.things["position"].pk
    sent = technician.post(f"/units/{position}/settings/import", fields(looked(cast, technician, mapping)))
    assert sent.status_code == 303
    record = Record.objects.get()
    assert (record.kind, record.is_final, record.needs_attention) == ("settings", True, False)
    payload = json.loads(bytes(Submission.objects.get().raw))["payload"]
    assert (payload["grade"], payload["controller"]) == ("controller", "Tarnbeck T2 (invented)")
    assert payload["values"]["frost_limit"] == {"value": 35.6, "unit": "degF"}
    sha256 = hashlib.sha256(CSV).hexdigest()
    assert (payload["read_from"]["sha256"], payload["read_from"]["mapping"]["sha256"]) == (sha256, mapping.sha256)
    runner.drain()
    [measured] = JudgedPosition.objects.get().measurements
    assert measured["facts"]["values"]["frost_limit"] == pytest.approx(2.0)
    shown = text(technician.get(f"/units/{position}"))
    assert "through the mapping of Tarnbeck T2 (invented), version 1." in shown
    file = technician.get(f"/units/{position}/settings/files/{sha256}")
    assert b"".join(file) == CSV
    assert "attachment" in file["Content-Disposition"]
    assert technician.get(f"/units/{position}/settings/files/{'0' * 64}").status_code == 404


@pytest.mark.parametrize("media_type", ["application/pdf", "application/json", "application/octet-stream"])
def test_a_record_that_names_the_hash_of_another_file_opens_it_to_nobody(
    cast: Cast, technician: Client, media_type: str
) -> None:
    """A binder's hash stands in its letter, and whoever knows it can write it into a record of their own unit."""
    unit, file = cast.things["position"], keep(b"what another firm handed over", media_type)
    given = record()
    given["payload"]["read_from"] = READ_FROM | {"sha256": file.pk}
    JudgedPosition.objects.create(
        pk=unit.pk,
        inputs_hash="0" * 64,
        rules_hash="0" * 64,
        judged_at=file.kept_at,
        measurements=judged(given).measurements,
    )
    assert technician.get(f"/units/{unit.pk}/settings/files/{file.pk}").status_code == 404


def test_only_what_was_looked_at_is_sent(cast: Cast, technician: Client, mapping: MappingVersion) -> None:
    form = fields(looked(cast, technician, mapping))
    other = SimpleUploadedFile("other.csv", CSV.replace(b"auto", b"off"))
    given = technician.post(f"/units/{cast.things['position'].pk}/settings/import", {**form, "file": other})
    assert given.status_code == 400
    assert "not the file, or not the mapping, that was looked at" in text(given)
    assert Submission.objects.count() == 0


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"mapping": ""}, "No mapping is chosen."),
        ({"mapping": "0b9c63a8-5d55-4f5e-8f8b-3d7a2f7c1111"}, "No mapping is chosen."),
        ({"file": ""}, "There is no file."),
        ({"file": b"x" * 300_000}, "The file has more than 256 KB."),
        ({"file": CSV.replace(b"35,6", b"cold")}, "line 11, ice.below cold This is no number."),
        ({"file": CSV + b"service.pin;4711;\n"}, "(not shown) By its name this is a password"),
    ],
)
def test_what_cannot_be_read_is_told_and_nothing_is_kept(
    cast: Cast, technician: Client, mapping: MappingVersion, changes: dict[str, Any], said: str
) -> None:
    raw = changes.pop("file", CSV)
    given = looked(cast, technician, mapping, raw or b"", **changes)
    assert given.status_code == 400
    assert said in text(given)
    if "password" in said:  # neither shown nor sent back in the form
        assert "4711" not in text(given)
        assert given.context["held"] == ""
    assert (Submission.objects.count(), Blob.objects.count()) == (0, 0)


def test_a_bad_file_that_is_sent_all_the_same_keeps_nothing(
    cast: Cast, technician: Client, mapping: MappingVersion
) -> None:
    form = fields(looked(cast, technician, mapping, CSV + b"service.pin;4711;\n"))
    given = technician.post(f"/units/{cast.things['position'].pk}/settings/import", form)
    assert given.status_code == 400
    assert (Submission.objects.count(), Blob.objects.count()) == (0, 0)


def test_a_moment_that_is_missing_loses_nothing_of_the_form(
    cast: Cast, technician: Client, mapping: MappingVersion
) -> None:
    form = fields(looked(cast, technician, mapping)) | {"moment": "", "note": "by the door"}
    given = technician.post(f"/units/{cast.things['position'].pk}/settings/import", form)
    assert given.status_code == 400
    assert "It is not said of which moment this is" in text(given)
    assert given.context["seal"] == form["seal"]
    assert "by the door" in text(given)
    assert Blob.objects.count() == 0


# A file, by API


def test_by_api_a_file_becomes_the_payload_of_an_envelope(cast: Cast, mapping: MappingVersion) -> None:
    technician, position = cast.actor("own", "technician"), cast.things["position"].pk
    path = f"positions/{position}/settings-file?mapping={mapping.pk}&name=export.csv"
    given = technician.call("POST", path, CSV)
    assert given.status_code == 200
    told = given.json()
    assert [one["became"] for one in told["names"]].count("mapped") == 12
    assert told["payload"]["values"]["exhaust_ratio"] == {"value": 92.5, "unit": "%"}
    assert Blob.objects.count() == 0
    assert technician.call("POST", f"{path}&keep=yes", CSV).status_code == 200
    assert Blob.objects.get().pk == told["payload"]["read_from"]["sha256"]


def test_by_api_every_fault_of_a_file_is_told(cast: Cast, mapping: MappingVersion) -> None:
    path = f"positions/{cast.things['position'].pk}/settings-file?mapping={mapping.pk}&keep=yes"
    given = cast.actor("own", "technician").call("POST", path, b"ice.below;cold\nweek.days;9\n")
    assert given.status_code == 400
    assert [one["pointer"] for one in given.json()["errors"]] == ["line 1, ice.below", "line 2, week.days"]
    assert Blob.objects.count() == 0


def test_a_mapping_of_the_other_firm_does_not_exist_here(cast: Cast) -> None:
    other = keep_mapping(firm=cast.things["foreign_firm"], person=cast.person("foreign", "lead"), raw=EXAMPLE)[0]
    path = f"positions/{cast.things['position'].pk}/settings-file?mapping={other.pk}"
    assert cast.actor("own", "technician").call("POST", path, CSV).status_code == 404
