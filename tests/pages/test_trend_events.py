"""Events on a log's page: settings, tests and starts of the units that it covers, as marks and as a table."""

import json
import re
import uuid
from typing import Any

import pytest

from commissioning.dossier import analyse_log
from commissioning.evidence.accept import Kept, Sender, accept
from commissioning.verdicts import trend_analyses
from portfolio.api.agreements import usual_conventions
from portfolio.models import Building, Project, ProjectConventions, Site
from tests.envelopes import raw
from tests.kinds import startup_records, test_run_records
from tests.kinds.settings_records import q, record, values
from tests.kinds.trend_records import BEGIN_S, HOUR, LATE_DAMPER, day
from tests.pages import trend_world, world
from tests.pages.conftest import Browser
from tests.pages.reading import text
from tests.pages.world import World

FILE = "5" * 64
BEFORE, EIGHT, NINE, TEN = (
    f"2026-05-{at}-05:00" for at in ("03T09:00:00", "04T08:00:00", "04T09:00:00", "04T10:00:00")
)


def sent(firm: World, tag: str, made: dict[str, Any]) -> None:
    made |= {
        "position": str(firm.units[tag].pk),
        "observed_by": str(firm.people["technician"].pk),
        "id": str(uuid.uuid4()),
    }
    made["payload"]["serial_seen"] = None
    [outcome] = accept(Sender(firm.people["technician"], None, "events"), [raw(made)])
    assert isinstance(outcome, Kept), outcome


def settings(at: str, **changes: Any) -> dict[str, Any]:
    return record(values(**changes), at=at, controller_time=None)


@pytest.fixture
def firm(db: None, monkeypatch: pytest.MonkeyPatch) -> World:
    """A log of two units of one building; by its hash another project has it too."""
    monkeypatch.setattr(trend_analyses, "in_child", lambda _claim, order: analyse_log.answer(order))
    made = world.found()
    elsewhere = Project.objects.create(firm=made.project.firm, owner=made.project.owner, code="OV-2", name="Elsewhere")
    ProjectConventions.objects.create(project=elsewhere, version=1, agreed=usual_conventions())
    site = Site.objects.create(project=elsewhere, name="South", time_zone="America/Chicago", elevation_m=0)
    made.buildings["Far Hall"] = Building.objects.create(site=site, name="Far Hall")
    for tag, building in (("ERV-1", "Sorrel Hall"), ("ERV-2", "Sorrel Hall"), ("ERV-9", "Far Hall")):
        made.unit(tag, building, designed=False)
        trend_world.send(made, tag, day(**LATE_DAMPER), file=FILE)
    sent(made, "ERV-1", settings(BEFORE))
    sent(made, "ERV-1", settings(EIGHT, exhaust_ratio=q(70.0, "%")))
    sent(made, "ERV-1", startup_records.record(at=NINE, start_command=NINE))
    sent(made, "ERV-2", test_run_records.run("power", at=TEN))
    sent(made, "ERV-9", settings(TEN))
    made.judged()
    return made


def events(page: Any) -> list[list[str]]:
    """The rows of the table of events."""
    [table] = re.findall(r'<h2 id="events">.*?</table>', page.content.decode(), re.DOTALL)
    rows = re.findall(r"<tr>(.*?)</tr>", table.split("<tbody>")[1], re.DOTALL)
    return [[re.sub(r"<[^>]+>", "", cell) for cell in re.findall(r"<t[hd].*?</t[hd]>", row, re.DOTALL)] for row in rows]


def marks(client: Any, firm: World, **asked: Any) -> list[str]:
    series = client.get(f"/units/{firm.units['ERV-1'].pk}/trends/1/series.json", asked)
    return [one["words"] for one in json.loads(series.content)["marks"] if not one["is_fault"]]


RATIO = "settings read as left: exhaust to supply ratio from 90 % to 70 %"
START = "start recorded: supply fan, air moves; exhaust fan, air moves"
TEST = "test “Power loss and return”, run FT-1, carried through"


def test_events_of_the_units_that_the_log_covers_are_marked_and_stand_in_a_table(firm: World, browser: Browser) -> None:
    engineer = browser("engineer")
    page = engineer.get(f"/units/{firm.units['ERV-1'].pk}/trends/1")
    assert events(page) == [
        ["Mon 4 May, 08:00", "ERV-1", RATIO],
        ["Mon 4 May, 09:00", "ERV-1", START],
        ["Mon 4 May, 10:00", "ERV-2", TEST],
    ]
    said = [f"Mon 4 May, 08:00: {RATIO}.", f"Mon 4 May, 09:00: {START}.", f"Mon 4 May, 10:00: ERV-2, {TEST}."]
    assert [one for one in marks(engineer, firm) if one in said] == said
    for one in said:
        assert one in text(page)  # under the picture, as its mark


def test_a_unit_that_the_reader_may_not_see_adds_nothing(firm: World, browser: Browser) -> None:
    unit = firm.units["ERV-1"].pk
    assert "ERV-9" not in text(browser("engineer").get(f"/units/{unit}/trends/1"))
    assert "ERV-9" not in " ".join(marks(browser("engineer"), firm))
    assert ["Mon 4 May, 10:00", "ERV-9", "settings read as left"] in events(
        browser("lead").get(f"/units/{unit}/trends/1")
    )


def test_a_window_has_its_own_events(firm: World, browser: Browser) -> None:
    window: dict[str, Any] = {"from": BEGIN_S + 8.5 * HOUR, "to": BEGIN_S + 9.5 * HOUR}
    page = browser("technician").get(f"/units/{firm.units['ERV-1'].pk}/trends/1", window)
    assert [row[2] for row in events(page)] == [START]
    assert [one for one in marks(browser("technician"), firm, **window) if "comes on" not in one] == [
        f"Mon 4 May, 09:00: {START}."
    ]
    later: dict[str, Any] = {"from": BEGIN_S + 11 * HOUR, "to": BEGIN_S + 12 * HOUR}
    told = text(browser("technician").get(f"/units/{firm.units['ERV-1'].pk}/trends/1", later))
    assert "No settings were read, no functional test was run and no start recorded" in told
