"""The exchanger form: what is typed becomes an envelope that is judged, in the order of the work; nothing is lost."""

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
CORE: dict[str, Any] = {
    "kind": "wheel",
    "wheel_speed": {"value": 20.0, "unit": "rpm"},
    "criteria": [{"quantity": "sensible", "minimum": 0.7, "clause": "23 72 00, 2.4"}],
}


@pytest.fixture
def page(cast: Cast) -> tuple[Cast, Client, str]:
    revision = DesignRevision.objects.create(
        project=cast.things["project"], number=1, dated="2026-01-05", source="design",
        applied_by=cast.person("own", "lead"),
    )  # fmt: skip
    fields = envelopes.design({"supply": 1000.0}) | {"exchangers": {"core": CORE}}
    DesignEntry.objects.create(revision=revision, position=cast.things["position"], fields=fields)
    client = Client()
    client.force_login(cast.person("own", "technician"))
    return cast, client, f"/units/{cast.things['position'].pk}/record/exchanger"


def filled(cast: Cast, **rest: str) -> dict[str, str]:
    """23, 54.5, 71.6 and 34.88 degF: −5, 12.5, 22 and 1.6 degC; 1200 and 1000 cfm: about 0.78 (T7.08)."""
    air = {"outdoor": "23,0", "supply": "54.5", "return": "71.6", "exhaust": "34.9"}
    dry = {f"{role}-t-{number}": value for role, value in air.items() for number in range(1, 5)}
    return {
        "id": "0b9c63a8-5d55-4f5e-8f8b-3d7a2f7c5555",
        "observed_at": "2026-05-04T10:15:00-06:00",
        "display": "ip",
        "thermometer": str(cast.things["instrument"].pk),
        "bypass": "closed",
        "wheel": "running",
        "filters": "clean",
        "stage": "final",
        "session": "AL-1",
        **dry,
        "minutes": "15",
        "frost": "none",
        "coil_between": "none",
        "fan-supply": "none",
        "fan-exhaust": "none",
        "flow_basis": "standard",
        "flow-supply": "1200",
        "flow-supply-wide": "60",
        "flow-return": "1000",
        "flow-return-wide": "50",
        "wheel-1": "18.7",
        "wheel-2": "18.7",
        **rest,
    }


def test_it_asks_in_the_order_of_the_work(page: tuple[Cast, Client, str]) -> None:
    _, client, url = page
    text = client.get(url).content.decode()
    names = ("thermometer", "outdoor-t-1", "exhaust-t-4", "minutes", "frost", "fan-supply", "flow-supply", "wheel-1")
    order = [text.index(f'name="{name}"') for name in (*names, "seal-supply_minus_return", "gas-return")]
    assert order == sorted(order)
    assert "Lock out" in text
    assert "°F" in text
    assert 'name="outdoor-t-1" inputmode="text"' in text  # it may lie below zero
    assert 'name="wheel-1" inputmode="decimal"' in text


def test_what_is_typed_is_judged(page: tuple[Cast, Client, str]) -> None:
    cast, client, url = page
    assert client.post(url, filled(cast)).status_code == 303
    runner.drain()
    sent = json.loads(bytes(Submission.objects.get().raw))["payload"]
    assert sent["stations"][0]["dry_bulb"] == {"values": [23.0] * 4, "unit": "degF"}
    assert sent["flows"][0]["expanded_uncertainty"] == {"value": 60.0, "unit": "cfm"}
    (measurement,) = JudgedPosition.objects.get().measurements
    effect = next(one for one in measurement["figures"] if one["name"] == "sensible_effectiveness")
    assert effect["value"] == pytest.approx(0.778, abs=0.01)  # the humidity is assumed: a little off dry air
    outcomes = dict(CurrentVerdict.objects.values_list("requirement", "outcome"))
    assert outcomes["wheel_speed"] == "does_not_conform"  # 18.7 of 20: −6.5 %
    assert outcomes["exchanger_effectiveness"] == "not_judged"  # the wheel was off its speed
    assert outcomes["exchanger_closure"] == "conforms"
    again = client.get(url).content.decode()
    assert "Outdoor air, before the exchanger: dry bulb, first, before 23.0" in again
    assert "Turns, first count, before 18.7" in again
    unit = client.get(f"/units/{cast.things['position'].pk}").content.decode()
    assert "sensible effectiveness 78 %" in unit


def test_the_same_form_sent_twice_is_one_record(page: tuple[Cast, Client, str]) -> None:
    cast, client, url = page
    for _ in range(2):
        assert client.post(url, filled(cast)).status_code == 303
    assert Submission.objects.count() == 1


def test_seals_gas_and_fans_are_sent(page: tuple[Cast, Client, str]) -> None:
    cast, client, url = page
    tool = str(cast.things["instrument"].pk)
    more = {
        "humidity_by": "wet_bulb", "outdoor-h-1": "21.5", "return-h-1": "58",
        "fan-exhaust": "before_exchanger", "fan-exhaust-power": "900", "fan-exhaust-share": "80",
        "fan-supply": "after_exchanger", "fan-supply-pressure": "2.4", "fan-supply-efficiency": "55",
        "gauge": tool, "seal-supply_minus_return": "-0.05", "analyser": tool, "gas_kind": "room_co2",
        "gas-outdoor": "420", "gas-supply": "440", "gas-return": "900", "barometer": "24.9",
        "drop-supply": "0.8", "drop-exhaust": "0.7", "drop-exhaust-efficiency": "50", "drive": "90", "drop_gauge": tool,
    }  # fmt: skip
    assert client.post(url, filled(cast, **more)).status_code == 303
    runner.drain()
    sent = json.loads(bytes(Submission.objects.get().raw))["payload"]
    assert sent["stations"][0]["wet_bulb"] == {"values": [21.5], "unit": "degF"}
    assert sent["fans"][0]["efficiency"] == pytest.approx(0.55)
    assert sent["fans"][1]["share_in_stream"] == pytest.approx(0.8)
    assert sent["pressure"] == {"value": 24.9, "unit": "inHg"}
    assert sent["added_power"] == {
        "supply_drop": {"value": 0.8, "unit": "in_wc"},
        "exhaust_drop": {"value": 0.7, "unit": "in_wc"},
        "exhaust_efficiency": 0.5,
        "drive": {"value": 90.0, "unit": "W"},
        "instrument": tool,
    }
    held = CurrentVerdict.objects.get(requirement="exhaust_transfer")
    assert held.outcome == "not_given"
    assert "no tracer gas" in held.judgement.result["absence"]["text"]


@pytest.mark.parametrize(
    ("wrong", "name", "said"),
    [
        ({"outdoor-t-2": "2x"}, "outdoor-t-2", "outdoor t 2: This is no number."),
        ({"thermometer": ""}, "thermometer", "thermometer: The instrument is not named."),
        ({f"supply-t-{n}": "" for n in range(1, 5)} | {"supply-h-1": "40"}, "supply-t-1", "The dry bulb is missing"),
        ({"fan-supply-pressure": "2"}, "fan-supply-efficiency", "only together"),
        ({"seal-supply_minus_return": "0.1"}, "gauge", "gauge: The instrument is not named."),
        ({"gas-outdoor": "0.5"}, "gas-supply", "The gas in the supply air is missing."),
        ({"drop-supply": "0.8"}, "drop-exhaust", "The pressure drop of the exhaust stream is missing."),
        ({"gas-outdoor": "1", "gas-supply": "2", "gas-return": "90"}, "gas_kind", "whether this is a tracer gas"),
    ],
)
def test_a_bad_field_is_named_and_nothing_typed_is_lost(
    page: tuple[Cast, Client, str], wrong: dict[str, str], name: str, said: str
) -> None:
    cast, client, url = page
    answer = client.post(url, filled(cast, note="belt was renewed", **wrong))
    text = answer.content.decode()
    assert answer.status_code == 400
    assert said in text
    assert "belt was renewed" in text
    assert 'value="71.6"' in text
    assert 'aria-invalid="true"' in text
    assert not Submission.objects.exists()


def test_a_value_out_of_range_is_kept_and_told(page: tuple[Cast, Client, str]) -> None:
    cast, client, url = page
    answer: Any = client.post(url, filled(cast, **{"return-t-1": "716"}), follow=True)
    assert "cannot be evaluated" in answer.content.decode()
    assert Record.objects.get().needs_attention


def test_metric_asks_in_metric(page: tuple[Cast, Client, str]) -> None:
    cast, client, url = page
    air = {"outdoor": "-5", "supply": "12.5", "return": "22", "exhaust": "1.6"}
    dry = {f"{role}-t-{number}": value for role, value in air.items() for number in range(1, 5)}
    flows = {"flow-supply": "566", "flow-return": "472", "flow-supply-wide": "28", "flow-return-wide": "24"}
    assert client.post(url, filled(cast, display="si", **dry, **flows)).status_code == 303
    runner.drain()
    sent = json.loads(bytes(Submission.objects.get().raw))["payload"]
    assert sent["stations"][0]["dry_bulb"]["unit"] == "degC"
    assert sent["flows"][1]["airflow"] == {"value": 472.0, "unit": "L/s"}
    (measurement,) = JudgedPosition.objects.get().measurements
    effect = next(one for one in measurement["figures"] if one["name"] == "sensible_effectiveness")
    assert effect["value"] == pytest.approx(0.778, abs=0.01)
