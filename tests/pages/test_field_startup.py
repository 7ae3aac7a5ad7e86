"""The start's form: cautions before each step, in the order of the work, nothing lost, what is typed is judged."""

import json
from typing import Any

import pytest
from django.test import Client

from commissioning.models import CurrentVerdict, Submission
from commissioning.pages.field_sheet import NotReadable, Sheet
from commissioning.pages.field_startup import StartupPage
from commissioning.pages.startup_asked import losses_asked, sections, with_another_loss
from portfolio.jobs import runner
from portfolio.models import DesignEntry, DesignRevision
from tests import envelopes
from tests.cast import Cast

FIELDS_IN_THREE_MINUTES = 45  # four seconds for each; common practice, no source
SMALL = {
    "fans": {"supply": {}, "exhaust": {}},
    "equipment": {"unit": {"options": ["outdoor_damper"], "field_sensors": []}},
}
FAN = {
    "command": "on",
    "commanded": "45",
    "current": "flows",
    "air": "moves",
    "air_by": "pressure_rise",
    "air_at": "55,5",
    "rotation": "correct",
    "rotation_by": "run_down",
    "electrical": "none_apply",
}
TYPED = {
    **{f"permissive-{one}": "given" for one in ("power", "enable", "schedule", "safeties", "dampers_free", "doors")},
    **{f"permissive-{one}": "not_applicable" for one in ("network", "external_interlock", "smoke_input")},
    "outdoor_damper-opening": "seen",
    "outdoor_damper-proof": "end_switch",
    "outdoor_damper-proven": "42",
    **{f"{fan}-{name}": value for fan in ("supply", "exhaust") for name, value in FAN.items()},
}


def read(**changes: str) -> dict[str, Any]:
    typed = {name: value for name, value in (TYPED | changes).items() if value}
    return StartupPage().readings(Sheet("", "", "", "2026-05-04T10:15:00-06:00", "ip", typed))


def test_a_small_unit_is_asked_what_can_be_answered_in_three_minutes() -> None:
    shown = [one for one in sections(SMALL, "ip", {}) if not one.is_folded]
    assert [one.title for one in shown] == ["Before the start", "Outdoor air damper", "Supply fan", "Exhaust fan"]
    assert sum(len(one.items) for one in shown) <= FIELDS_IN_THREE_MINUTES
    assert {item.name for one in shown for item in one.items} >= set(TYPED)
    assert all(one.hazards for one in shown[1:])
    lone = sections({"fans": {"exhaust": {}}, "equipment": {"unit": {"options": []}}}, "ip", {})
    assert [one.title for one in lone if not one.is_folded] == ["Before the start", "Exhaust fan"]


def test_a_fold_with_something_in_it_stays_open() -> None:
    held = {"cause": "no_power", "temporary-since": "2026-05-04"}
    assert [one.title for one in sections(SMALL, "ip", held) if one.is_folded and one.is_open] == [
        "It does not run",
        "Temporary operation",
    ]


def test_what_is_typed_is_the_payload_and_no_more() -> None:
    made = read()
    assert made["dampers"] == [
        {"damper": "outdoor", "opening": "seen", "proof": "end_switch", "proven": {"value": 42.0, "unit": "s"}}
    ]
    assert made["fans"][0]["air"] == {"seen": "moves", "by": "pressure_rise", "at": {"value": 55.5, "unit": "s"}}
    assert (made["stage"], made["session"]["id"]) == ("final", "start")
    assert not {"limits", "not_running", "temporary_operation"} & set(made)


def test_losses_settling_delays_cause_and_temporary_operation_are_read() -> None:
    made = read(
        **{
            "supply-lost-1": "100", "supply-alarm-1": "131", "supply-purpose-1": "yes",
            "supply-after": "10", "supply-rise": "0.9",
            "exhaust-air": "still", "exhaust-air_by": "", "exhaust-air_at": "",
            "delay-fan": "30", "delay-source": "Sequence 4.2",
            "cause": "fan_does_not_turn", "cause-note": "belt off", "cause-company": "Orme Mechanical",
            "temporary-since": "2026-05-04", "temporary-filters": "construction", "temporary-allowed_by": "Ysolde Marr",
            "temporary-hours_run": "12,5", "controller": "none",
        }
    )  # fmt: skip
    assert made["fans"][0]["lost"] == [
        {"at": {"value": 100.0, "unit": "s"}, "alarm": {"value": 131.0, "unit": "s"}, "on_purpose": True}
    ]
    assert made["fans"][0]["settled"]["pressure_rise"] == {"value": 0.9, "unit": "in_wc"}
    assert made["limits"] == {"fan_proof": {"value": 30.0, "unit": "s"}, "source": "Sequence 4.2"}
    assert made["not_running"] == {"cause": "fan_does_not_turn", "note": "belt off", "company": "Orme Mechanical"}
    assert (made["temporary_operation"]["hours_run"], made["controller"]) == (12.5, "none")


@pytest.mark.django_db
def test_another_loss_of_proof_is_asked_for_as_often_as_it_is_needed_and_sends_nothing(cast: Cast) -> None:
    client = Client()
    client.force_login(cast.person("own", "technician"))
    url = f"/units/{cast.things['position'].pk}/record/startup"
    assert 'name="supply-lost-3"' not in client.get(url).content.decode()
    frame = {"id": "0b9c63a8-5d55-4f5e-8f8b-3d7a2f7c7779", "observed_at": "2026-05-04T10:15:00-06:00", "display": "ip"}
    losses = {f"supply-lost-{n}": f"{100 * n}" for n in (1, 2)} | {f"supply-lasted-{n}": "3" for n in (1, 2)}
    for count in (3, 4):
        kept = {**losses, "supply-losses": str(count - 1), "exhaust-losses": "2"}
        page = client.post(url, {**frame, **TYPED, **kept, "more": "supply"})
        assert page.status_code == 200
        shown = page.content.decode()
        assert f'name="supply-losses" value="{count}"' in shown
        assert f'name="supply-lost-{count}" inputmode="decimal" value=""' in shown
        assert 'name="supply-lost-2" inputmode="decimal" value="200"' in shown
        assert 'name="exhaust-lost-3"' not in shown
        assert '<details id="lost-supply" open>' in shown
        losses |= {f"supply-lost-{count}": f"{100 * count}", f"supply-lasted-{count}": "3"}
    assert not Submission.objects.exists()
    assert client.post(url, {**frame, **TYPED, **losses, "supply-losses": "4"}).status_code == 303
    lost = json.loads(bytes(Submission.objects.get().raw))["payload"]["fans"][0]["lost"]
    assert [one["at"]["value"] for one in lost] == [100.0, 200.0, 300.0, 400.0]


def test_a_record_takes_fifty_losses_and_the_form_asks_for_no_more() -> None:
    assert list(losses_asked(with_another_loss({"more": "supply", "supply-losses": "50"}), "supply"))[-1] == 50
    assert list(losses_asked({"supply-losses": "many"}, "supply")) == [1, 2]
    assert with_another_loss({"more": "relief"}) == {"more": "relief"}
    with pytest.raises(NotReadable) as fault:
        read(**{f"supply-lost-{n}": f"{60 + n}" for n in range(1, 52)})
    assert "50" in fault.value.reason


@pytest.mark.parametrize(
    ("changes", "field", "told"),
    [
        (dict.fromkeys(TYPED, ""), "permissive-power", "Nothing was seen or done in it"),
        ({"supply-command": ""}, "supply-command", "whether the fan was commanded"),
        ({"supply-air_by": ""}, "supply-air", "by what it was seen"),
        ({"exhaust-rotation_by": ""}, "exhaust-command", "how its rotation was seen"),
        ({"outdoor_damper-proof": ""}, "outdoor_damper-opening", "say by what"),
        ({"outdoor_damper-proven": "soon"}, "outdoor_damper-proven", "no number"),
        ({"supply-lasted-1": "12"}, "supply-lost-1", "when proof was lost"),
        ({"delay-fan": "30"}, "delay-source", "who gave these delays"),
        ({"cause-note": "dark"}, "cause", "why it does not run"),
        ({"cause": "other"}, "cause", "say in the note which"),
        ({"temporary-since": "2026-05-04"}, "temporary-filters", "with which filters"),
        (
            {
                "temporary-since": "2026-05-04",
                "temporary-until": "May",
                "temporary-filters": "none",
                "temporary-allowed_by": "Ysolde Marr",
            },
            "temporary-until",
            "no date",
        ),
    ],
)
def test_what_cannot_be_read_is_told_at_its_field_and_nothing_is_sent(
    changes: dict[str, str], field: str, told: str
) -> None:
    with pytest.raises(NotReadable) as fault:
        read(**changes)
    assert fault.value.name == field
    assert told in fault.value.reason
    assert fault.value.remedy


@pytest.mark.django_db(transaction=True)
def test_a_start_is_typed_kept_once_and_judged(cast: Cast) -> None:
    revision = DesignRevision.objects.create(
        project=cast.things["project"], number=1, dated="2026-01-05", source="design",
        applied_by=cast.person("own", "lead"),
    )  # fmt: skip
    position = cast.things["position"]
    DesignEntry.objects.create(
        revision=revision, position=position, fields=envelopes.design({"supply": 1000.0}) | SMALL
    )
    client = Client()
    client.force_login(cast.person("own", "technician"))
    url = f"/units/{position.pk}/record/startup"
    page = client.get(url).content.decode()
    assert page.index("Nobody is inside, guards are on") < page.index('class="fields field"')
    assert page.index("An actuator moves without warning") < page.index('name="outdoor_damper-opening"')
    assert page.index("windmill with the power off") < page.index('name="supply-command"')
    frame = {"id": "0b9c63a8-5d55-4f5e-8f8b-3d7a2f7c7777", "observed_at": "2026-05-04T10:15:00-06:00", "display": "ip"}
    wrong = client.post(url, {**frame, **TYPED, "supply-air_by": ""})
    assert wrong.status_code == 400
    assert 'value="42"' in wrong.content.decode()
    assert client.post(url, {**frame, **TYPED}).status_code == 303
    assert client.post(url, {**frame, **TYPED}).status_code == 303
    runner.drain()
    held = {(one.requirement, one.port): one.outcome for one in CurrentVerdict.objects.filter(position=position)}
    assert held["start_sequence", ""] == held["fan_proven", "supply"] == held["fan_proven", "exhaust"] == "conforms"
    assert held["started", ""] == "not_due"  # its settings as left are not on record
    assert json.loads(bytes(Submission.objects.get().raw))["kind"] == "startup"


@pytest.mark.django_db(transaction=True)
def test_a_final_of_temporary_operation_says_on_the_unit_page_how_it_counts(cast: Cast) -> None:
    who, unit, tool = cast.person("own", "technician"), cast.things["position"], cast.things["instrument"]
    air = envelopes.envelope("air", position=unit.pk, person=who.pk, instrument=tool.pk, flows={"supply": 1000.0})
    assert cast.actor("own", "technician").call("POST", "submissions", envelopes.raw(air)).status_code == 201
    client = Client()
    client.force_login(who)
    frame = {"id": "0b9c63a8-5d55-4f5e-8f8b-3d7a2f7c7778", "observed_at": "2026-05-04T08:00:00-06:00", "display": "ip"}
    period = {"since": "2026-05-04", "filters": "construction", "allowed_by": "Ysolde Marr"}
    typed = {f"temporary-{name}": value for name, value in period.items()}
    assert client.post(f"/units/{unit.pk}/record/startup", {**frame, **typed}).status_code == 303
    runner.drain()
    page = client.get(f"/units/{unit.pk}").content.decode()
    assert "airflow, sent as final, counted as preliminary: temporary operation, session AL-1" in page
