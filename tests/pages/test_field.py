"""The field page: a form that makes the same evidence as any device."""

from typing import Any

import pytest
from django.test import Client

from commissioning.models import CurrentVerdict, Record, Submission
from portfolio.jobs import runner
from portfolio.models import DesignEntry, DesignRevision
from tests import envelopes
from tests.cast import Cast

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def page(cast: Cast) -> tuple[Cast, Client, str]:
    revision = DesignRevision.objects.create(
        project=cast.things["project"], number=1, dated="2026-01-05", source="design",
        applied_by=cast.person("own", "lead"),
    )  # fmt: skip
    design = envelopes.design({"supply": 1000.0, "exhaust": 950.0})
    DesignEntry.objects.create(revision=revision, position=cast.things["position"], fields=design)
    client = Client()
    client.force_login(cast.person("own", "technician"))
    return cast, client, f"/units/{cast.things['position'].pk}/record"


def filled(cast: Cast, **rest: str) -> dict[str, str]:
    return {
        "id": "0b9c63a8-5d55-4f5e-8f8b-3d7a2f7c1111",
        "observed_at": "2026-05-04T10:15:00-06:00",
        "display": "ip",
        "instrument": str(cast.things["instrument"].pk),
        "basis": "standard",
        "dry_bulb": "68",
        "relative_humidity": "35",
        "filters": "clean",
        "outdoor_damper": "open",
        "stage": "final",
        "session": "AL-1",
        "supply-1": "1010",
        "supply-2": "1005,5",
        "exhaust-1": "940",
        **rest,
    }


def test_the_form_shows_the_design_beside_the_boxes(page: tuple[Cast, Client, str]) -> None:
    _, client, url = page
    text = client.get(url).content.decode()
    assert "Supply air: design 1,000, before none cfm" in text
    assert 'name="exhaust-3"' in text
    assert "Follow the site&#x27;s permits" in text or "Follow the site's permits" in text


def test_what_is_typed_becomes_an_envelope_that_is_judged(page: tuple[Cast, Client, str]) -> None:
    cast, client, url = page
    answer = client.post(url, filled(cast))
    assert answer.status_code == 303
    runner.drain()
    held = CurrentVerdict.objects.get(position=cast.things["position"], requirement="design_airflow", port="supply")
    assert held.outcome == "conforms"
    assert held.judgement.result["value"] == pytest.approx((1010 + 1005.5) / 2 / 1000 - 1)


def test_sent_twice_it_is_kept_once(page: tuple[Cast, Client, str]) -> None:
    cast, client, url = page
    for _ in range(2):
        assert client.post(url, filled(cast)).status_code == 303
    assert Submission.objects.count() == Record.objects.count() == 1


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"supply-1": "12x"}, "supply 1: This is no number."),
        ({"instrument": ""}, "instrument: The instrument is not named."),
        ({"supply-1": "", "supply-2": "", "exhaust-1": ""}, "No port has a reading."),
        ({"supersedes": "0b9c63a8-5d55-4f5e-8f8b-3d7a2f7c2222", "reason": ""}, "A correction needs its reason."),
    ],
)
def test_a_bad_field_is_named_and_nothing_typed_is_lost(
    page: tuple[Cast, Client, str], wrong: dict[str, str], said: str
) -> None:
    cast, client, url = page
    answer = client.post(url, filled(cast, note="vane bent", **wrong))
    text = answer.content.decode()
    assert answer.status_code == 400
    assert said in text
    assert "vane bent" in text
    assert 'value="940"' in text or "exhaust-1" in wrong
    assert not Submission.objects.exists()


def test_a_value_out_of_range_is_kept_and_told(page: tuple[Cast, Client, str]) -> None:
    cast, client, url = page
    answer: Any = client.post(url, filled(cast, **{"supply-1": "99999999"}), follow=True)
    assert "cannot be evaluated" in answer.content.decode()
    assert Record.objects.get().needs_attention
