"""The pressure form: what is typed becomes an envelope that is judged, in the order of the air, and nothing is lost."""

import json
from typing import Any

import pytest
from django.test import Client

from commissioning.models import CurrentVerdict, JudgedPosition, Record, Submission
from portfolio.jobs import runner
from portfolio.models import DesignEntry, DesignRevision
from tests import envelopes
from tests.cast import Cast

pytestmark = pytest.mark.django_db(transaction=True)
TOLERANCE = {"low": -0.1, "high": 0.1, "clause": "23 05 93, 3.5", "rounding": "none"}


@pytest.fixture
def page(cast: Cast) -> tuple[Cast, Client, str]:
    revision = DesignRevision.objects.create(
        project=cast.things["project"], number=1, dated="2026-01-05", source="design",
        applied_by=cast.person("own", "lead"),
    )  # fmt: skip
    fields = envelopes.design({"supply": 1000.0}) | {
        "pressures": {"external": {"pressure": {"value": 0.8, "unit": "in_wc"}, "tolerance": TOLERANCE}},
        "rooms": {"Clinic": {"relation": "positive", "neighbour": "Corridor"}},
    }
    DesignEntry.objects.create(revision=revision, position=cast.things["position"], fields=fields)
    client = Client()
    client.force_login(cast.person("own", "technician"))
    return cast, client, f"/units/{cast.things['position'].pk}/record/pressure"


def filled(cast: Cast, **rest: str) -> dict[str, str]:
    return {
        "id": "0b9c63a8-5d55-4f5e-8f8b-3d7a2f7c4444",
        "observed_at": "2026-05-04T10:15:00-06:00",
        "display": "ip",
        "instrument": str(cast.things["instrument"].pk),
        "zeroed": "yes",
        "filters": "clean",
        "doors": "closed",
        "stage": "final",
        "session": "AL-1",
        "supply-unit_inlet": "-0,25",
        "supply-after_filter": "-0.45",
        "supply-unit_outlet": "0.58",
        "is-supply-core": "clean",
        "space-1": "Clinic",
        "space-1-1": "0.03",
        "space-1-2": "0.031",
        "space-1-over": "90",
        "space-1-against": "neighbour",
        "space-1-neighbour": "Corridor",
        "space-1-door": "closed",
        "wind": "3",
        **rest,
    }


def test_it_asks_in_the_order_of_the_air(page: tuple[Cast, Client, str]) -> None:
    _, client, url = page
    text = client.get(url).content.decode()
    asked = [
        text.index(f'name="supply-{place}"') for place in ("unit_inlet", "after_filter", "after_core", "after_fan")
    ]
    assert asked == sorted(asked)
    assert 'name="exhaust-unit_inlet"' not in text  # the unit has no exhaust
    assert "Clinic, designed positive, before none" in text
    assert "in. w.c." in text
    assert "mph" in text
    blows = client.post(url, {"fan_stands": "blows", "display": "ip"}).content.decode()
    assert blows.index('name="supply-after_fan"') < blows.index('name="supply-before_core"')


def test_what_is_typed_is_judged(page: tuple[Cast, Client, str]) -> None:
    cast, client, url = page
    assert client.post(url, filled(cast)).status_code == 303
    runner.drain()
    sent = json.loads(bytes(Submission.objects.get().raw))["payload"]
    assert [tap["at"] for tap in sent["profiles"][0]["taps"]] == ["unit_inlet", "after_filter", "unit_outlet"]
    assert sent["spaces"][0]["wind"] == {"value": 3.0, "unit": "mph"}
    verdicts = dict(CurrentVerdict.objects.values_list("requirement", "outcome"))
    assert verdicts["static_pressure"] == "conforms"  # 0.58 − (−0.25) = 0.83 in. against 0.80: +3.75 %
    assert verdicts["space_pressure"] == "conforms"
    held = CurrentVerdict.objects.get(requirement="static_pressure")
    assert held.judgement.result["value"] == pytest.approx(0.0375, abs=1e-9)
    again = client.get(url).content.decode()
    assert "Unit outlet, before 0.58" in again
    assert "Whole unit, outlet less inlet, before 0.83" in again
    unit = client.get(f"/units/{cast.things['position'].pk}").content.decode()
    assert "external static pressure 0.83" in unit


def test_a_number_pad_has_no_sign_so_it_is_chosen_and_preset_by_the_fan(page: tuple[Cast, Client, str]) -> None:
    cast, client, url = page
    text = " ".join(client.get(url).content.decode().split())
    for name, sign in (("supply-after_filter", "-"), ("supply-after_fan", "+")):
        chosen = text.partition(f'name="sign-{name}"')[2].partition("</select>")[0]
        assert f'<option value="{sign}" selected>' in chosen
    signs = {"sign-supply-unit_inlet": "+", "sign-supply-after_filter": "-", "sign-space-1-1": "-"}
    typed = filled(cast, **{"supply-after_filter": "0.45", "supply-before_fan": "+0.1"}, **signs)
    assert client.post(url, typed | {"sign-supply-before_fan": "-"}).status_code == 303
    sent = json.loads(bytes(Submission.objects.get().raw))["payload"]
    values = {tap["at"]: tap["readings"]["values"][0] for tap in sent["profiles"][0]["taps"]}
    assert values == {"unit_inlet": -0.25, "after_filter": -0.45, "before_fan": 0.1, "unit_outlet": 0.58}
    assert sent["spaces"][0]["readings"]["values"] == [-0.03, 0.031]


def test_setpoints_are_sent_with_their_moment(page: tuple[Cast, Client, str]) -> None:
    cast, client, url = page
    held = {
        "held-supply-design": "0.82", "setpoint-supply-design": "0.8", "settled-supply-design": "140",
        "held-supply-minimum": "0.5", "setpoint-supply-minimum": "0.5", "reset_by_zones": "yes",
    }  # fmt: skip
    assert client.post(url, filled(cast, **held)).status_code == 303
    runner.drain()
    assert CurrentVerdict.objects.get(requirement="duct_static_control").outcome == "conforms"
    (measurement,) = JudgedPosition.objects.get().measurements
    assert measurement["facts"]["reset_by_zones"] is True


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"supply-unit_inlet": "-0.2x"}, "supply unit_inlet: This is no number."),
        ({"instrument": ""}, "instrument: The instrument is not named."),
        ({"zeroed": ""}, "zeroed: It is not said whether the zero was set."),
        ({"held-supply-design": "0.8"}, "setpoint supply design: The setpoint of that moment is missing."),
        ({"space-1-over": ""}, "space 1 over: It is not said how long"),
        ({"space-1": ""}, "space 1: The space has no name."),
    ],
)
def test_a_bad_field_is_named_and_nothing_typed_is_lost(
    page: tuple[Cast, Client, str], wrong: dict[str, str], said: str
) -> None:
    cast, client, url = page
    answer = client.post(url, filled(cast, note="tap behind the hanger", **wrong))
    text = answer.content.decode()
    assert answer.status_code == 400
    assert said in text
    assert "tap behind the hanger" in text
    assert 'value="0.58"' in text
    assert 'aria-invalid="true"' in text
    assert not Submission.objects.exists()


def test_a_value_out_of_range_is_kept_and_told(page: tuple[Cast, Client, str]) -> None:
    cast, client, url = page
    answer: Any = client.post(url, filled(cast, **{"supply-unit_outlet": "580"}), follow=True)
    assert "cannot be evaluated" in answer.content.decode()
    assert Record.objects.get().needs_attention
