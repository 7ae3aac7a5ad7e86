"""Verification samples: by which seed each was drawn, which units were repeated, what the result allows to say."""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.binders.render import ink, words
from commissioning.binders.render.content import Content
from commissioning.binders.render.sheet import Sheet
from commissioning.binders.render.tables import Column, Set, table

TITLE = "Verification samples"
_SEED_BY = {"typed": "typed by the lead", "server": "made at random by the server"}
_OUTCOMES = {
    "agrees": "both finals agree",
    "differs": "differs, in dispute",
    "corrected": "differed; left anew since",
    "due": "to be repeated",
    "not_counted": "no longer counted",
}
_OF_TESTS = {
    **_OUTCOMES,
    "agrees": "the test passed",
    "differs": "the test failed",
    "corrected": "the test failed; passed when it was run anew",
    "due": "to be tested",
}
_COLUMNS = (Column("Order", 0.1, "right"), Column("Unit", 0.2), Column("Came to", 0.7))


def samples(sheet: Sheet, content: Content) -> None:
    """Nothing where none was drawn."""
    held = content.document.get("samples", [])
    if not held:
        return
    sheet.new_page()
    sheet.tag = TITLE
    sheet.entry(TITLE, 0)
    sheet.heading(TITLE, ink.CHAPTER)
    sheet.paragraph(
        "Units drawn by chance: measured once more by somebody else, without touching them, or put to a functional "
        "test that stands for like ones. What is said of the units that were not drawn holds at the stated confidence."
    )
    for one in held:
        _sample(sheet, one)


def _sample(sheet: Sheet, one: Mapping[str, Any]) -> None:
    sheet.heading(f"Sample {one['number']}: {one['title']}", ink.PART, keep=110.0)
    sheet.entry(f"Sample {one['number']}: {one['title']}", 1)
    sheet.paragraph(" ".join(_drawn(one)))
    came_to = _OF_TESTS if one.get("procedure") else _OUTCOMES
    for stratum in one["strata"]:
        sheet.heading(f"{stratum['stratum']}: {stratum['sample']} of {stratum['population']}", keep=70.0)
        if one["is_due"]:
            sheet.paragraph(_still_due(stratum, _to_do(one)))
            continue
        sheet.paragraph(stratum["sentence"])
        rows = [
            (str(unit["rank"]), Set(unit["tag"], ink.CELL_BOLD), came_to[unit["outcome"]])
            for unit in stratum["order"]
            if unit["outcome"] is not None
        ]
        table(sheet, _COLUMNS, rows)


def _to_do(one: Mapping[str, Any]) -> str:
    return "tested" if one.get("procedure") else "repeated"


def _drawn(one: Mapping[str, Any]) -> Iterator[str]:
    enlarges = f", an enlargement of sample {one['enlarges']} after a failure" if one["enlarges"] else ""
    yield f"Drawn {words.moment(one['drawn_at'])} by {one['drawn_by']}{enlarges}."
    fail, fails = ("fail", "fails") if one.get("procedure") else ("differ", "differs")
    share, confidence = 100.0 * one["largest_defective_share"], 100.0 * one["confidence"]
    yield (
        f"Agreed before the draw: to find it, at {confidence:.4g} % confidence, if {share:.3g} % of the units or more "
        f"{fail}; {words.count(one['accept'])} that {fails if one['accept'] == 1 else fail} accepted."
    )
    if one["is_due"]:
        yield f"The seed and the units are told when all of them are {_to_do(one)}."
    else:
        yield (
            f"Seed {one['seed']}, {_SEED_BY.get(one['seed_by'], one['seed_by'])}: the order is that of the SHA-256 of "
            "the seed followed by each unit's id, so that anybody can draw again."
        )


def _still_due(stratum: Mapping[str, Any], done: str) -> str:
    if not stratum["due"]:
        return f"All that is drawn here is {done}; what it says is told with the others."
    are = "is" if stratum["due"] == 1 else "are"
    return (
        f"{stratum['due']} of {stratum['sample']} drawn {are} still to be {done}; until then nothing follows for the "
        "others."
    )
