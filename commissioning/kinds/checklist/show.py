"""A checklist record as blocks: cautions first, then what is wrong, then each group in the order of the walk."""

from collections.abc import Mapping
from typing import Any

from commissioning.blocks import Block, Column, Photo, Sentence, Table
from commissioning.catalogue.checks import CATALOGUE
from commissioning.catalogue.units import VOCABULARY
from commissioning.dossier.checklist_shows import cautions, lifted_by, title_of, who_next
from commissioning.dossier.checklist_signoffs import signed_by
from commissioning.dossier.own_checks import group_titles

_OUTCOMES = {"wrong": "wrong", "cannot": "cannot be answered yet", "right": "right"}


def headline(measurement: Mapping[str, Any], display: str) -> str:
    """
    >>> answers = [{"outcome": "right"}, {"outcome": "wrong"}, {"outcome": "right"}]
    >>> headline({"facts": {"answers": answers, "releases": [{}], "lifts": []}}, "si")
    '3 answered: 1 wrong, 2 right; 1 release of a safety hold'
    """
    facts = measurement["facts"]
    outcomes = [one["outcome"] for one in facts["answers"]]
    parts = [f"{outcomes.count(code)} {words}" for code, words in _OUTCOMES.items() if code in outcomes]
    told = [f"{len(outcomes)} answered: {', '.join(parts)}"] if outcomes else []
    words = (
        ("releases", "release{} of a safety hold"),
        ("lifts", "lift{} of a quality hold"),
        ("signoffs", "sign-off{} by a company"),
    )
    for name, what in words:
        if count := len(facts.get(name, ())):
            told.append(f"{count} {what.format('s' if count > 1 else '')}")
    return "; ".join(told)


def show(measurement: Mapping[str, Any], display: str) -> tuple[Block, ...]:
    facts = measurement["facts"]
    own = facts.get("own", {})
    by_item = {one["item"]: one for one in facts["answers"]}
    open_ = [id for id, one in by_item.items() if one["outcome"] != "right"]
    blocks: list[Block] = [*cautions(open_, own)]
    by = f", by {facts['company']}" if facts.get("company") else ""
    blocks.append(Sentence(f"Checklist{by}: {headline(measurement, display)}; {measurement['observed_at']}."))
    wrong = tuple((title_of(id, own), _told(one)) for id, one in by_item.items() if one["outcome"] == "wrong")
    if wrong:
        blocks.append(Table((Column("What is wrong"), Column("Answer")), wrong, "First what is wrong"))
    blocks += releases(facts)
    columns = (Column("Item"), Column("Answer"), Column("It is"))
    group_of = {id: one.group for id, one in CATALOGUE.items.items()} | {id: one["group"] for id, one in own.items()}
    for group, title in group_titles(own).items():
        rows = tuple(
            (title_of(id, own), _told(by_item[id]), _OUTCOMES[by_item[id]["outcome"]])
            for id, where in group_of.items()
            if where == group and id in by_item
        )
        if rows:
            blocks.append(Table(columns, rows, title))
    blocks += [Photo(sha256, title_of(id, own)) for id, one in by_item.items() for sha256 in one["photos"]]
    blocks += [Sentence(remark, "aside") for remark in measurement["remarks"]]
    return tuple(blocks)


def _told(answer: Mapping[str, Any]) -> str:
    unblocks = f"; {who_next(answer['trade'], answer['company'])} unblocks it" if answer["outcome"] == "cannot" else ""
    note = f"; {answer['note']}" if answer["note"] else ""
    return f"{answer['said']}{unblocks}{note}"


def releases(facts: Mapping[str, Any]) -> list[Block]:
    """Releases, lifts and sign-offs, each with who gave it."""
    own = facts.get("own", {})
    blocks: list[Block] = []
    if facts["releases"]:
        rows = tuple((title_of(one["item"], own), lifted_by(one)) for one in facts["releases"])
        blocks.append(Table((Column("Safety hold"), Column("Released by")), rows, "Releases recorded"))
    if facts["lifts"]:
        rows = tuple((title_of(one["item"], own), lifted_by(one)) for one in facts["lifts"])
        blocks.append(Table((Column("Quality hold"), Column("Lifted by")), rows, "Holds lifted by the lead"))
    if facts.get("signoffs"):
        rows = tuple((VOCABULARY.trades[one["trade"]], signed_by(one)) for one in facts["signoffs"])
        blocks.append(Table((Column("Trade"), Column("Signed by")), rows, "Items of a trade signed off as complete"))
    return blocks
