"""The airflow form, method by method: what is typed is the payload, and what does not fit is said at its field."""

import json
import re
from typing import Any

import pytest
from django.test import Client

from commissioning.models import CurrentVerdict, JudgedPosition, Record, Submission
from portfolio.jobs import runner
from portfolio.models import DesignEntry
from tests.cast import Cast
from tests.pages.test_field import filled, page

__all__ = ["page"]
pytestmark = pytest.mark.django_db(transaction=True)
NONE = {"supply-1": "", "supply-2": "", "exhaust-1": ""}


def sent(cast: Cast, client: Client, url: str, **typed: str) -> dict[str, Any]:
    answer = client.post(url, filled(cast, **{**NONE, **typed}))
    assert answer.status_code == 303, answer.content.decode()
    payload: dict[str, Any] = json.loads(bytes(Submission.objects.get().raw))["payload"]
    assert not Record.objects.get().needs_attention
    return payload


TRAVERSE = {
    "points-supply": "0.05 0,06 0.05\n0.06 0.05 0.06\n0.05 0.06 0.05",
    "width-supply": "12",
    "height-supply": "18",
    "upstream-supply": "8",
}


def test_a_traverse_of_as_many_points_as_there_are(page: tuple[Cast, Client, str]) -> None:
    cast, client, url = page
    (port,) = sent(cast, client, url, **TRAVERSE)["ports"]
    method = port["method"]
    assert method["method"] == "traverse"
    assert method["readings"] == {"values": [0.05, 0.06, 0.05, 0.06, 0.05, 0.06, 0.05, 0.06, 0.05], "unit": "in_wc"}
    assert method["plane"]["width"] == {"value": 12.0, "unit": "in"}
    assert method["layout"] == "log_tchebycheff"
    assert method["straight_upstream_diameters"] == 8.0
    assert method["straight_downstream_diameters"] is None


def test_a_round_traverse_of_velocities(page: tuple[Cast, Client, str]) -> None:
    cast, client, url = page
    typed = {"points-supply": "800; 850; 900", "diameter-supply": "14", "reads-supply": "velocity", "display": "ip"}
    (port,) = sent(cast, client, url, **typed)["ports"]
    assert port["method"]["readings"] == {"values": [800.0, 850.0, 900.0], "unit": "fpm"}
    assert port["method"]["layout"] == "log_linear"
    assert port["method"]["plane"]["shape"] == "round"


def test_a_station_with_the_other_sizes_and_its_own_instrument(page: tuple[Cast, Client, str]) -> None:
    cast, client, url = page
    other = str(cast.things["instrument"].pk)
    typed = {
        "instrument": "",
        "instrument-supply": other,
        "signals-supply": "0.31 0.32",
        "k-supply": "1780",
        "reference-supply": "0.075",
        "other-k-supply": "1400 2280",
    }
    (port,) = sent(cast, client, url, **typed)["ports"]
    assert port["instrument"] == other
    assert port["method"]["factor"] == {"value": 1780.0, "unit": "cfm/in_wc^0.5"}
    assert [one["value"] for one in port["method"]["other_factors"]] == [1400.0, 2280.0]
    assert port["method"]["reference_density"] == {"value": 0.075, "unit": "lb/ft3"}


def test_a_hood_at_one_port_and_direct_at_the_other(page: tuple[Cast, Client, str]) -> None:
    cast, client, url = page
    typed = {
        "supply-1": "1000", "more-supply": "1010 1005 995", "exhaust-1": "940", "how-supply": "hood",
        "back_pressure": "compensated", "factor": "1.05", "factor_airflow": "990",
    }  # fmt: skip
    supply, exhaust = sent(cast, client, url, **typed)["ports"]
    assert supply["method"]["method"] == "hood"
    assert supply["method"]["readings"]["values"] == [1000.0, 1010.0, 1005.0, 995.0]
    assert supply["method"]["back_pressure"] == "compensated"
    assert supply["method"]["factor_airflow"] == {"value": 990.0, "unit": "cfm"}
    assert exhaust["method"]["method"] == "direct"
    assert "factor" not in exhaust["method"]


def test_what_was_typed_as_a_traverse_is_judged(page: tuple[Cast, Client, str]) -> None:
    """At 1600 m 0.0625 in. over 1 ft² are about 1100 cfm, 910 of standard air: within 10 % of 1000."""
    cast, client, url = page
    sent(cast, client, url, **{**TRAVERSE, "points-supply": "0.0625 " * 25, "height-supply": "12"})
    runner.drain()
    held = CurrentVerdict.objects.get(position=cast.things["position"], requirement="design_airflow", port="supply")
    assert held.outcome == "conforms"
    measured = JudgedPosition.objects.get(pk=cast.things["position"].pk).measurements[0]
    assert measured["method"] == "traverse"


def test_two_methods_are_two_records_of_one_session_and_are_compared(page: tuple[Cast, Client, str]) -> None:
    cast, client, url = page
    sent(cast, client, url, **{**TRAVERSE, "points-supply": "0.0625 " * 25, "height-supply": "12"})
    later = {"id": "0b9c63a8-5d55-4f5e-8f8b-3d7a2f7c7777", "observed_at": "2026-05-04T11:15:00-06:00"}
    # 1096.7 √(0.0625/0.0622) fpm at 1600 m, by 1 ft²: about 1100 cfm of the air as it is
    again = filled(cast, **later, **{"basis": "actual", "supply-1": "1100", "supply-2": "1105"})
    assert client.post(url, again).status_code == 303
    runner.drain()
    held = CurrentVerdict.objects.get(position=cast.things["position"], requirement="two_methods_agree")
    assert held.outcome == "conforms"


def test_co2_is_asked_where_the_design_has_a_line(page: tuple[Cast, Client, str]) -> None:
    cast, client, url = page
    assert 'name="co2"' not in client.get(url).content.decode()
    entry = DesignEntry.objects.get()
    flow = {"value": 500.0, "unit": "cfm"}
    entry.fields["ports"]["supply"]["co2_reset"] = {
        "low_co2": {"value": 800.0, "unit": "ppm"}, "high_co2": {"value": 1000.0, "unit": "ppm"},
        "airflow_at_low": flow, "airflow_at_high": {"value": 1000.0, "unit": "cfm"},
    }  # fmt: skip
    DesignEntry.objects.create(
        revision=entry.revision.__class__.objects.create(
            project=entry.revision.project, number=2, dated="2026-01-06", source="addendum",
            applied_by=entry.revision.applied_by,
        ),
        position=entry.position,
        fields=entry.fields,
    )  # fmt: skip
    assert 'name="co2"' in client.get(url).content.decode()
    typed = {
        "supply-1": "700", "supply-2": "705", "mode": "other", "co2": "900 905", "co2-controller": "910",
        "co2-instrument": str(cast.things["instrument"].pk),
    }  # fmt: skip
    payload = sent(cast, client, url, **typed)
    assert payload["co2"]["readings"] == {"values": [900.0, 905.0], "unit": "ppm"}
    assert payload["co2"]["controller"] == {"value": 910.0, "unit": "ppm"}
    runner.drain()
    held = CurrentVerdict.objects.get(position=cast.things["position"], requirement="co2_reset")
    assert held.outcome == "conforms"  # 800 to 1000 ppm, 500 to 1000 cfm: at 910 ppm 775 cfm, measured 702.5, -9.4 %


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"points-supply": "0.05 0.0x"}, "points supply: “0.0x” is no number."),
        ({"points-supply": "0.05 0.06"}, "width supply: The size of the duct of the supply air is not clear."),
        ({**TRAVERSE, "diameter-supply": "14"}, "The size of the duct of the supply air is not clear."),
        ({"signals-supply": "0.3"}, "k supply: The station's factor K is missing."),
        ({"signals-supply": "0.3", "k-supply": "1780"}, "reference supply: The density for which K holds is missing."),
        ({**TRAVERSE, "supply-1": "1000"}, "how supply: The supply air has readings by two methods."),
        ({"how-supply": "traverse", "supply-1": "1000"}, "The supply air is by traverse, and its readings stand"),
        ({"supply-1": "1000", "co2": "900"}, "co2 instrument: The instrument is not named."),
    ],
)
def test_what_does_not_fit_is_said_and_nothing_typed_is_lost(
    page: tuple[Cast, Client, str], typed: dict[str, str], said: str
) -> None:
    cast, client, url = page
    answer = client.post(url, filled(cast, **{**NONE, **typed}))
    text = answer.content.decode().replace("&#x27;", "'")
    assert answer.status_code == 400
    assert said in text
    assert 'aria-invalid="true"' in text
    for name, value in typed.items():
        if name.startswith(("points", "signals", "more", "co2")):
            assert f">{value}</textarea>" in text
        else:
            assert value in text
    assert not Submission.objects.exists()


def test_each_port_has_its_design_and_last_reading_beside_every_method(page: tuple[Cast, Client, str]) -> None:
    _, client, url = page
    text = client.get(url).content.decode()
    for name in ("points-supply", "signals-exhaust", "k-supply", "width-exhaust", "how-supply", "instrument-exhaust"):
        assert f'name="{name}"' in text
        assert f'for="{name}"' in text
    assert "points-outdoor" not in text  # the design gives the unit no outdoor air
    assert "(in. w.c.)" in text
    assert "(fpm)" in text


@pytest.mark.parametrize("where", ["record", "traverse"])
def test_every_box_has_its_label_and_every_name_is_once(page: tuple[Cast, Client, str], where: str) -> None:
    _, client, url = page
    text = client.get(url if where == "record" else "/traverse?unit=in&diameter=14&mark=1/8").content.decode()
    ids = re.findall(r' id="([^"]+)"', text)
    labelled = set(re.findall(r'<label for="([^"]+)"', text))
    assert len(ids) == len(set(ids))
    assert labelled <= set(ids)
    boxes = [one for one in re.findall(r"<(?:input|select|textarea) [^>]*>", text) if "hidden" not in one]
    for box in boxes:
        named = re.search(r' id="([^"]+)"', box)
        assert 'type="radio"' in box or "aria-label=" in box or (named and named[1] in labelled), box
