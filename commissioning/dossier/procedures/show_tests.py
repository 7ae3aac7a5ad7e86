"""Plans, runs and verdicts of functional tests as blocks, from kept JSON alone: cautions first."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from commissioning.blocks import Block, Caution, Column, Sentence, Table, Working, WorkingLine
from commissioning.catalogue.procedures import LIBRARY, Library, Procedure
from commissioning.catalogue.units import VOCABULARY
from commissioning.dossier import printing, shows
from commissioning.dossier.own_procedures import procedure_in
from commissioning.dossier.procedures import show_log
from commissioning.dossier.procedures.plan import depends_on
from commissioning.dossier.settings.printed import title_of as setting_title
from commissioning.engineering import units

OUTCOMES = {
    "carried_through": "carried through",
    "aborted": "aborted",
    "wasted": "call-out wasted",
    "deferred": "deferred",
}
_IT_IS = {"conforms": "as expected", "does_not_conform": "not as expected", "inconclusive": "inconclusive"}
_CODES = {  # in which each SI unit is printed
    "m3/s": {"ip": "cfm", "si": "L/s"},
    "degC": {"ip": "degF", "si": "degC"},
    "delta_K": {"ip": "delta_degF", "si": "delta_K"},
    "mol/mol": {"ip": "ppm", "si": "ppm"},
    "Pa": {"ip": "in_wc", "si": "Pa"},
    "1": {"ip": "%", "si": "%"},
}
NOT_SAID = (
    "Steps are for people who may do them, under the site's permits and local codes. Nothing here says that a unit is "
    "safe to enter, to start or to energise."
)


def title_of(code: str, library: Library = LIBRARY) -> str:
    """Where nothing is kept that says it: `titled` reads it from what was kept."""
    return _title(code, library.procedures.get(code))


def titled(facts: Mapping[str, Any]) -> str:
    return _title(facts["procedure"], procedure_in(facts))


def _title(code: str, known: Procedure | None) -> str:
    return known.title if known else code.replace("_", " ")


def value(held: float | None, unit: str, display: str, *, with_unit: bool = True) -> str:
    """
    >>> value(0.4719474432, "m3/s", "ip"), value(-2.0, "degC", "ip"), value(31.0, "s", "si"), value(0.45, "1", "ip")
    ('1,000 cfm', '28.4 °F', '31 s', '45 %')
    """
    if held is None:
        return ""
    code = _CODES.get(unit, {}).get(display, unit)
    if unit == "m3/s":
        text = printing.airflow(held, display)
    else:
        number = float(units.from_si(held, code))
        digits = 3 if code == "in_wc" else 1
        text = printing.as_given(round(number, digits) + 0.0)
    return f"{text} {_label(code)}" if with_unit else text


def _label(code: str) -> str:
    return units.unit(code).label.replace(" (difference)", "")


def wanted(row: Mapping[str, Any], display: str) -> str:
    """What a number has to lie within, with what it was worked out from; what is seen may stand on a trend log."""
    unit, low, high = row["unit"], row["low"], row["high"]
    if row["missing"]:
        return f"follows from {', '.join(setting_title(code) for code in row['missing'])}: not read"
    if not unit:
        return show_log.stands_on(row.get("trend", ()))
    if low is not None and high is not None:
        told = f"{value(low, unit, display, with_unit=False)} to {value(high, unit, display)}"
    else:
        told = f"at least {value(low, unit, display)}" if high is None else f"at most {value(high, unit, display)}"
    if row["expected"] is None:
        return told
    basis = f" of {row['basis']} air" if row["basis"] else ""
    return f"{value(row['expected'], unit, display)}{basis}, {row['how']}: {told}"


def cautions(procedure: Procedure | None) -> tuple[Caution, ...]:
    if procedure is None:
        return ()
    return tuple(Caution(VOCABULARY.hazards[code].text, VOCABULARY.hazards[code].title) for code in procedure.hazards)


def judged(judgement: Mapping[str, Any], display: str) -> tuple[Block, ...]:
    facts = judgement["facts"]
    procedure = procedure_in(facts)
    title = titled(facts)
    runs = _runs(facts["runs"])
    if judgement["absence"] is not None:
        absence = judgement["absence"]
        code = "" if "sample" in facts else f" {shows.ABSENCES[absence['code']].lower()}."
        said = Sentence(f"{title}:{code} {absence['text']}")
        if "plan" in facts:
            return (said, *_needs(procedure), *_plan(procedure, facts["plan"], display), *runs)
        return (said, *_steps(procedure, facts["steps"], display), *runs)
    criterion = WorkingLine("Criterion", "", judgement["clause"])
    working = (criterion, *show_log.rule(facts["steps"]), *shows.decision(judgement))
    return (
        shows.lead(judgement, f"{title}: {_counts(facts['steps'])}.{_restored(facts['steps'])}{_in_part(facts)}"),
        *_simulated(facts["simulated"]),
        *_steps(procedure, facts["steps"], display),
        *runs,
        Working(working, title),
        *shows.next_steps(judgement),
    )


def _needs(procedure: Procedure | None) -> tuple[Block, ...]:
    if procedure is None:
        return ()
    needs = procedure.needs
    there = ", ".join(VOCABULARY.trades[code] for code in needs.present)
    rows = (
        ("Season", needs.season),
        ("Occupancy", needs.occupancy),
        ("Coordination", needs.coordination),
        ("Has to be there", there),
        ("If it is broken off", procedure.safe_state),
    )
    held = tuple(row for row in rows if row[1])
    table = Table((Column("Before it begins"), Column("")), held, "Before it begins")
    return (*cautions(procedure), Sentence(NOT_SAID, "aside"), table)


def _counts(rows: Sequence[Mapping[str, Any]]) -> str:
    """
    >>> _counts([{"verdict": "conforms"}, {"verdict": "does_not_conform"}, {"verdict": None}])
    '1 of 3 steps as expected, 1 not as expected'
    """
    of = {verdict: sum(row["verdict"] == verdict for row in rows) for verdict in _IT_IS}
    told = [f"{of['conforms']} of {len(rows)} steps {_IT_IS['conforms']}"]
    told += [f"{of[verdict]} {_IT_IS[verdict]}" for verdict in ("does_not_conform", "inconclusive") if of[verdict]]
    return ", ".join(told)


def _restored(rows: Sequence[Mapping[str, Any]]) -> str:
    back = [row["verdict"] for row in rows if row["part"] == "restore"]
    return " Restored, and proved so." if set(back) == {"conforms"} else " That it was restored is not proved."


def _in_part(facts: Mapping[str, Any]) -> str:
    """A pass by simulation is never told without what it leaves open."""
    return " Simulated in part: what stays untested is listed." if facts["simulated"] else ""


def _simulated(told: Iterable[Mapping[str, str]]) -> tuple[Block, ...]:
    rows = tuple((one["part"], one["untested"]) for one in told)
    return (Table((Column("Simulated"), Column("Stays untested")), rows, "What was simulated"),) if rows else ()


def _plan(procedure: Procedure | None, plan: Sequence[Mapping[str, Any]], display: str) -> tuple[Block, ...]:
    rows = tuple(
        (str(number), step.do, step.expect, wanted(row, display))
        for number, row in enumerate(plan, start=1)
        if procedure is not None and (step := procedure.by_id.get(row["step"])) is not None
    )
    columns = (Column("", align="right"), Column("Do"), Column("Expect"), Column("On this unit"))
    return (Table(columns, rows, "Steps"),) if rows else ()


def _steps(procedure: Procedure | None, held: Sequence[Mapping[str, Any]], display: str) -> tuple[Block, ...]:
    rows = tuple(
        (
            str(number),
            _step_in_words(procedure, row["step"]),
            seen(row, display),
            wanted(row, display),
            _IT_IS[row["verdict"]] if row["verdict"] else row["why"],
        )
        for number, row in enumerate(held, start=1)
    )
    columns = (Column("", align="right"), Column("Expected"), Column("Seen"), Column("Within"), Column("It is"))
    return (Table(columns, rows, "Steps"), *show_log.side_by_side(held, display))


def _step_in_words(procedure: Procedure | None, id: str) -> str:
    step = procedure.by_id.get(id) if procedure else None
    return step.expect if step else id.replace("_", " ")


def seen(row: Mapping[str, Any], display: str) -> str:
    told = show_log.seen(row) or number(row.get("value"), row.get("expanded_uncertainty"), row["unit"], display)
    return "; ".join(filter(None, (told, row["note"])))


def number(held: float | None, expanded: float | None, unit: str, display: str) -> str:
    if held is None:
        return ""
    if not expanded:
        return value(held, unit, display)
    if unit == "m3/s":
        return shows.airflow_with_uncertainty(held, expanded, display)
    code = _CODES.get(unit, {}).get(display, unit)
    size = float(units.from_si(expanded, code)) - float(units.from_si(0.0, code))
    return f"{value(held, unit, display, with_unit=False)} ± {printing.two_digits(size)} {_label(code)}"


def _runs(runs: Sequence[Mapping[str, Any]]) -> tuple[Block, ...]:
    by_id = {one["envelope"]: one for one in runs}
    rows = tuple(
        (one["run"], printing.moment(one["on"]), OUTCOMES[one["outcome"]], retest(one["retest_of"], by_id))
        for one in runs
    )
    columns = (Column("Run"), Column("When"), Column("How it went"), Column("Retest of"))
    return (Table(columns, rows, "Runs"),) if rows else ()


def to_run_again(measured: Iterable[Mapping[str, Any]], changed: Sequence[str]) -> list[str]:
    """Titles of the tests that were run at a unit, by its measurements, and depend on settings that changed."""
    run = {one["facts"]["procedure"]: one["facts"] for one in measured if one["kind"] == "test_run"}
    order = [*LIBRARY.procedures, *sorted(run.keys() - LIBRARY.procedures.keys())]
    held = [(facts, procedure_in(facts)) for code in order if (facts := run.get(code)) is not None]
    return [titled(facts) for facts, known in held if known and set(depends_on(known)) & set(changed)]


def retest(told: Mapping[str, Any] | None, runs: Mapping[str, Mapping[str, Any]]) -> str:
    if told is None:
        return ""
    known = runs.get(told["id"])
    issue = f", issue {told['issue']}" if told["issue"] else ""
    run = f"run {known['run']}" if known else "a run that does not stand here"
    return f"{run}{issue}"
