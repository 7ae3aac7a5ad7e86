"""A trend log on its pages: sent, looked at, mapped by a form, accepted, and its mapping known at the next file."""

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from commissioning.evidence.trends import receiving
from commissioning.models import LogMappingVersion, Record, TrendUpload
from portfolio.jobs import runner
from tests.cast import Cast
from tests.logs.odd_logs import GOOD, rows
from tests.pages.reading import text

pytestmark = pytest.mark.django_db

FORM = {
    **{"act": "map", "source": "North wing", "zone": "America/Chicago"},
    **{"role-0": "supply_temperature", "unit-0": "degF", "role-1": "supply_fan_status"},
}


@pytest.fixture
def technician(cast: Cast) -> Client:
    client = Client()
    client.force_login(cast.person("own", "technician"))
    return client


def sent(cast: Cast, client: Client, data: bytes) -> str:
    file = SimpleUploadedFile("night.csv", data)
    given: Any = client.post(f"/units/{cast.things['position'].pk}/trends/new", {"file": file})
    assert given.status_code == 303
    return str(given["Location"])


def test_a_log_is_sent_mapped_and_accepted_and_its_source_is_remembered(cast: Cast, technician: Client) -> None:
    page = sent(cast, technician, rows(*GOOD))
    waiting = technician.get(page)
    assert waiting["Refresh"] == "2"
    runner.drain(["log"])
    seen = text(technician.get(page))
    assert "Text parted by commas, a column for each point: two points in 3 rows." in seen
    assert technician.post(page, FORM).status_code == 303
    runner.drain(["log"])
    assert "Accept: recorded for each unit that it serves" in text(technician.get(page))
    assert technician.post(page, {"act": "accept"}).status_code == 303
    assert Record.objects.get().kind == "trend"
    assert TrendUpload.objects.get().state == "accepted"
    upload = TrendUpload.objects.get()
    TrendUpload.objects.create(
        position=upload.position, made_by=upload.made_by, file_name="next.csv", size=1, sha256=upload.sha256,
        state="seen", seen=upload.seen,
    )  # fmt: skip
    following = TrendUpload.objects.get(file_name="next.csv")
    assert technician.get(f"/trend-uploads/{following.pk}").context["typed"]["source"] == "North wing"


def test_a_form_that_is_cut_off_leaves_no_upload_that_counts(
    cast: Cast, technician: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def cut(*_: Any, **__: Any) -> Any:
        raise OSError("no space left on the disk")

    with monkeypatch.context() as broken:
        broken.setattr(receiving, "_write", cut)
        with pytest.raises(OSError, match="no space"):
            sent(cast, technician, rows(*GOOD))
    assert TrendUpload.objects.get().state == "failed"
    assert sent(cast, technician, rows(*GOOD)).startswith("/trend-uploads/")


def test_a_date_that_may_be_read_two_ways_is_asked_for_on_the_page(cast: Cast, technician: Client) -> None:
    page = sent(cast, technician, rows("03/04/2026 14:00,68,On"))
    runner.drain(["log"])
    assert "can be %m/%d/%Y %H:%M or %d/%m/%Y %H:%M" in text(technician.get(page))
    technician.post(page, {"act": "map", "source": "North", "zone": "America/Chicago", "time_format": "%d/%m/%Y %H:%M"})
    runner.drain(["log"])
    assert "two points in 1 row." in text(technician.get(page))


def test_a_faulty_form_is_given_back_with_the_point_named(cast: Cast, technician: Client) -> None:
    page = sent(cast, technician, rows(*GOOD))
    runner.drain(["log"])
    given = technician.post(page, FORM | {"unit-0": "Pa", "zone": "Chicago"})
    assert given.status_code == 400
    said = text(given)
    assert "No time zone is called Chicago" in said
    assert "a temperature is given in one of" in said
    assert LogMappingVersion.objects.count() == 0
