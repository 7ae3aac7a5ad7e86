"""Two moments of a controller side by side, with what depends on what changed; the unit page tells the same by name."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.test import Client

from commissioning.evidence.accept import Kept, Sender, accept
from commissioning.models import CurrentVerdict, Issue, IssueCheck
from tests.envelopes import raw
from tests.kinds import checklist_records, test_run_records
from tests.kinds.settings_records import q, record, values
from tests.pages import world
from tests.pages.conftest import Browser
from tests.pages.reading import text
from tests.pages.world import World

pytestmark = pytest.mark.django_db
BEFORE, AFTER = "2026-05-03T09:00:00-06:00", "2026-05-06T09:00:00-06:00"


def sent(firm: World, tag: str, made: dict[str, Any]) -> str:
    made |= {"position": str(firm.units[tag].pk), "observed_by": str(firm.people["technician"].pk)}
    made["payload"]["serial_seen"] = None
    made["id"] = str(uuid.uuid4())
    [outcome] = accept(Sender(firm.people["technician"], None, "settings"), [raw(made)])
    assert isinstance(outcome, Kept), outcome
    return str(made["id"])


def settings(at: str, moment: str = "as_left", **changes: Any) -> dict[str, Any]:
    return record(values(**changes), at=at, moment=moment, controller_time=None)


@pytest.fixture
def drifted() -> tuple[World, str, str]:
    """One unit: settings read, measured, and at a later look the exhaust fan set lower and a switch thrown."""
    firm = world.found()
    firm.unit("ERV-1", "Sorrel Hall")
    first = sent(firm, "ERV-1", settings(BEFORE, frost_action="stops_supply"))
    firm.measured("ERV-1")
    later = settings(AFTER, "follow_up", exhaust_ratio=q(70.0, "%"), local_switch="hand")
    del later["payload"]["values"]["frost_action"]
    second = sent(firm, "ERV-1", later)
    sent(firm, "ERV-1", test_run_records.run("interlock", at=BEFORE))
    sent(firm, "ERV-1", checklist_records.record(*checklist_records.yes("level"), at=BEFORE))
    firm.judged()
    return firm, first, second


def compared(client: Client, firm: World, query: str = "") -> str:
    response = client.get(f"/units/{firm.units['ERV-1'].pk}/settings{query}")
    assert response.status_code == 200
    return text(response)


def test_what_changed_stands_first_with_who_read_it_and_what_depends_on_it(
    drifted: tuple[World, str, str], browser: Browser
) -> None:
    firm, first, second = drifted
    issue = Issue.objects.create(
        project=firm.project, number=9, title="exhaust low", state="accepted",
        opened_at=firm.revision.applied_at, moved_at=firm.revision.applied_at,
    )  # fmt: skip
    IssueCheck.objects.create(issue=issue, position=firm.units["ERV-1"], requirement="design_airflow", port="exhaust")
    said = compared(browser("lead"), firm)
    assert "As left, Sunday 3 May 2026, 09:00 (UTC−06:00), read by Idris Fenwarden" in said
    assert "Exhaust to supply ratio 90 % 70 % return air, exhaust air N40, N41, N44" in said
    assert "Local switch automatic hand no air" in said
    assert "Design airflow, exhaust air" in said
    assert "issue 9" in said
    assert "depend on what changed: Supply and exhaust interlock." in said
    order = [said.index(one) for one in ("What changed", "Read at one of the two only", "the same at both")]
    assert order == sorted(order)
    assert "At the frost limit stops supply not read" in said
    assert compared(browser("lead"), firm, f"?then={second}&now={first}") == said
    assert "none of this unit" in compared(browser("lead"), firm, f"?then={uuid.uuid4()}")


def test_the_unit_page_tells_by_name_who_saw_the_change_and_a_checklist_is_no_session(
    drifted: tuple[World, str, str], browser: Browser
) -> None:
    firm, _, _ = drifted
    outcomes = dict(CurrentVerdict.objects.filter(requirement="design_airflow").values_list("port", "outcome"))
    assert outcomes == {"supply": "conforms", "outdoor": "conforms", "return": "recheck", "exhaust": "recheck"}
    said = text(browser("lead").get(f"/units/{firm.units['ERV-1'].pk}"))
    assert "seen at a follow-up on Wednesday 6 May 2026, 09:00 (UTC−06:00) by Idris Fenwarden. Measure again." in said
    assert str(firm.people["technician"].pk) not in said
    assert "Settings side by side" in said
    assert "Session checklist" not in said
    assert "Session AL-1, as left: this one stands" in said


def test_one_reading_alone_stands_beside_nothing(browser: Browser) -> None:
    firm = world.found()
    firm.unit("ERV-1", "Sorrel Hall")
    firm.judged()
    assert "No settings are on record" in compared(browser("lead"), firm)
    sent(firm, "ERV-1", settings(BEFORE))
    firm.judged()
    assert "The settings were read once: As left" in compared(browser("lead"), firm)
