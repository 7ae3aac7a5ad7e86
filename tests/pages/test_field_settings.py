"""The settings form: fifteen at once, the rest folded; what is typed is judged, nothing is lost, no secret is kept."""

import hashlib
import json

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from commissioning.dossier.settings.catalogue import CATALOGUE
from commissioning.models import CurrentVerdict, JudgedPosition, Record, Submission
from portfolio.jobs import runner
from tests.cast import Cast
from tests.portfolio.photographs import jpeg

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def page(cast: Cast) -> tuple[Cast, Client, str]:
    client = Client()
    client.force_login(cast.person("own", "technician"))
    return cast, client, f"/units/{cast.things['position'].pk}/record/settings"


def filled(**rest: str) -> dict[str, str]:
    return {
        "id": "0b9c63a8-5d55-4f5e-8f8b-3d7a2f7c6666",
        "observed_at": "2026-05-04T10:15:00-06:00",
        "display": "ip",
        "stage": "final",
        "session": "AL-1",
        "moment": "as_left",
        "set-enabling": "schedule",
        "set-supply_control": "constant_speed",
        "set-supply_speed": "72",
        "set-supply_minimum_speed": "30",
        "set-exhaust_control": "follows_supply_by_speed_ratio",
        "set-exhaust_ratio": "80",
        "set-exhaust_minimum_speed": "25",
        "set-device_instance": "30021",
        "set-frost_limit": "35,6",
        "set-option_dampers": "yes",
        "set-option_heating": "no",
        "controller_time": "2026-05-04T10:18:00",
        "true_time": "2026-05-04T10:17",
        "winter": "-4",
        "now-power": "on",
        **rest,
    }


def payload() -> dict[str, object]:
    held: dict[str, object] = json.loads(bytes(Submission.objects.get().raw))["payload"]
    return held


def test_the_fifteen_stand_open_and_the_rest_is_folded(page: tuple[Cast, Client, str]) -> None:
    _, client, url = page
    text = client.get(url).content.decode()
    first = text.index("The fifteen that matter most")
    folded = text.index("<details>")
    assert text.index("Caution: A fan that starts") < first < folded
    for code, setting in CATALOGUE.settings.items():
        assert text.count(f'name="set-{code}"') == 1
        assert (text.index(f'name="set-{code}"') < folded) is setting.first
    assert "Never type a password" in text
    assert "Outdoor air damper" not in text  # the state of dampers is no setting


def test_what_is_typed_becomes_a_record_and_is_judged(page: tuple[Cast, Client, str]) -> None:
    """0.8 of 30 % is 24 %, under the exhaust fan's 25 %; the clock is a minute fast."""
    cast, client, url = page
    assert client.post(url, filled()).status_code == 303
    held = payload()
    values = held["values"]
    assert isinstance(values, dict)
    assert values["exhaust_ratio"] == {"value": 80, "unit": "%"}
    assert values["frost_limit"] == {"value": 35.6, "unit": "degF"}
    assert (values["device_instance"], values["option_dampers"], values["option_heating"]) == (30021, True, False)
    assert set(values) == {name.removeprefix("set-") for name in filled() if name.startswith("set-")}
    assert (held["controller_time"], held["true_time"]) == ("2026-05-04T10:18:00", "2026-05-04T10:17:00-06:00")
    assert held["now"] == {"power": "on"}
    record = Record.objects.get()
    assert (record.kind, record.is_final, record.needs_attention) == ("settings", True, False)
    runner.drain()
    verdict = CurrentVerdict.objects.get(requirement="settings_consistent")
    result = verdict.judgement.result
    assert [one["code"] for one in result["facts"]["findings"]] == ["N40"]
    [measured] = [one for one in JudgedPosition.objects.get().measurements if one["kind"] == "settings"]
    assert measured["facts"]["values"]["frost_limit"] == pytest.approx(2.0)
    shown = client.get(f"/units/{cast.things['position'].pk}").content.decode()
    assert "negative at low load only" in shown
    assert "as left, 11 settings" in shown
    assert "Exhaust to supply ratio, before 80 %" in client.get(url).content.decode()


def test_in_metric_it_is_asked_and_kept_in_metric(page: tuple[Cast, Client, str]) -> None:
    _, client, url = page
    client.post(url, filled(display="si", **{"set-frost_limit": "2", "set-supply_airflow": "470"}))
    values = payload()["values"]
    assert isinstance(values, dict)
    assert values["frost_limit"] == {"value": 2, "unit": "degC"}
    assert values["supply_airflow"] == {"value": 470, "unit": "L/s"}


@pytest.mark.parametrize(
    ("changes", "said", "wrong"),
    [
        ({"moment": ""}, "It is not said of which moment", "moment"),
        ({"set-supply_speed": "fast"}, "This is no number", "set-supply_speed"),
        ({"true_time": ""}, "One of the two clocks is missing", "true_time"),
        ({"controller_time": "ten past"}, "This is no date and time", "controller_time"),
    ],
)
def test_a_field_that_cannot_be_read_is_named_and_nothing_is_lost(
    page: tuple[Cast, Client, str], changes: dict[str, str], said: str, wrong: str
) -> None:
    _, client, url = page
    given = client.post(url, filled(**changes))
    text = given.content.decode()
    assert given.status_code == 400
    assert said in text
    assert 'aria-invalid="true"' in text
    assert f'name="{wrong}"' in text
    assert 'value="30021"' in text
    assert '<option value="schedule" selected>' in text
    assert '<option value="yes" selected>' in text
    assert Submission.objects.count() == 0


def test_an_empty_form_says_what_is_missing(page: tuple[Cast, Client, str]) -> None:
    _, client, url = page
    given = client.post(url, {})
    assert given.status_code == 400
    assert "No setting is filled in" in given.content.decode()


def test_a_group_with_something_typed_stands_open_again(page: tuple[Cast, Client, str]) -> None:
    _, client, url = page
    text = client.post(url, filled(moment="")).content.decode()
    assert text.count("<details open>") == 1  # options: dampers and heating


@pytest.mark.parametrize("changes", [{"note": "to get in: pin 4711"}, {"set-internet_address": "password=horse77"}])
def test_a_password_is_refused_and_nothing_of_it_is_kept(
    page: tuple[Cast, Client, str], changes: dict[str, str]
) -> None:
    _, client, url = page
    given = client.post(url, filled(**changes))
    assert given.status_code == 422
    assert "Nothing was kept: leave it out" in given.content.decode()
    assert Submission.objects.count() == 0
    assert Record.objects.count() == 0


def test_photos_of_the_controllers_pages_go_with_the_record_and_are_not_lost(page: tuple[Cast, Client, str]) -> None:
    cast, client, url = page
    sha256 = hashlib.sha256(jpeg()).hexdigest()
    given = client.post(url, {**filled(moment=""), "photo": SimpleUploadedFile("page.jpg", jpeg())})
    assert given.status_code == 400
    assert f'name="photo-{sha256}" value="{sha256}"' in given.content.decode()
    assert client.post(url, filled(**{f"photo-{sha256}": sha256})).status_code == 303
    assert json.loads(bytes(Submission.objects.get().raw))["photos"] == [{"sha256": sha256, "caption": ""}]
    runner.drain()
    assert f"/photos/{sha256}" in client.get(f"/units/{cast.things['position'].pk}").content.decode()


def test_what_is_no_photo_is_refused_by_name(page: tuple[Cast, Client, str]) -> None:
    _, client, url = page
    given = client.post(url, {**filled(), "photo": SimpleUploadedFile("page.pdf", b"%PDF-1.7")})
    assert given.status_code == 400
    assert "A photo is a JPEG or a PNG file" in given.content.decode()
    assert Submission.objects.count() == 0


def test_a_changed_setting_names_the_functional_tests_that_are_run_again(page: tuple[Cast, Client, str]) -> None:
    """Of a run of the interlock and one of power loss, the exhaust ratio concerns the interlock alone."""
    _, client, url = page
    assert client.post(url, filled()).status_code == 303
    runner.drain()
    held = JudgedPosition.objects.get()
    held.measurements += [{"kind": "test_run", "facts": {"procedure": code}} for code in ("interlock", "power")]
    held.save(update_fields=["measurements"])
    again = {"id": "0b9c63a8-5d55-4f5e-8f8b-3d7a2f7c7777", "set-exhaust_ratio": "90"}
    assert client.post(url, filled(**again)).status_code == 303
    told = client.get("/traverse").content.decode()
    assert "Run again, for a changed setting: Supply and exhaust interlock." in told
