"""The judging document: published, current, the same bytes from the same inputs, and an exit code to trust."""

from __future__ import annotations

import copy
import json
import os
import random
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator  # type: ignore[import-untyped]

from commissioning import judging
from commissioning.dossier.canonical import canonical_json
from commissioning.judging.schemas import schemas, text_of
from tests.judging.builder import (
    PORTS,
    all_ports,
    cfm,
    direct,
    document,
    envelope,
    instrument,
    judged,
    named,
    port_design,
    position,
    reading,
)

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "judging-document.md"
EXAMPLE = re.search(r"```json\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
LATER = "2026-05-06T09:00:00-05:00"


def example() -> dict[str, Any]:
    assert EXAMPLE is not None
    found: dict[str, Any] = json.loads(EXAMPLE.group(1))
    return found


# --- published --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", sorted(schemas()))
def test_the_published_schema_is_current(name: str) -> None:
    kept = (ROOT / "docs" / "schemas" / name).read_text(encoding="utf-8")
    assert kept == text_of(schemas()[name]), "run python -m commissioning.judging.schemas docs/schemas"


def test_nothing_else_is_published() -> None:
    assert {path.name for path in (ROOT / "docs" / "schemas").iterdir()} == set(schemas())


def test_the_example_of_the_page_is_valid_and_conforms() -> None:
    given = example()
    Draft202012Validator(schemas()["judge.json"]).validate(given)
    Draft202012Validator(schemas()["envelope.json"]).validate(given["envelopes"][0])
    Draft202012Validator(schemas()["payload-airflow.json"]).validate(given["envelopes"][0]["payload"])
    result = judging.judge_document(given)
    assert judging.exit_code(result) == 0
    (one,) = result["positions"]
    assert {(j["requirement"], j["verdict"]) for j in one["judgements"] if j["verdict"]} == {
        ("design_airflow", "conforms"),
        ("calibration_in_date", "conforms"),
    }


def test_the_page_names_every_requirement_and_every_schema() -> None:
    text = PAGE.read_text(encoding="utf-8")
    assert [code for code in judging.RULES if f"`{code}`" not in text] == []
    assert [name for name in schemas() if f"schemas/{name}" not in text] == []


@pytest.mark.parametrize("measured", [1000.0, 800.0])
def test_a_result_is_what_its_schema_says(measured: float) -> None:
    broken = envelope({"supply": 1.0}, name="broken", stage="guessed")
    result = judging.judge_document(document(envelope(all_ports(measured)), broken))
    Draft202012Validator(schemas()["judgements.json"]).validate(result)
    assert len(result["problems"]) == 1


# --- the same bytes ---------------------------------------------------------------------------------------------


def story() -> list[dict[str, Any]]:
    return [
        envelope(all_ports(700.0), name="first look", at="2026-05-01T09:00:00-05:00", stage="preliminary"),
        envelope(all_ports(1010.0), name="first"),
        envelope({"supply": 880.0}, name="again", at=LATER, session="AL-2"),
        envelope({"supply": 990.0}, name="right", at=LATER, session="AL-2", supersedes=("again",)),
        envelope({"return": 970.0}, name="repeat", at="2026-05-07T09:00:00Z", session="V-1", purpose="verification"),
        envelope({"exhaust": 970.0}, name="broken", grade="guessed"),
    ]


def test_the_order_of_arrival_does_not_matter() -> None:
    expected = judged(*story()).bytes
    dice = random.Random(7)
    for _ in range(20):
        shuffled = story()
        dice.shuffle(shuffled)
        assert judged(*shuffled).bytes == expected


def test_of_two_of_one_moment_the_greater_id_is_the_later() -> None:
    one, other = envelope({"supply": 1000.0}, name="one"), envelope({"supply": 800.0}, name="other")
    assert one["observed_at"] == other["observed_at"]
    later = max(one, other, key=lambda given: given["id"])
    outcome = "conforms" if later is one else "does_not_conform"  # 800 of 1,000 cfm
    assert judged(one, other).outcome("design_airflow", "supply") == outcome
    assert judged(other, one).bytes == judged(one, other).bytes


def test_arriving_twice_does_not_matter() -> None:
    assert judged(*story(), *story()).bytes == judged(*story()).bytes


def test_raw_text_and_objects_are_the_same() -> None:
    raw = [json.dumps(one, indent=2, ensure_ascii=False) for one in story()]
    assert judged(*raw).bytes == judged(*story()).bytes


def test_the_order_of_keys_does_not_matter() -> None:
    turned = [json.dumps(one, sort_keys=True) for one in story()]
    assert judged(*turned).bytes == judged(*story()).bytes


def test_instruments_that_nobody_used_do_not_matter() -> None:
    more = [instrument("aaa"), instrument(), instrument("zzz")]
    assert judged(*story(), instruments=more).bytes == judged(*story()).bytes


def test_another_hash_seed_does_not_matter(tmp_path: Path) -> None:
    file = tmp_path / "story.json"
    file.write_text(json.dumps(document(*story())), encoding="utf-8")
    outputs = {run(str(file), PYTHONHASHSEED=seed).stdout for seed in ("0", "1", "4242")}
    assert len(outputs) == 1


@pytest.mark.parametrize("change", ["reading", "design", "conventions", "calibration", "scope"])
def test_whatever_a_verdict_rests_on_is_in_the_hash(change: str) -> None:
    given = document(*story())
    before = judging.judge_document(copy.deepcopy(given))["positions"][0]["inputs_hash"]
    if change == "reading":
        given["envelopes"][1]["payload"]["ports"][0]["method"]["readings"]["values"][0] += 1.0
    elif change == "design":
        given["positions"][0]["design"]["ports"]["supply"]["airflow"]["value"] += 1.0
    elif change == "conventions":
        given["conventions"]["mass_balance_allowance"] = 0.2
    elif change == "calibration":
        given["instruments"][0]["calibrations"][0]["due"] = "2026-02-01"
    else:
        given["positions"][0]["scope"] = "added"
    assert judging.judge_document(given)["positions"][0]["inputs_hash"] != before


def test_the_units_do_not_matter() -> None:
    """The same visit in I-P and in SI: the same verdicts, and values equal to twelve digits."""
    ip = judged(envelope([reading(port, direct(*[930.0] * 5)) for port in PORTS]))
    litres = 0.4719474432
    si_ports = [reading(port, direct(*[930.0 * litres] * 5, unit="L/s")) for port in PORTS]
    si_design = {p: {**port_design(None), "airflow": {"value": 1000.0 * litres, "unit": "L/s"}} for p in PORTS}
    meter = instrument(
        accuracy={"relative": 0.03, "absolute": {"value": 5.0 * litres, "unit": "L/s"}, "shape": "rectangular"},
        resolution={"value": litres, "unit": "L/s"},
    )
    si = judged(envelope(si_ports), place=position(si_design), instruments=[meter])
    assert si.outcomes() == ip.outcomes()
    for one, other in zip(ip.judgements, si.judgements, strict=True):
        assert (one["value"] is None) == (other["value"] is None)
        if one["value"] is not None:
            assert other["value"] == pytest.approx(one["value"], rel=1e-12, abs=1e-12)


def test_one_position_prepared_is_the_same_as_in_a_document() -> None:
    whole = judging.judge_document(document(*story()))
    ready = judging.prepare(document(*[json.dumps(one) for one in story()]))
    alone = ready.judge()
    (found,) = whole["positions"]
    assert ready.hashes[0] == found["inputs_hash"]
    assert canonical_json(alone["judgements"]) == canonical_json(found["judgements"])
    assert canonical_json(alone["measurements"]) == canonical_json(found["measurements"])
    assert canonical_json(alone["problems"]) == canonical_json(whole["problems"])
    assert alone["band"]["block"] == "band"


# --- what stands ------------------------------------------------------------------------------------------------


def test_a_correction_may_come_before_what_it_corrects() -> None:
    wrong, right = envelope({"supply": 100.0}), envelope({"supply": 1000.0}, name="right", supersedes=("first",))
    for order in ((wrong, right), (right, wrong), (right,)):
        result = judged(*order)
        assert [one["envelope"] for one in result.measurements] == [named("right")]
        assert result.problems == []


def test_a_chain_of_corrections_leaves_the_last() -> None:
    chain = [
        envelope({"supply": 100.0}),
        envelope({"supply": 200.0}, name="second", supersedes=("first",)),
        envelope({"supply": 1000.0}, name="third", supersedes=("second",)),
    ]
    assert [one["envelope"] for one in judged(*chain).measurements] == [named("third")]
    assert [one["envelope"] for one in judged(chain[2], chain[0], chain[1]).measurements] == [named("third")]


def test_saved_on_the_wrong_unit_moves_to_the_right_one() -> None:
    other = named("other unit")
    wrong = envelope({"supply": 1000.0}, where=other)
    moved = envelope({"supply": 1000.0}, name="moved", supersedes=("first",))
    given = document(wrong, moved, positions=[position(), position(id=other, tag="ERV-2")])
    here, there = judging.judge_document(given)["positions"]
    assert [one["envelope"] for one in here["measurements"]] == [named("moved")]
    assert there["measurements"] == []


def test_a_circle_is_a_problem_and_no_crash() -> None:
    names = ("a", "b", "c")
    ring = [
        envelope({"supply": 1000.0}, name=one, supersedes=(other,))
        for one, other in zip(names, (*names[1:], names[0]), strict=True)
    ]
    result = judged(*ring)
    assert result.measurements == []
    assert {one["envelope"] for one in result.problems} == {named(name) for name in names}
    assert all("circle" in one["reason"] for one in result.problems)


def test_one_that_cannot_be_evaluated_supersedes_nothing() -> None:
    broken = envelope({"supply": 1.0}, name="broken", supersedes=("first",), grade="guessed")
    result = judged(envelope({"supply": 1000.0}), broken)
    assert result.outcome("design_airflow", "supply") == "conforms"
    assert [one["envelope"] for one in result.problems] == [named("broken")]


def test_two_different_envelopes_of_one_id_are_a_problem_in_either_order() -> None:
    one, other = envelope({"supply": 1000.0}), envelope({"supply": 500.0})
    results = [judged(one, other), judged(other, one), judged(one, other, one)]
    assert {result.outcome("design_airflow", "supply") for result in results} == {"not_due"}
    assert len({result.bytes for result in results}) == 1
    assert results[0].problems[0]["field"] == "/id"


def test_an_envelope_of_another_unit_is_told() -> None:
    result = judged(envelope({"supply": 1000.0}, where=named("elsewhere")))
    assert [one["field"] for one in result.problems] == ["/position"]


# --- a document that cannot be read -----------------------------------------------------------------------------

BROKEN: dict[str, tuple[tuple[str | int, ...], Any, str]] = {
    "another schema": (("schema",), "ventfolio/judge/2", "/schema"),
    "a rule that nobody has": (("conventions", "decision_rule"), "generous", "/conventions/decision_rule"),
    "a tolerance without sides": (
        ("conventions", "default_tolerance"),
        {"low": None, "high": None},
        "/conventions/default_tolerance",
    ),
    "a tolerance turned over": (
        ("conventions", "default_tolerance"),
        {"low": 0.1, "high": -0.1},
        "/conventions/default_tolerance",
    ),
    "a density in cfm": (("conventions", "standard_density"), cfm(1.2), "/conventions/standard_density"),
    "an inch of something": (("conventions", "inch_of_water"), "16degC", "/conventions/inch_of_water"),
    "a place without zone": (("positions", 0, "time_zone"), "Mars/Olympus", "/positions/0/time_zone"),
    "a zone that is a path": (("positions", 0, "time_zone"), "../../etc/passwd", "/positions/0/time_zone"),
    "a scope that nobody has": (("positions", 0, "scope"), "maybe", "/positions/0/scope"),
    "a design port that is none": (
        ("positions", 0, "design", "ports", "relief"),
        {"airflow": cfm(1.0)},
        "/positions/0/design/ports/relief",
    ),
    "a design airflow below zero": (
        ("positions", 0, "design", "ports", "supply", "airflow"),
        cfm(-5.0),
        "/positions/0/design/ports/supply/airflow",
    ),
    "a machine without a day": (("positions", 0, "machine", "since"), "spring", "/positions/0/machine/since"),
    "an accuracy of 300 per cent": (
        ("instruments", 0, "accuracy", "relative"),
        3.0,
        "/instruments/0/accuracy/relative",
    ),
    "a moment for a day": (("positions", 0, "machine", "since"), "2026-01-05T00:00:00Z", "/positions/0/machine/since"),
    "seconds for a day": (
        ("instruments", 0, "calibrations", 0, "due"),
        1777852800,
        "/instruments/0/calibrations/0/due",
    ),
    "an accuracy without end": (
        ("instruments", 0, "accuracy", "absolute"),
        {"value": 1e300, "unit": "cfm"},
        "/instruments/0/accuracy",
    ),
    "a display that shows nothing": (
        ("instruments", 0, "resolution"),
        {"value": -1.0, "unit": "cfm"},
        "/instruments/0",
    ),
    "an accuracy in furlongs": (
        ("instruments", 0, "accuracy", "absolute"),
        {"value": 1.0, "unit": "furlong"},
        "/instruments/0/accuracy",
    ),
    "an envelope that is a number": (("envelopes", 0), 7, "/envelopes/0"),
}


@pytest.mark.parametrize(("path", "value", "pointer"), BROKEN.values(), ids=BROKEN)
def test_a_fault_of_the_document_is_told_with_its_place(path: tuple[str | int, ...], value: Any, pointer: str) -> None:
    given: Any = document(envelope(all_ports()))
    here = given
    for step in path[:-1]:
        here = here[step]
    here[path[-1]] = value
    with pytest.raises(judging.DocumentError) as error:
        judging.judge_document(given)
    assert error.value.problems[0].pointer.startswith(pointer)
    assert error.value.to_json()["positions"] == []


@pytest.mark.parametrize("group", ["positions", "instruments"])
def test_an_id_stands_once(group: str) -> None:
    given = document()
    given[group].append(copy.deepcopy(given[group][0]))
    with pytest.raises(judging.DocumentError, match="stands twice"):
        judging.judge_document(given)


def test_an_unreadable_text_is_told_with_its_number() -> None:
    result = judged(envelope(all_ports()), '{"schema": "ventfolio/envelope/1", "id": NaN}')
    assert [(one["envelope"], one["field"]) for one in result.problems] == [(None, "/envelopes/1/id")]


# --- the command ------------------------------------------------------------------------------------------------


def run(*args: str, given: str | None = None, **changes: str) -> subprocess.CompletedProcess[str]:
    """The command as a stranger runs it: no database that could be reached."""
    env = {**os.environ, "DATABASE_URL": "postgres://nobody@127.0.0.1:1/nowhere", **changes}
    return subprocess.run(
        [sys.executable, "manage.py", "judge", *args],
        cwd=ROOT,
        env=env,
        input=given,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )


@pytest.mark.parametrize(
    ("envelopes", "code"),
    [
        pytest.param([envelope(all_ports())], 0, id="all conform"),
        pytest.param([envelope(all_ports(800.0))], 1, id="some do not"),
        pytest.param([], 2, id="nothing is measured"),
        pytest.param([envelope(all_ports(), stage="preliminary")], 2, id="only preliminary"),
        pytest.param([envelope(all_ports()), envelope({}, name="broken")], 2, id="one cannot be evaluated"),
    ],
)
def test_the_exit_code_tells_the_outcome(envelopes: list[Any], code: int) -> None:
    done = run("-", given=json.dumps(document(*envelopes)))
    assert done.returncode == code, done.stderr
    assert json.loads(done.stdout)["schema"] == "ventfolio/judgements/1"
    assert done.stderr == ""


@pytest.mark.parametrize(
    ("given", "field"),
    [('{"a": [1, NaN]}', "/a/1"), ("{", ""), ("[]", ""), ('{"schema": "ventfolio/judge/1"}', "/conventions")],
)
def test_what_cannot_be_read_is_exit_code_three_and_still_json(given: str, field: str) -> None:
    done = run("-", given=given)
    assert done.returncode == 3
    assert json.loads(done.stdout)["problems"][0]["field"] == field


def test_a_missing_file_and_a_call_that_makes_no_sense_are_exit_code_three() -> None:
    assert run("nowhere.json").returncode == 3
    assert run().returncode == 3
    assert run("-", "--colour").returncode == 3


def test_lapsed_alone_is_inconclusive() -> None:
    lapsed = instrument(calibrations=[])
    assert judging.exit_code(judged(envelope(all_ports()), instruments=[lapsed]).json) == 2
