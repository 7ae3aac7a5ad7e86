"""A test's run and a trend log of its hours, in either order: one verdict, and the same words on page and form."""

from typing import Any

import pytest

from commissioning.dossier import analyse_log
from commissioning.evidence.accept import Kept, Sender, accept
from commissioning.models import CurrentVerdict
from commissioning.verdicts import trend_analyses
from tests import envelopes
from tests.kinds.test_run_records import run
from tests.kinds.trend_records import state, steady
from tests.pages import trend_world, world
from tests.pages.conftest import Browser
from tests.pages.reading import text
from tests.pages.world import World

FILES = {"ERV-1": "6" * 64, "ERV-2": "7" * 64}
DURING = "2026-05-04T10:00:00-05:00"
LOG_DECIDES = "as expected by eye, not as expected by the log: the log decides"


@pytest.fixture
def firm(db: None, monkeypatch: pytest.MonkeyPatch) -> World:
    """Two units; logs are analysed in this process."""
    monkeypatch.setattr(trend_analyses, "in_child", lambda _claim, order: analyse_log.answer(order))
    made = world.found()
    for tag in ("ERV-1", "ERV-2"):
        made.unit(tag, "Sorrel Hall", "Roof, bay 1")
    return made


def send_run(firm: World, tag: str) -> None:
    said = {"steps_up": {"yes": True, "log": "watched on the panel"}}
    given = run("tempering", name=f"run of {tag}", at=DURING, otherwise=said, serial_seen=f"SN-{tag}")
    given |= {"position": str(firm.units[tag].pk), "observed_by": str(firm.people["technician"].pk)}
    (outcome,) = accept(Sender(firm.people["technician"], None, "world"), [envelopes.raw(given)])
    assert isinstance(outcome, Kept), outcome
    firm.judged()


def send_log(firm: World, tag: str) -> None:
    """The air stands 3 K below its setpoint all day."""
    levels = {"supply_temperature": 17.0, "supply_temperature_setpoint": 20.0, "heating_valve": 0.5}
    series = {role: steady(level, swing=0.0) for role, level in levels.items()}
    trend_world.send(firm, tag, {**series, "supply_fan_status": state((0.0, 1.0), (23.9, 1.0))}, file=FILES[tag])
    firm.judged()


def verdict(firm: World, tag: str) -> tuple[str, list[Any]]:
    held = CurrentVerdict.objects.get(position=firm.units[tag], requirement="functional_tests")
    steps = held.judgement.result["facts"]["steps"]
    named = [[(each["code"], each["outcome"]) for each in one.get("log", {}).get("results", ())] for one in steps]
    return held.outcome, [(one["step"], one["verdict"], told) for one, told in zip(steps, named, strict=True)]


def test_a_log_that_comes_after_the_run_judges_it_again_to_what_it_had_been_by_one_that_came_before(
    firm: World, browser: Browser
) -> None:
    send_run(firm, "ERV-1")
    assert verdict(firm, "ERV-1")[0] == "conforms"
    send_log(firm, "ERV-1")
    send_log(firm, "ERV-2")
    send_run(firm, "ERV-2")
    late, early = verdict(firm, "ERV-1"), verdict(firm, "ERV-2")
    assert late == early
    assert late[0] == "does_not_conform"
    assert late[1][0] == ("steps_up", "does_not_conform", [("setpoint_held", "fails"), ("hunts", "holds")])
    unit = f"/units/{firm.units['ERV-1'].pk}"
    form = text(browser("technician").get(f"{unit}/record/test_run?procedure=tempering"))
    assert "Judged by a trend log that covers it: Setpoint held, supply air temperature; Loop does not hunt" in form
    assert f"Last time: {LOG_DECIDES}." in form
    page = text(browser("lead").get(unit))
    assert LOG_DECIDES in page
    assert "its hours hold the moment of the answer" in page
