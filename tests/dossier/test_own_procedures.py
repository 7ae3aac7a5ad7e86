"""A firm's own procedures: planned, run and judged as the catalogue's are, and held to all that those are held to."""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from commissioning import judging
from commissioning.blocks import Caution, Sentence, Table
from commissioning.catalogue.procedures import LIBRARY, built, plain
from commissioning.dossier.given import Place
from commissioning.dossier.own_procedures import OWN_CODE, may_be_worded, merged, own_of, procedure_in
from commissioning.dossier.own_procedures_compared import as_in_the_catalogue, compared
from commissioning.dossier.procedures.plan import plan_of, unit_of
from tests.judging.builder import Result, conventions
from tests.judging.builder import document as builder_document
from tests.kinds.settings_records import q
from tests.kinds.test_run_records import HASH, judged, place, run, settings, steps

HOOD: dict[str, Any] = {
    "code": "own_hood",
    "title": "Kitchen hood and make-up air",
    "version": 1,
    "why": "A hood without its make-up air pulls flue gas into the kitchen.",
    "safe_state": "Hood and make-up air off, the kitchen's people told.",
    "caution": ["hot_surfaces"],
    "needs": {
        "season": "any",
        "occupancy": "The kitchen is not cooking.",
        "coordination": "The kitchen's staff know of it.",
        "present": ["controls"],
    },
    "step": [
        {"id": "both_start", "do": "Have the hood started by its switch.", "expect": "The make-up air starts with it."},
        {
            "id": "starts_within",
            "do": "Time it from the hood's start to the make-up fan's proof.",
            "expect": "Within half a minute.",
            "answer": "interval",
            "first": "hood started",
            "then": "make-up air proven",
            "unit": "s",
            "low": 0.0,
            "high": 30.0,
            "source": "our manual, 6.2",
            "look": "The damper's end switch.",
        },
        {
            "id": "as_found",
            "part": "restore",
            "do": "Switch the hood off and look at both fans.",
            "expect": "Both stand still; a photo of the display shows no alarm.",
            "photo": True,
        },
    ],
}
RAN_HOOD: list[dict[str, Any]] = [
    {"step": "both_start", "yes": True},
    {"step": "starts_within", "times": {"first": q(0.0, "s"), "then": q(12.0, "s")}},
    {"step": "as_found", "yes": True, "photos": [HASH]},
]
WORDS = {"procedure": "frost", "step": "air_left", "look": "The building's pressure first."}


def hood(change: Callable[[dict[str, Any]], Any] = lambda held: None) -> dict[str, Any]:
    made = copy.deepcopy(HOOD)
    change(made)
    return made


def of(*records: Any, own: dict[str, Any], tests: list[str] | None = None, **changes: Any) -> Result:
    agreed = conventions(own_procedures={"version": 3, **own})
    return judged(*records, where=place(tests), conventions=agreed, **changes)


def ran(*, version: int = 1, **otherwise: Any) -> dict[str, Any]:
    """A good run of the hood's test; a step's answer may be another one."""
    answers = [{"step": one["step"], **otherwise.get(one["step"], one)} for one in RAN_HOOD]
    made = run("frost", answers=answers, version=version, name="hood")
    made["payload"]["procedure"] = "own_hood"
    return made


def cells(result: Result, code: str) -> str:
    blocks = judging.RULES["functional_tests"].show(result.judgement("functional_tests", code), {}, "si")
    rows = [cell for block in blocks if isinstance(block, Table) for row in block.rows for cell in row]
    return " ".join([*(block.text for block in blocks if isinstance(block, Sentence | Caution)), *rows])


# --- planned, run and judged ----------------------------------------------------------------------------------------
def test_its_own_test_is_planned_after_the_catalogue_s_and_due_where_a_design_lists_it() -> None:
    unit = unit_of(Place.from_json(place(["own_hood"])), {}, basis_when_not_stated="standard")
    plan = {one.procedure.code: one for one in plan_of(unit, merged({"add": [HOOD], "version": 1}))}
    assert list(plan) == [*LIBRARY.procedures, "own_hood"]
    assert (plan["own_hood"].applies, plan["own_hood"].is_due) == ("yes", True)
    due = of(own={"add": [HOOD]}, tests=["own_hood"])
    assert due.outcome("functional_tests", "own_hood") == "not_due"
    assert "Have the hood started by its switch." in cells(due, "own_hood")
    assert "Coils, heaters and pipes stay hot" in cells(due, "own_hood")  # its caution, from what was kept alone


def test_its_run_is_judged_by_its_own_limits_and_shown_from_what_was_kept() -> None:
    """Thirty seconds by the firm's manual: twelve are within, forty-five are not."""
    good = of(ran(), own={"add": [HOOD]})
    assert good.problems == []
    assert good.outcome("functional_tests", "own_hood") == "conforms"
    late = ran(starts_within={"times": {"first": q(0.0, "s"), "then": q(45.0, "s")}})
    bad = of(late, own={"add": [HOOD]})
    assert bad.outcome("functional_tests", "own_hood") == "does_not_conform"
    assert bad.judgement("functional_tests", "own_hood")["look_next"] == ["Step 2: The damper's end switch."]
    told = cells(bad, "own_hood")
    assert "Kitchen hood and make-up air: 2 of 3 steps as expected" in told
    (measured,) = good.measurements
    blocks = judging.KINDS["test_run"].show(measured, "si")
    assert isinstance(blocks[0], Sentence)
    assert blocks[0].text.startswith("Kitchen hood and make-up air, run FT-1, carried through, 3 steps answered")


def test_an_older_run_counts_from_the_version_that_it_says_as_the_catalogue_s_do() -> None:
    newer = hood(lambda held: held.update(version=2))
    assert of(ran(), own={"add": [newer]}).outcome("functional_tests", "own_hood") == "conforms"
    worthless = hood(lambda held: held.update(version=2, counts_from=2))
    assert of(ran(), own={"add": [worthless]}).outcome("functional_tests", "own_hood") == "recheck"


def test_an_answer_that_fits_no_step_any_more_is_left_out_and_told() -> None:
    changed = hood(lambda held: held["step"][1].update(answer="yes_no", first="", then="", unit="", source=""))
    changed["step"][1].update(low=None, high=None)
    result = of(ran(), own={"add": [changed]})
    assert result.problems == []
    (measured,) = result.measurements
    assert measured["remarks"] == [
        "An answer is left out: the step starts_within is answered by `yes`, or by `cannot`, and by one of them."
    ]
    assert steps(result, "own_hood")["starts_within"]["why"] == "Not answered."


@pytest.mark.parametrize(
    ("own", "version", "said"),
    [
        ({"reword": [WORDS]}, 1, "no procedure of this firm is called own_hood"),
        ({"add": [HOOD]}, 2, "own_hood has version 1 here"),
    ],
)
def test_a_run_of_what_the_firm_does_not_have_is_not_evaluated_and_says_so(
    own: dict[str, Any], version: int, said: str
) -> None:
    result = of(ran(version=version), own=own)
    assert [said in one["reason"] for one in result.problems] == [True]
    assert result.measurements == []


def test_a_design_that_lists_what_the_firm_does_not_have_is_told_so_and_nothing_is_due_in_silence() -> None:
    result = judged(where=place(["own_hood"]))
    held = result.judgement("functional_tests", "own_hood")
    assert held["absence"]["code"] == "not_given"
    assert held["absence"]["text"] == "The list of tests names own_hood, and the firm has no such procedure."


def test_a_step_of_the_catalogue_s_worded_otherwise_says_it_and_changes_no_verdict() -> None:
    wrong = run("frost", otherwise={"air_left": {"yes": False}})
    plainly, worded = judged(settings(), wrong), of(settings(), wrong, own={"reword": [WORDS]})
    look = f"Step 4: {WORDS['look']}"
    assert worded.judgement("functional_tests", "frost")["look_next"] == [look]
    assert plainly.judgement("functional_tests", "frost")["look_next"] != [look]
    for result in (plainly, worded):
        assert result.outcome("functional_tests", "frost") == "does_not_conform"
    assert "own" not in plainly.judgement("functional_tests", "frost")["facts"]
    assert steps(worded, "frost")["begins_at"] == steps(plainly, "frost")["begins_at"]
    good = of(settings(), run("power"), own={"reword": [WORDS]})
    assert "own" not in good.judgement("functional_tests", "power")["facts"]


def test_it_may_apply_where_a_unit_has_what_the_firm_alone_has_a_word_for() -> None:
    own = {
        "add": [hood(lambda held: held.update(when=[{"options": ["own_hood_switch"]}], otherwise="It has no hood."))]
    }
    library = merged({**own, "version": 1})
    for options, expected in ((["own_hood_switch"], "yes"), (["bypass"], "no")):
        where = Place.from_json(place(equipment={"unit": {"options": options}}))
        unit = unit_of(where, {}, basis_when_not_stated="standard")
        assert {one.procedure.code: one.applies for one in plan_of(unit, library)}["own_hood"] == expected


# --- what cannot be -------------------------------------------------------------------------------------------------
def step(index: int, **changes: Any) -> Callable[[dict[str, Any]], Any]:
    return lambda held: held["step"][index].update(changes)


BROKEN: list[tuple[str, Callable[[dict[str, Any]], Any], str, str]] = [
    ("a code of the catalogue", lambda h: h.update(code="frost"), "", "The procedure frost is the catalogue's"),
    ("a code without own_", lambda h: h.update(code="hood"), "", "The code hood is none of a firm's own"),
    ("no version", lambda h: h.pop("version"), "", "This field is missing."),
    ("a version in words", lambda h: h.update(version="two"), "/version", "This is no whole number."),
    ("a field that is none", lambda h: h.update(colour="blue"), "/colour", "There is no such field."),
    ("no needs", lambda h: h.pop("needs"), "", "This field is missing."),
    ("no safe state", lambda h: h.update(safe_state=" "), "/safe_state", "needs at least 3 characters"),
    ("nothing restored", lambda h: h["step"].pop(), "", "its steps are run, then what was changed is restored"),
    ("restoring not proved", step(2, photo=False), "", "a step of its restoring has a photo, which proves it restored"),
    ("restoring first", lambda h: h["step"].reverse(), "", "its steps are run, then what was changed is restored"),
    ("proof retired", step(2, retired=True), "", "a step of its restoring has a photo"),
    ("a hazard that is none", lambda h: h.update(caution=["dragons"]), "", "no hazard is called dragons"),
    ("a trade that is none", lambda h: h["needs"].update(present=["wizard"]), "", "no trade is called wizard"),
    ("who is not there", step(0, who="electrical"), "", "both_start: electrical does it and does not have to be there"),
    ("a kind that is none", lambda h: h.update(when=[{"kinds": ["kiln"]}], otherwise="No."), "", "no kind is called"),
    ("no word for the others", lambda h: h.update(when=[{"kinds": ["erv"]}]), "", "says why it does not to others"),
    ("a setting that is none", lambda h: h.update(settings=["mood"]), "", "no setting is called mood"),
    ("a version that counts late", lambda h: h.update(counts_from=2), "", "a version counts from itself or an earlier"),
    ("a step twice", step(1, id="both_start"), "", "both_start stands twice"),
    ("limits without a source", step(1, source=""), "/step/1", "limits have a source"),
    ("limits that cross", step(1, low=40.0), "/step/1", "the limits 40 and 30 cross"),
    ("a unit that is none", step(1, unit="jiffy"), "/step/1", "jiffy"),
    ("an answer that is none", step(0, answer="song"), "/step/0/answer", "This word is not known here."),
    (
        "an expectation that is none",
        step(0, answer="number", unit="Pa", low=0.0, source="us", expects="luck"),
        "",
        "nothing expects luck",
    ),
    ("simulated by nobody", step(0, simulated="the switch", untested="The switch."), "/step/0", "who makes what is"),
    ("simulated and all tested", step(0, simulated="the switch", who="controls"), "/step/0", "what stays untested"),
    ("a trend that is none", step(0, answer="trend", trend=["luck"]), "", "no expectation over a trend is called luck"),
    ("the clock moved", step(0, do="Set the controller's clock an hour ahead."), "/step/0", "a temporary schedule"),
    ("live work", step(0, expect="Read the volts at the live terminals."), "/step/0", "nobody works live"),
    ("energised", step(0, look="Whether the panel is energized."), "/step/0", "nobody works live"),
    ("under load", step(0, do="Open the starter under load."), "/step/0", "nothing is switched under load"),
    ("a running fan", step(0, do="While the fan runs, open the disconnect."), "/step/0", "switched under load"),
    ("a jumper", step(0, do="Jumper the proof input."), "/step/0", "no input and no safety is bridged"),
    ("a safety defeated", step(0, do="Bypass the high limit switch."), "/step/0", "no input and no safety is bridged"),
    ("a guard off", step(0, do="Take off the belt guard with the fan running."), "/step/0", "is opened while anything"),
    ("said to be safe", lambda h: h.update(safe_state="Off, and safe to enter."), "", "nobody says here that"),
    ("switched by anybody", step(0, do="Open the breaker."), "/step/0", "is switched by the trade electrical"),
    ("a ladder", step(0, do="Look from a ladder at the hood's damper."), "", "needs the caution height"),
    ("a detector", step(0, do="Spray the duct detector."), "", "is that contractor's test, and is only `witnessed`"),
    (
        "witnessed by us",
        lambda h: h.update(witnessed=True),
        "",
        "what is witnessed is the fire alarm contractor's test",
    ),
]


@pytest.mark.parametrize(("change", "at", "said"), [one[1:] for one in BROKEN], ids=[one[0] for one in BROKEN])
def test_a_broken_procedure_is_refused_with_its_place_its_reason_and_its_remedy(
    change: Callable[[dict[str, Any]], Any], at: str, said: str
) -> None:
    (problem,) = problems({"add": [hood(change)]})
    assert problem.pointer.startswith(f"/conventions/own_procedures/add/0{at}")
    assert said in problem.reason
    assert problem.remedy


def problems(own: dict[str, Any]) -> tuple[Any, ...]:
    given = builder_document(place=place(), conventions=conventions(own_procedures=own))
    with pytest.raises(judging.DocumentError) as refused:
        judging.judge_document(given)
    return refused.value.problems


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ({"procedure": "own_hood", "step": "both_start", "do": "Start it."}, "no procedure of the catalogue is called"),
        ({"procedure": "frost", "step": "thaws", "do": "Wait for it."}, "frost has no step thaws"),
        ({"procedure": "frost", "step": "air_left"}, "nothing of air_left is worded otherwise"),
        ({"procedure": "frost", "step": "released", "do": "Leave it."}, "it restores the unit, or proves it restored"),
        ({"procedure": "power", "step": "isolated", "do": "Open it."}, "people may be hurt at it"),
        ({"procedure": "smoke", "step": "their_report", "do": "Ask them."}, "the test is the fire alarm contractor's"),
        (
            {"procedure": "frost", "step": "air_left", "do": "Set the clock ahead."},
            "nobody moves the controller's clock",
        ),
        ({"procedure": "frost", "step": "air_left", "do": "Look from the roof."}, "needs the caution height"),
        ({"procedure": "frost", "step": "begins_at", "high": 9.0}, "There is no such field."),
        ({"procedure": "frost", "step": "begins_at", "caution": []}, "There is no such field."),
    ],
)
def test_of_the_catalogue_only_words_change_and_only_where_nobody_is_hurt_by_it(
    words: dict[str, Any], said: str
) -> None:
    (problem,) = problems({"reword": [words]})
    assert said.lower() in problem.reason.lower()
    assert problem.pointer.startswith("/conventions/own_procedures/reword/0")
    assert problem.remedy


def test_nothing_stands_twice_and_nothing_drops_a_procedure_of_the_catalogue() -> None:
    (twice,) = problems({"add": [HOOD, HOOD]})
    assert twice.reason == "Own_hood stands twice."
    (dropped,) = problems({"drop": ["frost"]})
    assert (dropped.pointer, dropped.reason) == ("/conventions/own_procedures/drop", "There is no such field.")
    assert not [code for code in LIBRARY.procedures if OWN_CODE.fullmatch(code)]


def test_the_example_of_the_docs_may_be_kept() -> None:
    text = (Path(__file__).parents[2] / "docs/judging-document.md").read_text(encoding="utf-8")
    (example,) = [one for one in re.findall(r"```json\n(.*?)```", text, re.DOTALL) if "own_hood" in one]
    assert "own_hood" in merged(json.loads(example)).procedures


# --- kept and compared ----------------------------------------------------------------------------------------------
@pytest.mark.parametrize("one", LIBRARY.procedures.values(), ids=LIBRARY.procedures)
def test_what_is_kept_of_a_procedure_is_the_procedure_and_it_may_be_a_firm_s_own(one: Any) -> None:
    """So the catalogue's own pass every check that a firm's pass, but for their codes."""
    assert built(json.loads(json.dumps(plain(one)))) == one
    held = merged({"version": 1, "add": [{**plain(one), "code": f"own_{one.code}"}]}).procedures[f"own_{one.code}"]
    assert procedure_in({"procedure": held.code, **own_of(held)}) == held
    assert held.steps == one.steps
    assert set(may_be_worded(one)) <= {step.id for step in one.steps if step.part == "run"}


def test_a_look_says_what_is_added_changed_reworded_put_back_and_left_out() -> None:
    before = {"add": [HOOD, hood(lambda held: held.update(code="own_lab"))], "reword": [WORDS]}
    newer = hood(lambda held: held.update(version=2, title="Hood"))
    bath = hood(lambda held: held.update(code="own_bath"))
    pack = {"procedure": "power", "step": "as_found", "expect": "A photo."}
    rows = [row[:2] for row in compared(before, {"add": [newer, bath], "reword": [pack]})]
    assert rows == [
        ("own_hood", "changed"),
        ("own_bath", "added"),
        ("own_lab", "left out"),
        ("frost, air_left", "put back"),
        ("power, as_found", "reworded"),
    ]
    assert {row[1] for row in compared(before, before)} == {"unchanged"}
    assert as_in_the_catalogue({"reword": [WORDS, pack]}) == len(LIBRARY.procedures) - 2
