"""`manage.py read_controller`, from the network to a record that stands, a file that the API takes, or a reason."""

import json
import math
import re
import sys
from collections.abc import Callable
from datetime import datetime
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from commissioning.controllers import visit
from commissioning.dossier.canonical import sha256_hex
from commissioning.evidence.mappings import keep_mapping
from commissioning.management.commands.read_controller import session_on
from commissioning.models import MappingVersion, Record, Submission
from portfolio.models import AuditEvent
from tests.cast import Cast
from tests.controllers import objects
from tests.controllers.simulated import HOST, PORT, Simulated, Wires, on_loopback
from tests.controllers.test_reading import MAPPING

ROOT = Path(__file__).resolve().parents[2]
FAMILY = "Tarnbeck T2 over BACnet (invented)"  # as that mapping says
Wire = Callable[[Simulated], None]


class _Wired(Wires):
    """A link that is opened and closed as the one with a socket is."""

    async def __aenter__(self) -> "_Wired":
        return self

    async def __aexit__(self, *_: object) -> None: ...


@pytest.fixture
def wire(monkeypatch: pytest.MonkeyPatch) -> Wire:
    return lambda device: monkeypatch.setattr(visit, "UdpLink", lambda *_, **__: _Wired(device))


def run(*given: str, address: str = f"{HOST}:{PORT}", mapping: Path | None = MAPPING) -> str:
    out = StringIO()
    named = ["--mapping", str(mapping)] if mapping else []
    call_command("read_controller", "--address", address, "--device", "1234", *named, *given, stdout=out)
    return out.getvalue()


def whose(cast: Cast, relation: str = "own", role: str = "technician") -> list[str]:
    person = cast.person(relation, role)
    return ["--unit", cast.things["position"].tag, "--project", cast.things["project"].code, "--person", person.email]


def test_a_session_is_named_by_the_day_at_the_site() -> None:
    """20:30 in Chicago, 5 h behind UTC in May: the finals of that evening are in the session of the 4th."""
    assert session_on(datetime.fromisoformat("2026-05-05T01:30:00+00:00"), "America/Chicago") == "AL 2026-05-04"


@pytest.mark.django_db
def test_a_controller_on_the_network_becomes_a_record_of_the_unit(cast: Cast) -> None:
    """By a socket on 127.0.0.1; the only one of these tests that has one."""
    with on_loopback(Simulated(objects.controller())) as port:
        told = run(*whose(cast), "--wait", "1", "--again", "10", address=f"127.0.0.1:{port}")
    record = Record.objects.get()
    assert told.startswith(f"30 settings from 30 objects of 127.0.0.1:{port}: kept as {record.submission.client_id}")
    assert record.position_id == cast.things["position"].pk
    assert record.session == session_on(record.observed_at, cast.things["position"].building.site.time_zone)
    kept = json.loads(bytes(record.submission.raw))
    assert json.loads(bytes(record.submission.receipt))["state"] == "kept"
    assert kept["observed_by"] == str(cast.person("own", "technician").pk)
    assert kept["payload"]["grade"] == "controller"
    assert kept["payload"]["values"]["co2_setpoint"] == {"value": 900.0, "unit": "ppm"}
    audited = AuditEvent.objects.get(verb="submit_evidence")
    assert audited.person_id == cast.person("own", "technician").pk


@pytest.mark.django_db
def test_nothing_is_kept_while_anything_stands_against_it(cast: Cast, wire: Wire, tmp_path: Path) -> None:
    bad = (objects.analog_value(7, math.nan, "parts-per-million"), objects.analog_value(9, 1000.0, "pascals"))
    wire(Simulated(objects.controller(*bad)))
    with pytest.raises(CommandError) as error:
        run(*whose(cast), "--raw", str(tmp_path / "raw.json"))
    told = str(error.value).splitlines()
    assert told[0] == "2 of what was read cannot be kept, so nothing is. See each one."
    assert told[1].startswith("- analog-value 7 (nan): Its value is no finite number. Look at the object")
    assert told[2].startswith(
        "- analog-value 9 (1000 pascals): The controller states its unit as Pa, the mapping as ppm"
    )
    assert not Submission.objects.exists()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.django_db
def test_only_who_may_submit_there_can_keep_a_reading(cast: Cast, wire: Wire) -> None:
    device = Simulated(objects.controller())
    wire(device)
    for relation, role in (("foreign", "lead"), ("near", "technician"), ("revoked", "technician")):
        with pytest.raises(CommandError, match="no unit that this person may see"):
            run(*whose(cast, relation, role))
    with pytest.raises(CommandError, match="Nobody is called"):
        run(*whose(cast)[:4], "--person", "nobody@cast.example")
    with pytest.raises(CommandError, match="was not asked"):
        run(*whose(cast, "own", "owner"))
    assert device.heard == []  # where it cannot be kept, nobody is asked
    assert not Submission.objects.exists()
    assert "Nothing is kept." in run(*whose(cast), "--dry-run")
    assert not Submission.objects.exists()


@pytest.mark.django_db
def test_what_is_written_on_site_is_taken_by_the_api_later(cast: Cast, wire: Wire, tmp_path: Path) -> None:
    wire(Simulated(objects.controller()))
    file, raw = tmp_path / "envelope.json", tmp_path / "raw.json"
    ids = [str(cast.things["position"].pk), str(cast.person("own", "technician").pk)]
    run("--unit", ids[0], "--person", ids[1], "--out", str(file), "--raw", str(raw), "--moment", "as_left")
    assert not Submission.objects.exists()
    response = cast.actor("own", "technician").call("POST", "submissions", file.read_bytes())
    assert (response.status_code, response.json()["state"]) == (201, "kept")
    payload = json.loads(file.read_bytes())["payload"]
    assert payload["moment"] == "as_left"
    assert payload["read_from"]["sha256"] == sha256_hex(raw.read_bytes())
    with pytest.raises(CommandError, match="is there already"):
        run("--out", str(file))


def test_without_unit_and_person_the_payload_is_told(wire: Wire) -> None:
    wire(Simulated(objects.controller()))
    payload = json.loads(run("--session", "AL-7", "--final"))
    assert payload["session"] == {"id": "AL-7", "purpose": "as_left"}
    assert payload["stage"] == "final"
    assert len(payload["values"]) == 30


def test_the_list_to_write_a_mapping_from_shows_no_secret(wire: Wire) -> None:
    secret = objects.analog_value(19, 4711.0, called="Service PIN")
    wire(Simulated(objects.controller(secret, objects.analog_value(18, called="=1+1"))))
    told = run("--list", mapping=None).splitlines()
    assert told[0] == "object,value,unit,called,status"
    assert len(told) == 1 + len(objects.controller())
    assert "analog-value 12,0.75,in_wc,Duct pressure setpoint," in told
    assert "analog-value 18,60.0,s,'=1+1," in told
    assert "analog-value 19,(not shown),in_wc,Service PIN," in told


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (["--unit", "ERV-1"], "A unit and a person belong together"),
        (["--unit", "ERV-1", "--person", "x", "--out", "-"], "by their ids"),
        (["--wait", "0"], "--wait is up to 60 seconds"),
        (["--without", "analog-value 99"], "The mapping does not name analog-value 99"),
    ],
)
def test_a_call_that_cannot_be_meant_is_refused(wire: Wire, given: list[str], said: str) -> None:
    device = Simulated(objects.controller())
    wire(device)
    with pytest.raises(CommandError, match=said):
        run(*given)
    assert device.heard == []


def test_a_broken_mapping_is_told_line_by_line(wire: Wire, tmp_path: Path) -> None:
    broken = tmp_path / "mapping.toml"
    broken.write_text(MAPPING.read_text(encoding="utf-8").replace('"co2_setpoint"', '"co2_setpiont"'), encoding="utf-8")
    with pytest.raises(CommandError, match=r"settings/6/setting \(co2_setpiont\): No setting has this name\. Perhaps"):
        run(mapping=broken)
    with pytest.raises(CommandError, match="Name --mapping FILE"):
        run(mapping=None)
    with pytest.raises(CommandError, match="No such file"):
        run(mapping=tmp_path / "none.toml")


@pytest.fixture
def kept(cast: Cast) -> Cast:
    """Two versions of one family at the firm of the stage, and one of the same name at the other firm."""
    text = MAPPING.read_text(encoding="utf-8")
    newer = text.replace("version = 1", "version = 2")
    for firm, lead, raw in (("firm", "own", text), ("firm", "own", newer), ("foreign_firm", "foreign", text)):
        keep_mapping(firm=cast.things[firm], person=cast.person(lead, "lead"), raw=raw.encode())
    return cast


@pytest.mark.django_db
def test_a_mapping_that_the_firm_keeps_is_taken_by_its_name(kept: Cast, wire: Wire) -> None:
    wire(Simulated(objects.controller()))
    run(*whose(kept), "--kept-mapping", f" {FAMILY.upper()} ", mapping=None)
    read_from = json.loads(bytes(Record.objects.get().submission.raw))["payload"]["read_from"]
    newest = MappingVersion.objects.get(firm=kept.things["firm"], version=2)
    assert (read_from["mapping"]["version"], read_from["mapping"]["sha256"]) == (2, newest.sha256)
    older = MappingVersion.objects.get(firm=kept.things["firm"], version=1)
    payload = json.loads(run("--kept-mapping", str(older.pk), mapping=None))
    assert payload["read_from"]["mapping"]["version"] == 1


@pytest.mark.django_db
def test_a_name_that_no_firm_or_more_than_one_keeps_is_refused_with_what_there_is(kept: Cast, wire: Wire) -> None:
    device = Simulated(objects.controller())
    wire(device)
    named = ["--kept-mapping", FAMILY]
    own, foreign = kept.things["firm"], kept.things["foreign_firm"]
    told = _refusal(*named)
    assert told.startswith(f"2 firms keep a mapping called {FAMILY}: ")
    assert all(f"{one.name} ({one.pk})" in told for one in (own, foreign))
    assert _refusal(*named, "--firm", "Nobody") == (
        "No firm that keeps a mapping is called Nobody. Name it in full, or by its id."
    )
    assert _refusal("--kept-mapping", "Tarn", "--firm", str(own.pk)) == (
        f"No kept mapping is called Tarn. Kept here: {FAMILY}, version 2."
    )
    secret = str(MappingVersion.objects.get(firm=foreign).pk)  # of the other firm, which this person may not see
    assert _refusal(*whose(kept), "--kept-mapping", secret).startswith(f"No kept mapping is called {secret}.")
    assert "No firm that keeps" in _refusal(*whose(kept), *named, "--firm", foreign.name)
    assert "one of them" in _refusal(*named, "--mapping", str(MAPPING))
    assert device.heard == []
    assert "30 settings" in run(*named, "--firm", own.name.upper(), "--dry-run", mapping=None)


def _refusal(*given: str) -> str:
    with pytest.raises(CommandError) as error:
        run(*given, mapping=None)
    return str(error.value)


def test_without_the_extra_the_command_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "bacpypes3", None)
    with pytest.raises(CommandError, match=r"requirements/bacnet\.txt"):
        run()


def test_nothing_but_the_command_needs_the_extra_and_it_only_when_it_runs() -> None:
    """What is imported at a module's top is needed by whoever loads it; type checking and functions are indented."""
    top = re.compile(r"^(from|import) (commissioning\.controllers|bacpypes3)", re.MULTILINE)
    needing = {
        path.parent.name
        for room in ("commissioning", "portfolio")
        for path in (ROOT / room).rglob("*.py")
        if top.search(path.read_text(encoding="utf-8"))
    }
    assert needing == {"controllers"}
