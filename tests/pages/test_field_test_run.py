"""The form of a functional test: a plan with reasons, one step to a screen, only what is answered is sent."""

import json
from typing import Any

import pytest
from django.test import Client

from commissioning.catalogue.procedures import LIBRARY
from commissioning.models import CurrentVerdict, Issue, Record, Submission
from portfolio.jobs import runner
from portfolio.models import DesignEntry, DesignRevision, Standing
from tests import envelopes
from tests.cast import Cast

pytestmark = pytest.mark.django_db(transaction=True)
EQUIPMENT = {"unit": {"options": ["fixed_core"], "tests": ["power"]}}
POWER = LIBRARY.procedures["power"]
IDS = iter(f"0b9c63a8-5d55-4f5e-8f8b-3d7a2f7d{n:04d}" for n in range(1000, 9999))


def opened(cast: Cast) -> tuple[Client, str]:
    place = cast.things["position"]
    revision = DesignRevision.objects.create(
        project=cast.things["project"], number=1, dated="2026-01-05", source="design",
        applied_by=cast.person("own", "lead"),
    )  # fmt: skip
    fields = envelopes.design({"supply": 1000.0}) | {"equipment": EQUIPMENT}
    DesignEntry.objects.create(revision=revision, position=place, fields=fields)
    client = Client()
    client.force_login(cast.person("own", "technician"))
    return client, f"/units/{place.pk}/record/test_run"


def sent(client: Client, url: str, **typed: str) -> Any:
    fields = {"id": next(IDS), "observed_at": "2026-05-04T10:15:00-06:00", "display": "ip", "procedure": "power"}
    answer = client.post(url, fields | {"run": "FT-1"} | {name.replace("__", "-"): one for name, one in typed.items()})
    runner.drain()
    return answer


def payload() -> dict[str, Any]:
    held: dict[str, Any] = json.loads(bytes(Submission.objects.latest("received_at").raw))["payload"]
    return held


def test_the_plan_says_of_every_procedure_whether_it_is_due_and_why_not(cast: Cast) -> None:
    client, url = opened(cast)
    page = client.get(url).content.decode()
    assert page.count('<a href="?procedure=') == len(LIBRARY.procedures)
    due = page[page.index("Due: the design lists them") : page.index("They apply, and no list names them")]
    assert "Power loss and return<span>10 steps" in due
    assert "It has neither a bypass nor a wheel that could stop." in page
    assert "No demand moves its supply air." not in page  # nobody read its settings: that is not known
    assert "Send: kept once received" not in page


def test_each_step_has_its_caution_before_it_and_a_way_on_and_back_that_loses_nothing(cast: Cast) -> None:
    client, url = opened(cast)
    page = client.get(f"{url}?procedure=power&run=FT-7").content.decode()
    assert 'name="run" value="FT-7"' in page
    assert page.index("Caution: live parts.") < page.index('id="s-1"')
    for number, step in enumerate(POWER.steps, start=1):
        section = page[page.index(f'id="s-{number}"') :]
        assert step.do.split(".")[0].replace("'", "&#x27;") in section
        if step.caution:
            assert section.index('class="caution"') < section.index("<h3")
        assert f'href="#s-{number + 1}"' in section or number == len(POWER.steps)
        assert f'href="#s-{number - 1}"' in section or number == 1
    assert 'method="get"' not in page  # one form, sent once, at its end


def test_only_what_is_answered_is_sent_and_a_failing_step_opens_a_draft(cast: Cast) -> None:
    client, url = opened(cast)
    answer = sent(
        client, url, a__stopped_first="yes", a__kept="no", note__kept="schedule was empty", n__clock_kept="12",
        first__power_returns="10:15:00", then__power_returns="10:16:30", a__isolated="cannot",
        why__isolated="no permit today", person__electrical="Tove Brandeis", company__electrical="Halvard Electric",
        person__other1="Maren Tollefsby", company__other1="the owner", role__other1="facility manager",
        signed="Idris Vane", photo__kept="",
    )  # fmt: skip
    assert answer.status_code == 303
    made = payload()
    assert [one["step"] for one in made["answers"]] == [
        "stopped_first", "isolated", "power_returns", "kept", "clock_kept",
    ]  # fmt: skip
    held = {one["step"]: one for one in made["answers"]}
    assert held["power_returns"]["times"]["then"] == {"value": 36990.0, "unit": "s"}  # 10 h 16 min 30 s
    assert held["isolated"]["cannot"] == "no permit today"
    assert made["witnesses"][0] == {
        "name": "Tove Brandeis", "company": "Halvard Electric", "trade": "electrical", "role": "",
    }  # fmt: skip
    assert made["signature"] == {"name": "Idris Vane", "on": "2026-05-04"}
    assert Record.objects.get().session == "FT-1"
    assert Issue.objects.get().title.endswith("power test: functional tests not met")
    plan = client.get(url).content.decode()
    first, number = Submission.objects.get().client_id, Issue.objects.get().number
    assert f"&amp;retest={first}&amp;issue={number}" in plan
    page = client.get(f"{url}?procedure=power&retest={first}&issue={number}").content.decode()
    assert "Last time: not as expected." in page
    assert f"Run before: FT-1. This is a retest for issue {number}." in page
    later = {"observed_at": "2026-05-06T10:15:00-06:00", "retest": str(first), "issue": str(number), "run": "FT-2"}
    assert sent(client, url, a__kept="no", **later).status_code == 303
    assert payload()["retest_of"] == {"id": str(first), "issue": number}


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"procedure": "levitation"}, "It is not said which test this is."),
        ({}, "No step is answered."),
        ({"note__kept": "odd"}, "There is a note or a photo of"),
        ({"a__kept": "cannot"}, "It is not said why"),
        ({"first__power_returns": "10:15:00"}, "One of the two times of"),
        ({"first__power_returns": "23:59:50", "then__power_returns": "00:00:10"}, "lie more than half a day apart."),
        ({"n__clock_kept": "late"}, "This is no number."),
        ({"a__kept": "yes", "how": "aborted", "reason_aborted": "smoke"}, "in which state the unit was left"),
        ({"how": "deferred", "condition": "when it is cold", "pays": "Quarrel", "owner": "Maren"}, "by when"),
        ({"how": "wasted", "cause": "no electrician came"}, "by whose doing"),
        ({"a__kept": "yes", "person__electrical": "Tove"}, "A witness has a name and a company."),
        ({"a__kept": "yes", "retest": "the last one"}, "There is no such run."),
        ({"a__kept": "yes", "sim__kept": "by a battery"}, "is told by half"),
    ],
)
def test_a_bad_field_is_named_and_nothing_typed_is_lost(cast: Cast, wrong: dict[str, str], said: str) -> None:
    client, url = opened(cast)
    answer = sent(client, url, safe_state="", note="panel 2", signed="Idris Vane", **wrong)
    page = answer.content.decode()
    assert answer.status_code == 400
    assert said in page
    assert wrong.get("procedure") or 'value="Idris Vane"' in page
    assert not Submission.objects.exists()


def test_a_deferral_is_told_with_its_owner_and_the_unit_waits_for_it(cast: Cast) -> None:
    client, url = opened(cast)
    given = {"condition": "when the electrician is back", "pays": "Quarrel", "owner": "Maren", "by": "2026-06-01"}
    assert sent(client, url, how="deferred", **given).status_code == 303
    assert payload()["deferred"]["by"] == "2026-06-01"
    held = CurrentVerdict.objects.get(position=cast.things["position"], requirement="functional_tests")
    assert (held.port, held.outcome) == ("power", "not_due")
    unit = client.get(f"/units/{cast.things['position'].pk}").content.decode()
    assert "Maren sees to it by 2026-06-01; Quarrel pays the return." in unit
    assert not Issue.objects.exists()
    standing = Standing.objects.get(position=cast.things["position"])
    assert (standing.code, standing.sentence) == ("preliminary", "Final readings are missing at supply, the unit.")
