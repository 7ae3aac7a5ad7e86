"""Trend logs through the door: piece by piece, looked at, mapped, converted in a child process, and kept as records."""

import hashlib
import json
from datetime import timedelta
from typing import Any

import pytest
from django.db import DatabaseError, transaction
from django.utils import timezone

from commissioning.evidence.trends import receiving
from commissioning.evidence.trends.kept import kept_log
from commissioning.logs.store import open_log
from commissioning.models import LogMappingVersion, Record, Submission, TrendUpload
from portfolio.jobs import runner
from portfolio.models import Blob
from tests.cast import Cast
from tests.logs.odd_logs import GOOD, rows

pytestmark = pytest.mark.django_db

LOG = rows(*GOOD)
SHA256 = hashlib.sha256(LOG).hexdigest()
MAPPING: dict[str, Any] = {
    "source": "North wing",
    "zone": "America/Chicago",
    "points": [
        {"name": "SAT (°F)", "role": "supply_temperature", "unit": "degF"},
        {"name": "SF-S", "role": "supply_fan_status"},
    ],
}


def begun(cast: Cast, data: bytes = LOG, **changed: Any) -> str:
    said = {"file_name": "night.csv", "bytes": len(data), "sha256": hashlib.sha256(data).hexdigest()} | changed
    given = technician(cast, "POST", f"positions/{cast.things['position'].pk}/trend-uploads", said)
    assert given.status_code == 201, given.content
    return str(given.json()["id"])


def technician(cast: Cast, method: str, path: str, body: Any = None, offset: int | None = None) -> Any:
    headers = {} if offset is None else {"Upload-Offset": str(offset)}
    return cast.actor("own", "technician").call(method, path, body, headers=headers)


def test_an_upload_goes_on_where_it_was_cut_off(cast: Cast) -> None:
    path = f"trend-uploads/{begun(cast)}"
    assert technician(cast, "PATCH", path, LOG[:20], 0).json()["offset"] == 20
    cut = technician(cast, "PATCH", path, LOG[30:], 30)
    assert (cut.status_code, cut.json()["offset"]) == (409, 20)
    assert technician(cast, "GET", path).json()["state"] == "receiving"
    assert technician(cast, "PATCH", path, LOG[20:], 20).json()["state"] == "reading"
    assert Blob.objects.get().sha256 == SHA256
    assert technician(cast, "PATCH", path, b"x", len(LOG)).status_code == 409


def test_a_last_step_that_was_broken_off_is_done_again_by_an_empty_piece(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = f"trend-uploads/{begun(cast)}"
    with monkeypatch.context() as broken:
        broken.setattr(receiving, "_complete", lambda upload: None)  # as if the power failed before it
        technician(cast, "PATCH", path, LOG, 0)
    held = technician(cast, "GET", path).json()
    assert (held["state"], held["offset"]) == ("receiving", len(LOG))
    assert technician(cast, "PATCH", path, b"", len(LOG)).json()["state"] == "reading"
    assert Blob.objects.get().sha256 == SHA256


def test_other_bytes_than_declared_are_not_kept(cast: Cast) -> None:
    path = f"trend-uploads/{begun(cast, sha256='0' * 64)}"
    given = technician(cast, "PATCH", path, LOG, 0)
    assert (given.status_code, given.json()["code"], given.json()["offset"]) == (400, "sha256", 0)
    assert technician(cast, "PATCH", path, LOG + b"x", 0).json()["code"] == "beyond"
    assert Blob.objects.count() == 0
    assert technician(cast, "GET", path).json()["offset"] == 0


def refused(cast: Cast) -> Any:
    said = {"file_name": "more.csv", "bytes": len(LOG), "sha256": SHA256}
    return technician(cast, "POST", f"positions/{cast.things['position'].pk}/trend-uploads", said)


def test_too_many_at_once_are_refused_and_what_was_broken_off_counts_no_more(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(receiving, "MOST_OPEN", 2)
    one, other = begun(cast), begun(cast)
    no = refused(cast)
    assert (no.status_code, no.json()["code"]) == (429, "too_many")
    assert "2 of your uploads of the last 24 hours are not finished." in no.json()["detail"]
    TrendUpload.objects.filter(pk=one).update(made_at=timezone.now() - timedelta(hours=25))
    begun(cast)  # a day later the first counts no more
    assert technician(cast, "PATCH", f"trend-uploads/{one}", LOG, 0).json()["state"] == "reading"  # and yet goes on
    assert refused(cast).status_code == 429
    technician(cast, "PATCH", f"trend-uploads/{other}", LOG[:9], 0)
    receiving.break_off(TrendUpload.objects.get(pk=other))
    begun(cast)
    held = technician(cast, "GET", f"trend-uploads/{other}").json()
    assert (held["state"], held["fault"]) == ("failed", "The file never came in whole. Send it again.")


def test_a_log_becomes_a_record_that_names_its_file_and_its_mapping(cast: Cast) -> None:
    path = f"trend-uploads/{begun(cast)}"
    technician(cast, "PATCH", path, LOG, 0)
    assert technician(cast, "POST", f"{path}/acceptance").status_code == 409
    runner.drain(["log"])
    seen = technician(cast, "GET", path).json()
    assert (seen["state"], seen["seen"]["rows"]) == ("seen", 3)
    assert [(one["name"], one["role"], one["unit"]) for one in seen["seen"]["points"]] == [
        ("SAT (°F)", "supply_temperature", "degF"),
        ("SF-S", "supply_fan_status", ""),
    ]
    kept = technician(cast, "PUT", f"{path}/mapping", MAPPING).json()
    runner.drain(["log"])
    assert technician(cast, "GET", path).json()["state"] == "converted"
    first = technician(cast, "POST", f"{path}/acceptance")
    again = technician(cast, "POST", f"{path}/acceptance")
    assert (first.status_code, first.content) == (201, again.content)
    other = cast.actor("own", "lead").call("POST", f"{path}/acceptance")
    assert (other.status_code, other.json()["code"]) == (409, "accepted")  # the log is not on record twice
    record = Record.objects.get()
    assert (record.kind, record.position, record.needs_attention) == ("trend", cast.things["position"], False)
    payload = json.loads(bytes(Submission.objects.get().raw))["payload"]
    assert (payload["sha256"], payload["mapping"]["sha256"]) == (SHA256, kept["sha256"])
    assert payload["first"] == "2026-03-13T19:00:00+00:00"  # 14:00 in Chicago, 5 h behind UTC in summer time
    place = kept_log(SHA256, kept["sha256"])
    assert place is not None
    assert open_log(place).series("SAT (°F)")[1].round(9).tolist() == [20.0, 10.0, 20.0]


def test_a_mapping_is_remembered_version_by_version_and_never_changed(cast: Cast) -> None:
    path = f"trend-uploads/{begun(cast)}"
    technician(cast, "PATCH", path, LOG, 0)
    versions = [
        technician(cast, "PUT", f"{path}/mapping", MAPPING | changed).json()["version"]
        for changed in ({}, {}, {"duplicates": "first"})
    ]
    assert versions == [1, 1, 2]
    with pytest.raises(DatabaseError, match="never changed or deleted"), transaction.atomic():
        LogMappingVersion.objects.update(version=9)


def test_a_mapping_that_cannot_be_meant_is_refused_by_its_fields(cast: Cast) -> None:
    path = f"trend-uploads/{begun(cast)}"
    technician(cast, "PATCH", path, LOG, 0)
    bad = MAPPING | {"zone": "Chicago", "points": [{"name": "SAT (°F)", "role": "supply_temperature", "unit": "Pa"}]}
    errors = technician(cast, "PUT", f"{path}/mapping", bad).json()["errors"]
    assert [one["pointer"] for one in errors] == ["/zone", "/points/0"]
    elsewhere = MAPPING | {"points": [MAPPING["points"][0] | {"tag": "no such unit"}]}
    [error] = technician(cast, "PUT", f"{path}/mapping", elsewhere).json()["errors"]
    assert (error["value"], error["detail"]) == ("no such unit", "No unit of this building has this tag.")
    assert LogMappingVersion.objects.count() == 0


def test_a_file_that_breaks_the_limits_ends_its_own_process_and_says_why(cast: Cast, settings: Any) -> None:
    settings.LOG_MEMORY_MB = 40  # less than the interpreter with its libraries needs
    path = f"trend-uploads/{begun(cast)}"
    technician(cast, "PATCH", path, LOG, 0)
    runner.drain(["log"])
    held = technician(cast, "GET", path).json()
    assert held["state"] == "failed"
    assert held["fault"].startswith(("Reading it needed more than 40 MB", "The process that read it was ended"))
    assert TrendUpload.objects.get().blob is not None  # the file stays as it came
