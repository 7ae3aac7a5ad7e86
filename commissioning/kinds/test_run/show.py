"""One run as blocks: what was answered, by whom it was witnessed and signed, or why it was not carried through."""

from collections.abc import Mapping
from typing import Any

from commissioning.blocks import Block, Column, Photo, Sentence, Table
from commissioning.catalogue.units import VOCABULARY
from commissioning.dossier import printing
from commissioning.dossier.figure_shows import working
from commissioning.dossier.own_procedures import procedure_in
from commissioning.dossier.procedures.runs import not_carried_through
from commissioning.dossier.procedures.show_tests import OUTCOMES, number, titled
from commissioning.dossier.shows import GRADES


def headline(measurement: Mapping[str, Any], display: str) -> str:
    """
    >>> facts = {"procedure": "frost", "run": "FT-3", "outcome": "carried_through", "answers": {"recovers": {}}}
    >>> headline({"facts": facts}, "si")
    'Frost protection, run FT-3, carried through, 1 step answered'
    """
    facts = measurement["facts"]
    count = len(facts["answers"])
    answered = f", {count} step{'' if count == 1 else 's'} answered" if count else ""
    return f"{titled(facts)}, run {facts['run']}, {OUTCOMES[facts['outcome']]}{answered}"


def show(measurement: Mapping[str, Any], display: str) -> tuple[Block, ...]:
    facts = measurement["facts"]
    blocks: list[Block] = [
        Sentence(
            f"{headline(measurement, display)}; {GRADES[measurement['grade']]}, {measurement['stage']}, "
            f"{printing.moment(measurement['observed_at'])}. Version {facts['version']} of the procedure."
        )
    ]
    if facts["outcome"] != "carried_through":
        blocks.append(Sentence(not_carried_through(facts).text))
    blocks += _answers(measurement, display)
    blocks += _people(facts)
    blocks += [Sentence(text, "aside") for text in (*measurement["remarks"], facts["note"]) if text]
    blocks += _workings(measurement, display)
    blocks += [Photo(one, _do(facts, id)) for id, held in facts["answers"].items() for one in held["photos"]]
    signature = facts["signature"]
    if signature and signature["photo"]:
        blocks.append(Photo(signature["photo"], f"Signature of {signature['name']}"))
    return tuple(blocks)


def _do(facts: Mapping[str, Any], id: str) -> str:
    procedure = procedure_in(facts)
    step = procedure.by_id.get(id) if procedure else None
    return step.do if step else id.replace("_", " ")


def _answers(measurement: Mapping[str, Any], display: str) -> list[Block]:
    facts = measurement["facts"]
    figures = {one["at"]: one for one in measurement["figures"]}
    rows = tuple(
        (_do(facts, id), _said(held, figures.get(id), display), _beside(held)) for id, held in facts["answers"].items()
    )
    columns = (Column("Step"), Column("Seen"), Column("Beside it"))
    return [Table(columns, rows, "Answers")] if rows else []


def _said(held: Mapping[str, Any], figure: Mapping[str, Any] | None, display: str) -> str:
    if held["cannot"]:
        return f"could not be done: {held['cannot']}"
    if figure is not None:
        basis = f", {held['basis']} air" if held["basis"] else ""
        return f"{number(figure['value'], figure['expanded_uncertainty'], figure['unit'], display)}{basis}"
    return "as expected" if held["yes"] else "not as expected"


def _beside(held: Mapping[str, Any]) -> str:
    simulated = held["simulated"]
    told = (
        printing.moment(held["at"]) if held["at"] else "",
        f"trend {held['log']}" if held["log"] else "",
        f"simulated: {simulated['part']}; untested: {simulated['untested']}" if simulated else "",
        held["note"],
    )
    return "; ".join(filter(None, told))


def _people(facts: Mapping[str, Any]) -> list[Block]:
    rows = tuple(
        (one["name"], one["company"], VOCABULARY.trades.get(one["trade"] or "", ""), one["role"])
        for one in facts["witnesses"]
    )
    columns = (Column("Name"), Column("Company"), Column("Trade"), Column("Role"))
    blocks: list[Block] = [Table(columns, rows, "Witnesses")] if rows else []
    signature = facts["signature"]
    if signature:
        blocks.append(Sentence(f"Signed by {signature['name']}, {signature['on']}."))
    return blocks


def _workings(measurement: Mapping[str, Any], display: str) -> list[Block]:
    facts = measurement["facts"]
    return [
        block
        for one in measurement["figures"]
        for block in working(one, _do(facts, one["at"]), number(one["value"], None, one["unit"], display))
        if one["standard_uncertainty"] is not None
    ]
