"""A unit from delivered to started by API alone: what a client is answered at each step."""

from typing import Any

import pytest

from portfolio.jobs import runner
from portfolio.models import DesignEntry, DesignRevision, Position
from tests import envelopes
from tests.cast import Cast
from tests.kinds import checklist_records, settings_records, startup_records

pytestmark = pytest.mark.django_db(transaction=True)
EQUIPMENT = {"unit": {"options": checklist_records.OPTIONS, "field_sensors": checklist_records.SENSORS}}


@pytest.fixture
def delivered(cast: Cast) -> Cast:
    """A small unit stands on its curb: designed without airflows, and nothing is recorded of it."""
    unit = cast.things["position"]
    Position.objects.filter(pk=unit.pk).update(kind="hrv")
    revision = DesignRevision.objects.create(
        project=cast.things["project"], number=1, dated="2026-01-05", source="design",
        applied_by=cast.person("own", "lead"),
    )  # fmt: skip
    fields = {"ports": {}, "fans": checklist_records.FANS, "equipment": EQUIPMENT}
    DesignEntry.objects.create(revision=revision, position=unit, fields=fields)
    return cast


def send(cast: Cast, record: dict[str, Any]) -> dict[str, Any]:
    """The receipt of a record that is kept, and can be judged."""
    person = cast.person("own", "technician")
    payload = {name: given for name, given in record["payload"].items() if name != "serial_seen"}
    where = {"position": str(cast.things["position"].pk), "observed_by": str(person.pk), "payload": payload}
    answer = cast.actor("own", "technician").call("POST", "submissions", envelopes.raw({**record, **where}))
    assert answer.status_code == 201, answer.content
    assert answer.json()["state"] == "kept", answer.content
    runner.drain()
    told: dict[str, Any] = answer.json()
    return told


def asked(cast: Cast) -> tuple[dict[str, str], str, str]:
    """Of the unit as a whole each requirement's verdict, or why there is none; then where it stands, and the mover."""
    answer = cast.actor("own", "technician").call("GET", f"positions/{cast.things['position'].pk}/verdicts")
    assert answer.status_code == 200
    held = answer.json()
    assert not held["waiting"]
    whole = {
        one["requirement"]: one["verdict"] or one["absence"]["code"] for one in held["judgements"] if not one["port"]
    }
    return whole, held["standing"]["sentence"], held["standing"]["mover"]


def at(hour: int) -> str:
    return f"2026-05-04T{hour:02d}:00:00-06:00"


def clock(hour: int) -> str:
    """What the controller shows, in its own time zone."""
    return f"2026-05-04T{hour:02d}:00:20"


def test_from_delivered_to_started(delivered: Cast) -> None:
    no, yes = "does_not_conform", "conforms"
    not_grounded = checklist_records.no("grounded")
    walk = checklist_records.record(*checklist_records.all_right("grounded"), not_grounded, at=at(8))
    send(delivered, walk)
    held = {"safety_holds": no, "ready_for_test": no}
    assert asked(delivered) == (held, "Release or drop issue 1.", "lead")

    send(delivered, checklist_records.record(*checklist_records.yes("grounded"), name="mended", at=at(9)))
    assert asked(delivered)[0] == held  # another answer lifts no hold
    release = checklist_records.release("grounded", by="licensed_person", licence="ME-20417")
    send(delivered, checklist_records.record(name="released", at=at(10), releases=[release]))
    ready = {"safety_holds": yes, "ready_for_test": yes}
    assert asked(delivered)[0] == ready

    # the controller keeps the time of another zone: an hour ahead, and a schedule runs the unit
    send(delivered, settings_records.record(name="found", moment="as_found", at=at(11), controller_time=clock(12)))
    assert asked(delivered) == (ready | {"settings_consistent": no}, "Release or drop issue 2.", "lead")
    send(delivered, startup_records.record(at=at(12)))
    started = {"start_sequence": yes, "started": "not_due"}  # nobody could restore its settings
    assert asked(delivered)[0] == ready | {"settings_consistent": no} | started
    here = settings_records.values(time_zone="America/Denver")
    send(delivered, settings_records.record(here, name="left", at=at(13), controller_time=clock(13)))
    whole = ready | {"settings_consistent": yes, "start_sequence": yes, "started": yes}
    assert asked(delivered) == (whole, "Everything that is due conforms: it can be signed.", "lead")
