"""The electrical form: the caution first, only what can apply is asked, what is typed is judged, nothing is lost."""

import json
from typing import Any

import pytest
from django.test import Client

from commissioning.models import CurrentVerdict, Record, Submission
from portfolio.jobs import runner
from portfolio.models import DesignEntry, DesignRevision
from tests import envelopes
from tests.cast import Cast

pytestmark = pytest.mark.django_db(transaction=True)
MOTOR = {
    "motor": "three_phase",
    "phases": 3,
    "nameplate_current": {"value": 10.0, "unit": "A"},
    "voltage": {"value": 460.0, "unit": "V"},
}


def opened(cast: Cast, **fans: dict[str, Any]) -> tuple[Client, str]:
    revision = DesignRevision.objects.create(
        project=cast.things["project"], number=1, dated="2026-01-05", source="design",
        applied_by=cast.person("own", "lead"),
    )  # fmt: skip
    fields = envelopes.design({"supply": 1000.0}) | {"fans": fans}
    DesignEntry.objects.create(revision=revision, position=cast.things["position"], fields=fields)
    client = Client()
    client.force_login(cast.person("own", "technician"))
    return client, f"/units/{cast.things['position'].pk}/record/electrical"


def filled(cast: Cast, **rest: str) -> dict[str, str]:
    tool = str(cast.things["instrument"].pk)
    return {
        "id": "0b9c63a8-5d55-4f5e-8f8b-3d7a2f7c5555",
        "observed_at": "2026-05-04T10:15:00-06:00",
        "display": "ip",
        "meter": tool,
        "tachometer": tool,
        "stage": "final",
        "session": "AL-1",
        "supply-read_at": "motor",
        "supply-rotation": "reversed",
        "supply-protection": "relay",
        "supply-setting": "11",
        "supply-between": "lines",
        "supply-volts-1": "462",
        "supply-volts-2": "463",
        "supply-volts-3": "455",
        "supply-amps-1": "9,4",
        "supply-amps-2": "9.2",
        "supply-amps-3": "9.1",
        "supply-speed": "1180",
        "supply-speed-of": "fan",
        "supply-speed-by": "strobe",
        **rest,
    }


def test_the_caution_stands_before_anything_is_asked(cast: Cast) -> None:
    client, url = opened(cast, supply=MOTOR)
    text = client.get(url).content.decode()
    assert text.index("only by a qualified person") < text.index('class="fields field"')
    assert "holds its charge" in text
    assert "Nothing here says that a panel is safe to open" in text
    assert "Read with a meter, by a qualified person" in text


@pytest.mark.parametrize(
    ("motor", "asked", "not_asked"),
    [
        ({"motor": "three_phase"}, ("volts-3", "amps-3", "setting", "drive-current"), ()),
        ({"motor": "single_phase"}, ("volts-1", "amps-1", "setting"), ("volts-2", "amps-2")),
        (
            {"motor": "electronically_commutated", "phases": 1},
            ("volts-1", "amps-1", "speed"),
            ("volts-2", "amps-2", "setting", "drive-current"),
        ),
        ({"motor": "electronically_commutated", "phases": 3}, ("volts-3", "amps-3"), ("setting",)),
    ],
)
def test_only_what_can_apply_to_the_motor_is_asked(
    cast: Cast, motor: dict[str, Any], asked: tuple[str, ...], not_asked: tuple[str, ...]
) -> None:
    client, url = opened(cast, supply=motor)
    text = client.get(url).content.decode()
    assert [name for name in asked if f'name="supply-{name}"' not in text] == []
    assert [name for name in not_asked if f'name="supply-{name}"' in text] == []
    assert 'name="exhaust-amps-1"' not in text  # the design has no exhaust fan
    if motor["motor"] == "electronically_commutated":
        assert "Not applicable, overload setting: " in text


def test_what_is_typed_is_judged(cast: Cast) -> None:
    client, url = opened(cast, supply=MOTOR)
    assert client.post(url, filled(cast)).status_code == 303
    runner.drain()
    held = {
        one.requirement: one.outcome
        for one in CurrentVerdict.objects.filter(position=cast.things["position"], port="supply")
    }
    assert held["fan_rotation"] == "does_not_conform"
    assert held["motor_current"] == held["overload_setting"] == held["motor_voltage"] == "conforms"
    assert held["voltage_unbalance"] == "conforms"  # 1.09 % at a load of 0.94 is below 2.14 %
    payload = json.loads(bytes(Submission.objects.get().raw))["payload"]
    [fan] = payload["fans"]
    assert fan["current"]["readings"] == {"values": [9.4, 9.2, 9.1], "unit": "A"}
    assert fan["speed"]["by"] == "strobe"
    text = client.get(url).content.decode()
    assert "Current, leg 1, before 9.40 A" in text
    assert "Overload set to, before 11.0 A" in text


def test_a_drive_and_a_plate_are_read_in_the_units_of_the_form(cast: Cast) -> None:
    client, url = opened(cast, supply={**MOTOR, "drive": True})
    typed = {
        "supply-read_at": "drive_input",
        "supply-drive-frequency": "52",
        "supply-drive-current": "9.1",
        "supply-plate-motor": "three_phase",
        "supply-plate-power": "7.5",
        "supply-plate-current": "9.8",
    }
    assert client.post(url, filled(cast, **typed)).status_code == 303
    runner.drain()
    [fan] = json.loads(bytes(Submission.objects.get().raw))["payload"]["fans"]
    assert fan["nameplate"]["power"] == {"value": 7.5, "unit": "hp"}
    assert fan["drive"] == {"frequency": {"value": 52.0, "unit": "Hz"}, "current": {"value": 9.1, "unit": "A"}}
    verdict = CurrentVerdict.objects.get(position=cast.things["position"], requirement="motor_current", port="supply")
    assert verdict.judgement.result["value"] == pytest.approx(9.1 / 9.8)


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"supply-amps-2": "9x"}, "supply amps 2: This is no number."),
        ({"supply-amps-2": ""}, "supply amps 2: Two of three are filled in."),
        ({"meter": ""}, "meter: The instrument is not named."),
        ({"tachometer": ""}, "tachometer: The instrument is not named."),
        ({"supply-protection": "not_seen"}, "supply protection: It is not said what was set."),
        ({"supersedes": "0b9c63a8-5d55-4f5e-8f8b-3d7a2f7c2222"}, "A correction needs its reason."),
    ],
)
def test_a_bad_field_is_named_and_nothing_typed_is_lost(cast: Cast, wrong: dict[str, str], said: str) -> None:
    client, url = opened(cast, supply=MOTOR)
    answer = client.post(url, filled(cast, note="breaker 12, panel 2", **wrong))
    text = answer.content.decode()
    assert answer.status_code == 400
    assert said in text
    assert "breaker 12, panel 2" in text
    assert 'value="463"' in text
    assert 'value="reversed" checked' in text
    assert not Submission.objects.exists()


def test_nothing_at_all_is_no_record(cast: Cast) -> None:
    client, url = opened(cast, supply=MOTOR)
    answer = client.post(url, {"display": "ip", "stage": "final"})
    assert answer.status_code == 400
    assert "Nothing is filled in of any fan." in answer.content.decode()


def test_sent_twice_it_is_kept_once_and_what_cannot_be_is_kept_and_told(cast: Cast) -> None:
    client, url = opened(cast, supply=MOTOR)
    for _ in range(2):
        assert client.post(url, filled(cast)).status_code == 303
    assert Record.objects.count() == 1
    other = {"id": "0b9c63a8-5d55-4f5e-8f8b-3d7a2f7c6666", "supply-volts-1": "46200"}
    answer: Any = client.post(url, filled(cast, **other), follow=True)
    assert "cannot be evaluated" in answer.content.decode()
