"""A contractor answers the items of its trade, in its company's name: by the form, and no further by the API."""

from __future__ import annotations

import json
from typing import Any

import pytest

from commissioning.evidence import remake
from commissioning.evidence.accept import Kept, Sender, accept
from commissioning.models import CurrentVerdict, JudgedPosition, Record
from portfolio.jobs import runner
from portfolio.models import ProjectConventions
from tests.cast import Cast
from tests.kinds.checklist_records import no, release, signoff, yes
from tests.pages.test_field_checklist import IDS, opened, payload, sent, text

pytestmark = pytest.mark.django_db(transaction=True)


def submitted(cast: Cast, who: str = "contractor", **rest: Any) -> Any:
    """One envelope, as an app of the person sends it."""
    person, fields = cast.person("own", who), dict(rest)
    made = {
        "schema": "ventfolio/envelope/1",
        "id": next(IDS),
        "kind": fields.pop("kind", "checklist"),
        "position": str(cast.things["position"].pk),
        "observed_at": "2026-05-04T10:15:00-06:00",
        "observed_by": str(person.pk),
        **({"supersedes": fields.pop("supersedes")} if "supersedes" in fields else {}),
        "payload": fields,
    }
    outcome = accept(Sender(person), [json.dumps(made).encode()])[0]
    runner.drain()
    return outcome


def problems(outcome: Any) -> list[tuple[str, str]]:
    assert isinstance(outcome, Kept)
    return [(one["pointer"], one["reason"]) for one in json.loads(outcome.receipt)["problems"]]


def test_the_form_asks_a_contractor_its_own_trade_and_sends_it_as_its_company_s_word(cast: Cast) -> None:
    client, url = opened(cast, "contractor")
    company = cast.things["company"]
    page = text(client, url)
    assert 'name="a-level"' in page
    assert 'name="a-grounded"' not in page  # electrical
    assert f"You answer for {company.name}, mechanical" in page
    assert sent(client, url, a__level="no", a__grounded="no").status_code == 303
    assert payload()["company"] == company.name
    assert [one["item"] for one in payload()["answers"]] == ["level"]
    measured = JudgedPosition.objects.get(pk=cast.things["position"].pk).measurements
    assert [one["grade"] for one in measured] == ["contractor"]
    unit = client.get(f"/units/{cast.things['position'].pk}").content.decode()
    assert "Answer the checklist for your trade" in unit
    assert f"no, 2026-05-04 10:15, {company.name}" in unit


def test_what_is_another_trade_s_is_told_item_by_item_and_nothing_of_the_record_counts(cast: Cast) -> None:
    opened(cast)
    name = cast.things["company"].name
    told = problems(
        submitted(
            cast,
            company=name,
            answers=[*yes("level"), no("grounded")],
            releases=[release("grounded", company=name), release("belt_guard")],
            signoffs=[signoff("electrical")],
        )
    )
    other = f"This is for the company of the trade electrical; {name} answers for its own trade."
    own = f"A contractor signs and releases for its own company, which is {name}."
    assert told == [
        ("/payload/answers/1", other),
        ("/payload/releases/0", other),
        ("/payload/releases/1", own),
        ("/payload/signoffs/0", other),
    ]
    before = list(Record.objects.values_list("needs_attention", "problems"))
    remake.records()
    assert list(Record.objects.values_list("needs_attention", "problems")) == before
    assert before[0][0]


def test_nobody_speaks_in_a_company_s_name_but_its_own_people_and_of_nothing_but_the_checklist(cast: Cast) -> None:
    opened(cast)
    assert problems(submitted(cast, answers=yes("level"))) == [
        ("/payload/company", "A contractor answers in the name of its own company.")
    ]
    assert problems(submitted(cast, "technician", company="Halvard Electric", answers=yes("level"))) == [
        ("/payload/company", "Only a contractor of that company answers in its name.")
    ]
    airflow = submitted(cast, kind="airflow", stage="final")
    assert (airflow.status, airflow.detail.partition(";")[0]) == (
        403,
        "Only a commissioning lead or a technician may submit evidence",
    )


def test_a_contractor_takes_back_its_own_record_and_no_other(cast: Cast) -> None:
    opened(cast)
    name = cast.things["company"].name
    theirs = json.loads(submitted(cast, "technician", answers=[no("level")]).receipt)["id"]
    own = json.loads(submitted(cast, company=name, answers=[no("isolators_free")]).receipt)["id"]
    taken = [{"id": id, "reason": "tapped on the wrong line"} for id in (theirs, own)]
    assert problems(submitted(cast, company=name, answers=yes("isolators_free"), supersedes=taken)) == []
    facts = CurrentVerdict.objects.get(requirement="ready_for_test").judgement.result["facts"]
    states = {one["item"]: one["state"] for one in facts["items"]}
    assert (states["level"], states["isolators_free"]) == ("wrong", "right")


def test_a_contractor_signs_for_its_company_where_the_project_asks_for_it(cast: Cast) -> None:
    client, url = opened(cast, "contractor")
    assert "Sign-offs" not in text(client, url)
    held = ProjectConventions.objects.get(project=cast.things["project"])
    agreed = {**held.agreed, "signoffs_required": ["mechanical", "electrical"]}
    ProjectConventions.objects.create(project=held.project, version=held.version + 1, agreed=agreed)
    assert "Now: not signed yet." in text(client, url)
    assert sent(client, url, sign__mechanical="yes", sign__electrical="yes").status_code == 303
    signed = payload()["signoffs"]
    assert [(one["trade"], one["company"]) for one in signed] == [("mechanical", cast.things["company"].name)]
    assert signed[0]["person"] == cast.person("own", "contractor").name
    lead, _ = opened(cast, "lead")
    assert "signed-person-electrical" in text(lead, url)
    assert "signed-person-electrical" not in text(*opened(cast, "technician"))
