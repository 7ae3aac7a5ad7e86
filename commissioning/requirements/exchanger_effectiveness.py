"""Exchanger effectiveness: for information, unless the contract makes a least one a criterion.

Beside it stands what the rated points let expect at the flows of the test, what it is net of return air carried over,
and what is recovered for the power that it costs. A wheel at half its speed barely shows here: its speed is judged on
its own.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block, Column, Sentence, Table, Working, WorkingLine
from commissioning.dossier import exchanger_judging as common
from commissioning.dossier import exchanger_words as words
from commissioning.dossier import printing, shows
from commissioning.dossier.exchanger_design import Criterion, ExchangerDesign, exchanger, exchangers, recorded, standing
from commissioning.dossier.exchanger_expected import Expected, expected
from commissioning.dossier.figures import Figures
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Limits

CODE = "exchanger_effectiveness"
TITLE = "Exchanger effectiveness"
VERSION = 2
PRIORITY = "performance"
PARTS = ("sensible", "latent", "total")
_ANY = "sensible_effectiveness"
_RECOVERY = "recovery_efficiency_ratio"
_STEPS = (
    "Readings: sensors in the mixed stream on each side, fan heat taken off on the right side, flows read at the time.",
    "Operating state: bypass and purge closed, coils off, no frost, filters clean.",
    "Wheel: speed, belt, direction, seals. Plates: clean, dry, and set in the right way round.",
    "Flows: are both at their design, and as they were when the airflow was left?",
    "Leakage: return air in the supply air reads as effectiveness that is none.",
)


def judge(view: View) -> Iterator[Judgement]:
    asked = {name for name, design in exchangers(view.place).items() if design.criteria}
    names = sorted(asked | set(recorded(view, _ANY)))
    if not names:
        return
    if not view.place.is_counted:
        yield Judgement(CODE, "", VERSION, absence=view.not_counted())
        return
    yield common.worst_of([one for name in names for one in _of(view, name)])


def _of(view: View, name: str) -> Iterator[Judgement]:
    design, record = exchanger(view.place, name), standing(view, name, _ANY)
    if isinstance(record, Absence):
        yield Judgement(CODE, "", VERSION, absence=record, facts={"exchanger": name}, sources=dict(design.sources))
        return
    facts = _facts(view, design, record)
    if not design.criteria:
        yield _for_information(name, design, record, facts)
    for criterion in design.criteria:
        yield _compare(view, design, record, criterion, facts)


def _for_information(name: str, design: ExchangerDesign, record: Figures, facts: dict[str, Any]) -> Judgement:
    told = [one for part in PARTS if (one := record.figure(f"{part}_effectiveness")) is not None]
    text = f"not computed: {common.reason_of(record, _ANY)}"
    if told:
        text = "; ".join(f"{words.WORDS[one.name]} {words.of_figure(one)}" for one in told)
        doubts = list(dict.fromkeys(doubt for one in told for doubt in one.doubts))
        text += f". What speaks against it: {'; '.join(doubts)}" if doubts else ""
    return Judgement(
        CODE,
        "",
        VERSION,
        absence=Absence("not_given", f"The contract makes it no criterion. For information: {text}."),
        value=told[0].value if told else None,
        expanded_uncertainty=told[0].expanded_uncertainty if told else None,
        unit="1",
        rests_on=(record.envelope,),
        sources=dict(design.sources),
        facts=facts,
    )


def _compare(
    view: View, design: ExchangerDesign, record: Figures, criterion: Criterion, facts: dict[str, Any]
) -> Judgement:
    name = f"{criterion.quantity}_effectiveness"
    about = {**facts, "about": words.WORDS[name], "asked": criterion.minimum, "asked_at": criterion.at}
    figure, sources = record.figure(name), dict(design.sources)
    least: float | str = criterion.minimum
    if figure is not None and criterion.at == "rated_flows":
        least = _carried(facts, criterion)
    absence = None
    if figure is None:
        absence = Absence("not_judged", common.sentence(common.reason_of(record, name)))
    elif isinstance(least, str):
        absence = Absence("not_judged", f"Asked for at the rated flows, to which it cannot be carried: {least}.")
    else:
        absence = common.doubts_of(figure)
    if absence is not None or figure is None or isinstance(least, str):
        value, wide = (None, None) if figure is None else (figure.value, figure.expanded_uncertainty)
        return Judgement(
            CODE,
            "",
            VERSION,
            absence=absence,
            value=value,
            expanded_uncertainty=wide,
            unit="1",
            rests_on=(record.envelope,),
            sources=sources,
            facts=about,
        )
    return common.judged(
        view,
        CODE,
        VERSION,
        record,
        common.decide(view, figure, Limits(low=least)),
        value=figure.value,
        expanded_uncertainty=figure.expanded_uncertainty,
        low=least,
        clause=criterion.clause,
        sources=sources,
        facts=about,
        look_next=_STEPS,
    )


def _carried(facts: Mapping[str, Any], criterion: Criterion) -> float | str:
    """A least effectiveness at the rated flows as one at the flows of the test: it moves as the expected one does."""
    told = facts["parts"][criterion.quantity]
    if not told["expected"]:
        return str(told["none_expected"])
    best = told["expected"][0]
    if not best["rated"]:
        return f"it is rated for no {criterion.quantity} effectiveness at all"
    return min(float(criterion.minimum * best["value"] / best["rated"]), 1.0)


def _facts(view: View, design: ExchangerDesign, record: Figures) -> dict[str, Any]:
    flows = _flows(record)
    return {
        "exchanger": record.facts["exchanger"],
        "season": record.facts["season"],
        "parts": {part: _part(design, record, part, flows) for part in PARTS},
        "flows": common.flows_beside_finals(view, record),
        "recovery": _told(record, _RECOVERY),
    }


def _told(record: Figures, *names: str) -> dict[str, Any]:
    """A figure for information, by the first of these names; or why there is none, by the first that says it."""
    figure = record.figure(names[0])
    if figure is None:
        said = next((one for one in names if one in record.facts["not_computed"]), names[0])
        return {"value": None, "reason": common.reason_of(record, said)}
    return {"value": figure.value, "expanded_uncertainty": figure.expanded_uncertainty, "inputs": list(figure.inputs)}


def _flows(record: Figures) -> tuple[float, float] | None:
    """Standard airflow of each stream, where the record tells both."""
    found = []
    for ports in (("supply", "outdoor"), ("return", "exhaust")):
        held = next((one for port in ports if (one := record.figure("standard_airflow", port)) is not None), None)
        if held is None:
            return None
        found.append(held.value)
    return found[0], found[1]


def _part(design: ExchangerDesign, record: Figures, part: str, flows: tuple[float, float] | None) -> dict[str, Any]:
    figure = record.figure(f"{part}_effectiveness")
    found: tuple[tuple[Expected, ...], str] = ((), "the airflow of both streams was not read")
    if flows is not None:
        found = expected(design, part, record.facts["season"], *flows)
    return {
        "value": None if figure is None else figure.value,
        "expanded_uncertainty": None if figure is None else figure.expanded_uncertainty,
        "net": _told(record, f"net_{part}_effectiveness", "net_effectiveness"),
        "reason": common.reason_of(record, f"{part}_effectiveness") if figure is None else "",
        "doubts": [] if figure is None else list(figure.doubts),
        "expected": [{"value": one.value, "rated": one.rated, "method": one.method} for one in found[0]],
        "none_expected": found[1],
    }


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    facts = judgement["facts"]
    opening = shows.absent(judgement, TITLE)
    blocks: list[Block] = list(opening)
    if not opening:
        wide = printing.percent_uncertainty(judgement["expanded_uncertainty"])
        off = f"{printing.percent(judgement['value'])} ± {wide}"
        least = f"{100.0 * judgement['low']:.1f} %"
        text = f"{common.sentence(facts['about'])[:-1]} {off} against at least {least}."
        blocks += [shows.lead(judgement, text), _working(judgement)]
    if "parts" in facts:
        blocks += [_beside_the_expected(facts), *_recovery(facts, display), *_beside_the_finals(facts, display)]
    return (*blocks, *common.table_of_all(judgement), *shows.next_steps(judgement))


def _working(judgement: Mapping[str, Any]) -> Working:
    facts = judgement["facts"]
    lines = [
        WorkingLine("Measured", "ε", f"{100 * judgement['value']:.4f} %"),
        WorkingLine("Expanded uncertainty", "U", f"±{100 * judgement['expanded_uncertainty']:.4f} %"),
        WorkingLine(
            "Asked for",
            facts["asked_at"].replace("_", " "),
            f"{100 * facts['asked']:g} % or more",
            judgement["clause"] or shows.source_of(judgement, "criteria"),
        ),
    ]
    if facts["asked_at"] == "rated_flows":
        best = facts["parts"][facts["about"].split()[0]]["expected"][0]
        carried = f"ε_min ε_expected / ε_rated = {facts['asked']:g} · {best['value']:.4f} / {best['rated']:.4f}"
        lines.append(
            WorkingLine("At the flows of the test", carried, f"{100 * judgement['low']:.4f} %", best["method"])
        )
    lines.append(WorkingLine("Margin", "ε − ε_min", printing.signed_percent(judgement["margin"], 4)))
    return Working((*lines, *shows.decision(judgement)), TITLE)


def _beside_the_expected(facts: Mapping[str, Any]) -> Table:
    rows = []
    for part, one in facts["parts"].items():
        measured = one["reason"]
        if one["value"] is not None:
            measured = f"{100 * one['value']:.1f} % ± {100 * one['expanded_uncertainty']:.1f} %"
        told = "; ".join(f"{100 * other['value']:.1f} %, {other['method']}" for other in one["expected"])
        rows.append((part, measured, _net(one), told or one["none_expected"], "; ".join(one["doubts"])))
    columns = (
        Column("Effectiveness"),
        Column("Measured"),
        Column("Net of return air carried over"),
        Column("To expect at these flows"),
        Column("What speaks against judging it"),
    )
    season = facts["season"] or "unknown season"
    return Table(
        columns, tuple(rows), f"Exchanger {facts['exchanger']}, {season}: measured beside what its ratings let expect"
    )


def _net(part: Mapping[str, Any]) -> str:
    net = part.get("net")  # a judgement of an earlier version has none
    if net is None or part["value"] is None:
        return ""
    if net["value"] is None:
        return f"not given: {net['reason']}"
    return f"{100 * net['value']:.1f} % ± {100 * net['expanded_uncertainty']:.1f} %"


def _recovery(facts: Mapping[str, Any], display: str) -> Iterator[Block]:
    told = facts.get("recovery")
    if told is None:
        return
    name = words.WORDS[_RECOVERY]
    if told["value"] is None:
        yield Sentence(f"{common.sentence(name)[:-1]} not given: {told['reason']}.", "aside")
        return
    printed = words.with_uncertainty({"name": _RECOVERY, "unit": "1", **told}, display)
    from_what = "; ".join(f"{label}: {value}" for label, value in told["inputs"])
    yield Sentence(f"{common.sentence(name)[:-1]}: {printed}, for information; {from_what}.")


def _beside_the_finals(facts: Mapping[str, Any], display: str) -> Iterator[Block]:
    for one in facts["flows"]:
        if one["normalised_difference"] <= 1.0:
            continue
        test = shows.airflow_with_uncertainty(one["test_m3_s"], one["test_expanded_m3_s"], display)
        final = shows.airflow_with_uncertainty(one["final_m3_s"], one["final_expanded_m3_s"], display)
        yield Sentence(
            f"{shows.PORTS[one['port']]}: {test} during the test against {final} as left, both as standard air; they "
            f"differ by more than both uncertainties (E = {one['normalised_difference']:.2f}). The unit was not tested "
            "as it was left.",
            "aside",
        )
