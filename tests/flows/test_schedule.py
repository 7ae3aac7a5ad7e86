"""A design schedule from file to revision: dry run, apply, the same again, a change, a part."""

import io
from typing import Any

import pytest
from openpyxl import Workbook

from portfolio.jobs import runner
from portfolio.models import DesignRevision, Job, Position, Standing
from tests.cast import Actor, Cast

pytestmark = pytest.mark.django_db(transaction=True)

ROWS = [("ERV-11", 1200, 1150), ("ERV-12", 900, 850), ("ERV-13", "1,500", "1,425")]


def book(rows: list[tuple[Any, ...]], building: str, title: str = "ENERGY RECOVERY VENTILATORS, STANDARD AIR") -> bytes:
    held = Workbook()
    sheet = held.active
    assert sheet is not None
    sheet.append([title])
    sheet.append([])
    sheet.append(["TAG", "BUILDING", "SUPPLY AIRFLOW (CFM)", "EXHAUST AIRFLOW (CFM)", "REMARKS"])
    for tag, supply, exhaust, *rest in rows:
        sheet.append([tag, building, supply, exhaust, *rest])
    kept = io.BytesIO()
    held.save(kept)
    return kept.getvalue()


def lead(cast: Cast) -> Actor:
    return cast.actor("own", "lead")


def read(cast: Cast, data: bytes, **choices: Any) -> dict[str, Any]:
    response = lead(cast).call("POST", f"projects/{cast.things['project'].pk}/imports?name=schedule.xlsx", data)
    assert response.status_code == 201, response.content
    told: dict[str, Any] = response.json()
    if choices:
        response = lead(cast).call("PATCH", f"imports/{told['id']}", choices)
        assert response.status_code == 200, response.content
        told = response.json()
    return told


def apply(cast: Cast, told: dict[str, Any], status: int = 200) -> dict[str, Any]:
    response = lead(cast).call("POST", f"imports/{told['id']}/apply")
    assert response.status_code == status, response.content
    applied: dict[str, Any] = response.json()
    return applied


def here(cast: Cast) -> str:
    return str(cast.things["building"].name)


def test_a_schedule_becomes_a_revision_and_positions(cast: Cast) -> None:
    told = read(cast, book(ROWS, here(cast)), dated="2026-02-01")
    assert told["may_apply"], told["errors"]
    assert {u["tag"]: u["action"] for u in told["units"]} == dict.fromkeys(("ERV-11", "ERV-12", "ERV-13"), "new")
    supply = next(c for c in told["units"][2]["changes"] if c["field"] == "supply airflow")
    assert (supply["before"], supply["after"], supply["cell"]) == ("not given", "1500 cfm", "Sheet!C6")
    assert not DesignRevision.objects.exists()
    assert apply(cast, told) == {"revision": 1, "changed": ["ERV-11", "ERV-12", "ERV-13"], "same": 0}
    runner.drain()
    assert Standing.objects.get(position__tag="ERV-11").code == "not_measured"


def test_the_same_file_again_changes_nothing(cast: Cast) -> None:
    data = book(ROWS, here(cast))
    apply(cast, read(cast, data, dated="2026-02-01"))
    again = read(cast, data, dated="2026-02-01")
    assert {u["action"] for u in again["units"]} == {"same"}
    assert apply(cast, again) == {"revision": None, "changed": [], "same": 3}
    assert DesignRevision.objects.count() == 1


def test_a_changed_file_says_what_changes_and_judges_exactly_those(cast: Cast) -> None:
    apply(cast, read(cast, book(ROWS, here(cast)), dated="2026-02-01"))
    runner.drain()
    changed = [ROWS[0], ("ERV-12", 950, 850), ROWS[2]]
    told = read(cast, book(changed, here(cast)), dated="2026-03-01")
    assert [(c["before"], c["after"]) for u in told["units"] for c in u["changes"]] == [("900 cfm", "950 cfm")]
    assert apply(cast, told)["changed"] == ["ERV-12"]
    due = Job.objects.filter(kind="judge", due=True).values_list("subject", flat=True)
    assert list(due) == [Position.objects.get(tag="ERV-12").pk]


def test_a_partial_schedule_touches_only_what_it_names_and_removal_is_an_act(cast: Cast) -> None:
    apply(cast, read(cast, book(ROWS, here(cast)), dated="2026-02-01"))
    part = [("ERV-11", 1250, ""), ("ERV-13", "", "", "DELETED")]
    told = read(cast, book(part, here(cast)), dated="2026-03-01", partial=True, source="addendum")
    assert told["may_apply"], told["errors"]
    assert told["not_named"] == []
    fields = {(u["tag"], c["field"], c["after"]) for u in told["units"] for c in u["changes"]}
    assert fields == {("ERV-11", "supply airflow", "1250 cfm"), ("ERV-13", "scope", "deleted")}
    apply(cast, told)
    runner.drain()
    assert Standing.objects.get(position__tag="ERV-13").code == "not_counted"


def test_nothing_is_applied_while_an_error_stands(cast: Cast) -> None:
    told = read(cast, book([*ROWS, ("ERV-11", 700, 650)], here(cast)), dated="2026-02-01")
    assert not told["may_apply"]
    assert {e["row"] for e in told["errors"]} <= {4, 7}
    refused = apply(cast, told, status=400)
    assert refused["errors"][0]["remedy"]
    assert not DesignRevision.objects.exists()
    assert not Position.objects.filter(tag="ERV-12").exists()


def test_a_building_that_nobody_knows_is_an_error_at_its_row(cast: Cast) -> None:
    told = read(cast, book(ROWS, "Tower of nowhere"), dated="2026-02-01")
    assert [e["code"] for e in told["errors"]] == ["unknown_building"] * 3
    assert told["errors"][0]["row"] == 4


def test_without_an_air_basis_the_dry_run_asks_for_it(cast: Cast) -> None:
    data = book(ROWS, here(cast), title="ENERGY RECOVERY VENTILATORS")
    told = read(cast, data, dated="2026-02-01")
    assert [q["code"] for q in told["questions"]] == ["air_basis"]
    assert not told["may_apply"]
    apply(cast, told, status=400)
    answered = lead(cast).call("PATCH", f"imports/{told['id']}", {"air_basis": "actual"}).json()
    assert answered["may_apply"]
    apply(cast, answered)


def test_an_answer_written_straight_in_changes_only_the_tolerance(cast: Cast) -> None:
    from portfolio.models.design import fold_entries

    apply(cast, read(cast, book(ROWS, here(cast)), dated="2026-02-01"))
    position = Position.objects.get(tag="ERV-11")
    wide = {"low": -0.05, "high": 0.15, "clause": "Answer to question 17"}
    body = {
        "dated": "2026-03-01",
        "source": "answer",
        "entries": [{"position": str(position.pk), "design": {"ports": {"supply": {"tolerance": wide}}}}],
    }
    response = lead(cast).call("POST", f"projects/{cast.things['project'].pk}/revisions", body)
    assert response.status_code == 201, response.content
    supply = fold_entries(position.design_entries.select_related("revision"))["ports"]["supply"]
    assert supply["airflow"] == {"value": 1200.0, "unit": "cfm"}
    assert supply["tolerance"]["low"] == -0.05
    assert supply["sources"]["airflow"].startswith("Revision 1, design")
    assert supply["sources"]["tolerance"].startswith("Revision 2, answer to a question")
    body["entries"][0]["design"] = {"ports": {"supply": {"airflow": {"value": 5, "unit": "furlong"}}}}  # type: ignore[index]
    refused = lead(cast).call("POST", f"projects/{cast.things['project'].pk}/revisions", body)
    assert refused.status_code == 400
    assert refused.json()["errors"][0]["pointer"].startswith("/entries/0/design/ports/supply/airflow")
