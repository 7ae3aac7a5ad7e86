"""What stands before the units: the cover, how to read it, and the summary with every unit on one scale."""

from collections import Counter
from collections.abc import Mapping
from typing import Any

from commissioning.binders.render import ink, words
from commissioning.binders.render.content import WORST_FIRST, Content, outcome_of, title_of, where_of
from commissioning.binders.render.marks import WORDS, band_cell, draw_band, outcome, scale, scale_cell
from commissioning.binders.render.sheet import Sheet
from commissioning.binders.render.tables import Column, Set, table
from commissioning.blocks import Band
from commissioning.dossier.shows import RULES

_EXAMPLE = Band(
    label="", low=90.0, high=110.0, minimum=80.0, measured=104.0, uncertainty=3.5, earlier=(87.0,), outcome="conforms"
)


def cover(sheet: Sheet, content: Content) -> None:
    """Title, whose it is, what holds in one sentence, and the hash by which the document is known."""
    document = content.document
    sheet.bare, sheet.tag = True, "Cover"
    sheet.entry("Cover", 0)
    sheet.y = sheet.paper.height - 150.0
    sheet.rule(sheet.left, sheet.right, sheet.y + 24, weight=2.0, colour=ink.BLACK)
    sheet.paragraph(document["title"], ink.TITLE)
    sheet.paragraph(f"{document['project']['name']} ({document['project']['code']})", ink.CHAPTER)
    sheet.down(10.0)
    sheet.paragraph(counted(content), ink.LEAD)
    sheet.down(14.0)
    rows = [
        ("Owner", document["owner"]["name"]),
        ("Commissioned by", document["firm"]["name"]),
        *(("Building", _place(one)) for one in document["buildings"]),
        ("As of", f"{words.moment(document['as_of'])}: the last entry of all that is in here"),
    ]
    table(sheet, (Column("", 0.2), Column("", 0.8)), [(Set(name, ink.ASIDE), value) for name, value in rows])
    sheet.down(14.0)
    sheet.paragraph("SHA-256 of the attached binder.json", ink.ASIDE)
    sheet.paragraph(content.hash, ink.CELL_BOLD)
    sheet.paragraph(
        "It holds the evidence byte for byte, the agreed limits and all that is printed here. Whoever has this file "
        "can judge every unit again from it: manage.py verify_binder FILE.",
        ink.ASIDE,
    )


def _place(building: Mapping[str, Any]) -> str:
    site = building["site"]
    parts = [building["name"], site["name"], site["address"]]
    return ", ".join(dict.fromkeys(part for part in parts if part))


def counted(content: Content) -> str:
    """The sentence that the reader came for."""
    worst = [content.worst(unit["position"]) for unit in content.units]
    counts = [code for code in worst if code != "not_counted"]
    ready = sum(code in ("conforms", "accepted", "not_given") for code in counts)
    failing = counts.count("does_not_conform")
    rest, left = len(counts) - ready - failing, len(worst) - len(counts)
    meet = "meets all that is asked of it" if ready == 1 else "meet all that is asked of them"
    said = [f"{words.opening(words.count(ready))} of {words.of(len(counts), 'unit')} {meet}."]
    if failing:
        said.append(f"{words.opening(words.count(failing))} {'does' if failing == 1 else 'do'} not.")
    if rest:
        said.append(f"Of {words.count(rest)} it cannot be said yet.")
    if left:
        said.append(f"{words.opening(words.of(left, 'unit'))} {'is' if left == 1 else 'are'} not counted.")
    signed = [unit for unit in content.units if (unit.get("signature") or {}).get("stands")]
    if signed:
        said.append(f"{words.opening(words.count(len(signed)))} {'is' if len(signed) == 1 else 'are'} signed.")
    return " ".join(said)


# --- how to read it ----------------------------------------------------------------------------------------------
def how_to_read(sheet: Sheet, content: Content) -> None:
    sheet.tag = "How to read it"
    sheet.entry("How to read it", 0)
    sheet.heading("How to read it", ink.CHAPTER)
    for text in _HOW:
        sheet.paragraph(text)
    sheet.heading("The band", keep=90.0)
    _explained(sheet)
    sheet.heading("The marks")
    rows = [(outcome(code), _MEANS[code]) for code in _MEANS]
    table(sheet, (Column("Mark", 0.27), Column("What it says", 0.73)), rows)
    sheet.heading("What a hash shows, and what not")
    sheet.paragraph(
        "A SHA-256 in the manifest shows that the bytes of a record are those which the server received at that time. "
        "It does not show that a technician read an instrument rightly: for that there are the calibration, the "
        "repeated sample and the witness, which stand beside each value."
    )
    sheet.paragraph(
        "Whether this file is the one that was handed over is shown by comparing its hash with one that was kept "
        "elsewhere, such as in the letter of handover."
    )


_HOW = (
    "Each unit has a sheet of its own: what was designed, what was measured, what follows from it, and under "
    "that the arithmetic with all its digits and where each number comes from. The tag stands at the outer corner.",
    "Every measured value carries its expanded uncertainty, with the coverage that the project has agreed on. A "
    "verdict is one of three: conforms, does not conform, inconclusive (ISO/IEC Guide 98-4, JCGM 106), made by the "
    "decision rule that stands beside it. Where there is no verdict, the reason stands in its place.",
    "Final readings of a unit belong to one as-left session. A value is provisional where the calibration of its "
    "instrument had lapsed or is not on record.",
    "A character that cannot be printed or seen is shown by its code, such as ⟦U+200B⟧. Nothing is left out.",
)
_MEANS = {
    "conforms": "The dot rests between its limits: the requirement is met under the agreed decision rule.",
    "does_not_conform": "The dot lies outside: it is not met. An issue tells what is done about it.",
    "inconclusive": "The hollow dot lies across a bar: the uncertainty does not allow a decision.",
    "accepted": "It is not met, and whoever may has accepted it as it is; the issue tells who and why.",
    "recheck": "The unit was touched since: it has to be measured again.",
    "disputed": "Two finals differ by more than both uncertainties: a joint retest decides.",
    "not_judged": "Nothing can be said on this evidence; the reason stands beside it.",
    "not_due": "Final readings are still to come.",
    "not_given": "The design gives no limit: nothing can fail, and nothing is claimed.",
    "not_counted": "The unit is not in the scope; it is listed so that it is not forgotten.",
}


def _explained(sheet: Sheet) -> None:
    wide = 330.0
    draw_band(sheet, _EXAMPLE, sheet.left, sheet.y - 22.0, wide, 8.0)
    scale(sheet, sheet.left, sheet.y - 40.0, wide)
    sheet.down(46.0)
    sheet.paragraph(
        "All in per cent of the design. The grey band is the tolerance of the contract between its bars, with the "
        "design as the line in it; an open side has no bar. The notch with the dashed line is the ventilation minimum. "
        "The dot is what was measured, the whiskers are its uncertainty; faint ticks are earlier readings that no "
        "longer stand. What lies beyond 30 % is drawn at the edge with an arrow and its value."
    )


# --- the summary -------------------------------------------------------------------------------------------------
def summary(sheet: Sheet, content: Content) -> None:
    sheet.new_page()
    sheet.tag = "Summary"
    sheet.entry("Summary", 0)
    sheet.heading("Summary", ink.CHAPTER)
    sheet.paragraph(counted(content), ink.LEAD)
    open_issues = sum(issue["is_open"] for issue in content.issues)
    closed = len(content.issues) - open_issues
    sheet.paragraph(
        f"{words.opening(words.of(open_issues, 'issue'))} {'is' if open_issues == 1 else 'are'} open, "
        f"{words.count(closed)} {'is' if closed == 1 else 'are'} closed or accepted. "
        f"Decision rule: {RULES[content.conventions['decision_rule']]}."
    )
    _counts(sheet, content)
    sheet.heading("All units on one scale", keep=70.0)
    sheet.paragraph("The port of each unit that is furthest from its design, in per cent of design.", ink.ASIDE)
    _picture(sheet, content)


def _counts(sheet: Sheet, content: Content) -> None:
    """Requirements against outcomes, in numbers; a place without any is a dash."""
    found: Counter[tuple[str, str]] = Counter()
    for unit in content.units:
        for one in content.judgements(unit["position"]):
            found[one["requirement"], content.outcome(unit["position"], one)] += 1
    codes = [code for code in ("conforms", "does_not_conform", "inconclusive", "accepted") if _any(found, code)]
    others = sorted({code for _, code in found} - set(codes), key=_rank)
    rows = []
    for requirement in dict.fromkeys(name for name, _ in found):
        reasons = [f"{found[requirement, code]} {WORDS.get(code, code)}" for code in others if found[requirement, code]]
        rows.append(
            (
                title_of(requirement),
                *(str(found[requirement, code] or "–") for code in codes),
                ", ".join(reasons) or "–",
            )
        )
    columns = [Column("Requirement", 0.24)]
    columns += [Column(words.opening(WORDS[code]), 0.13, "right") for code in codes]
    columns.append(Column("No verdict, and why", 0.76 - 0.13 * len(codes)))
    sheet.heading("Requirements, counted by port", keep=50.0)
    table(sheet, columns, rows, empty="Nothing has been judged.")


def _any(found: Mapping[tuple[str, str], int], code: str) -> bool:
    return any(name == code for _, name in found)


def _rank(code: str) -> int:
    return WORST_FIRST.index(code) if code in WORST_FIRST else 0


_PICTURE = (Column("Unit", 0.18), Column("", 0.4, "centre"), Column("Outcome", 0.2), Column("At", 0.22))


def _picture(sheet: Sheet, content: Content) -> None:
    """Every unit as one row of one scale: the eye finds the outlier without a legend."""
    by_building: dict[str, list[Mapping[str, Any]]] = {}
    for unit in content.units:
        by_building.setdefault(unit["building"], []).append(unit)
    for building, units in by_building.items():
        if len(by_building) > 1:
            sheet.heading(content.buildings[building]["name"], ink.SUBHEADING, keep=60.0)
        rows: list[Any] = [("", scale_cell(), "", "")]
        rows += [_picture_row(content, unit) for unit in units]
        table(sheet, _PICTURE, rows, ruled=False)


def _picture_row(content: Content, unit: Mapping[str, Any]) -> tuple[Any, ...]:
    position = unit["position"]
    code = content.worst(position)
    return (
        Set(unit["tag"], ink.CELL_BOLD),
        band_cell(content.worst_band(position)),
        outcome(code),
        Set(_about(content, position, code), ink.SMALL),
    )


def _about(content: Content, position: str, code: str) -> str:
    """At which requirements and ports it is so; at most two, the sheet has all."""
    found = [
        f"{title_of(one['requirement']).lower()}{', ' + where_of(one).lower() if one['port'] else ''}"
        for one in content.judgements(position)
        if content.outcome(position, one) == code and outcome_of(one) not in ("conforms", "not_counted")
    ]
    more = f" and {words.count(len(found) - 1)} more" if len(found) > 1 else ""
    return (found[0] + more) if found else ""
