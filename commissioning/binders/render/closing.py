"""What stands after the units: issues with their story, what was not tested, instruments, methods, the manifest."""

import re
from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from commissioning.binders.render import ink, words
from commissioning.binders.render.blocks import Surroundings, draw
from commissioning.binders.render.content import Content, title_of, where_of
from commissioning.binders.render.marks import WORDS, outcome
from commissioning.binders.render.sheet import Sheet
from commissioning.binders.render.tables import Cell, Column, Set, table
from commissioning.blocks import Photo
from commissioning.catalogue.units import VOCABULARY
from commissioning.dossier import printing
from commissioning.dossier.instrument_error import SHAPES
from commissioning.dossier.quantities import si
from commissioning.dossier.shows import METHODS, limits_in_words
from commissioning.dossier.shows import RULES as RULES_IN_WORDS
from commissioning.dossier.startup.words import stage_of
from commissioning.judging import KINDS

_PAIR = (Column("", 0.35), Column("", 0.65))
_STANDARD = re.compile(r"^[A-Z]{2,}[A-Za-z/ -]*[0-9]")


def _chapter(sheet: Sheet, title: str) -> None:
    sheet.new_page()
    sheet.tag = title
    sheet.entry(title, 0)
    sheet.heading(title, ink.CHAPTER)


# --- issues ------------------------------------------------------------------------------------------------------
def issues(sheet: Sheet, content: Content, around: Surroundings) -> None:
    _chapter(sheet, "Issues")
    if not content.issues:
        sheet.paragraph("No issue was raised about these units.")
        return
    for title, held in (
        ("Open", [one for one in content.issues if one["is_open"]]),
        ("Closed or accepted", [one for one in content.issues if not one["is_open"]]),
    ):
        if not held:
            continue
        sheet.heading(f"{title}: {words.of(len(held), 'issue')}", ink.PART, keep=110.0)
        for issue in held:
            _issue(sheet, content, issue, around)


def _issue(sheet: Sheet, content: Content, issue: Mapping[str, Any], around: Surroundings) -> None:
    sheet.heading(f"Issue {issue['number']}: {issue['title']}", keep=100.0)
    sheet.entry(f"Issue {issue['number']}: {issue['title']}", 1, issue["state_in_words"])
    since = words.moment(issue["moved_at"])
    has_it = issue["company"] or "no company"
    person = f" ({issue['assignee']})" if issue["assignee"] else ""
    due = f", due {words.day(issue['due'])}" if issue["due"] and issue["is_open"] else ""
    sheet.paragraph(
        f"{words.opening(issue['state_in_words'])} since {since}; {has_it}{person}; priority {issue['priority']}{due}."
        + (f" Root cause: {issue['root_cause']}." if issue["root_cause"] else "")
        + (f" Call-outs wasted: {issue['wasted_call_outs']}." if issue["wasted_call_outs"] else "")
    )
    checks = [
        (one["tag"], title_of(one["requirement"]), where_of(one), outcome(one["outcome"])) for one in issue["checks"]
    ]
    table(
        sheet,
        (Column("Unit", 0.18), Column("Check", 0.3), Column("Where", 0.22), Column("Now", 0.3)),
        checks,
    )
    story = [(words.moment(one["at"]), one["who"] or "judging", _told(one)) for one in issue["story"]]
    table(sheet, (Column("When", 0.2), Column("Who", 0.2), Column("What", 0.6)), story)
    photos = content.photos.get(f"issue {issue['number']}", ())
    draw(sheet, [Photo(one["sha256"], one["caption"]) for one in photos], around)


def _told(event: Mapping[str, Any]) -> str:
    act = words.ACTS.get(event["act"], words.spaced(event["act"]))
    text = event["text"]
    is_said = text.lower().rstrip(".") == act
    return f"{act}: {text}" if text and not is_said else act


# --- what was not tested -----------------------------------------------------------------------------------------
def not_tested(sheet: Sheet, content: Content) -> None:
    _chapter(sheet, "What was not tested, and why")
    held = content.document["not_tested"]
    if not held:
        sheet.paragraph("Everything that is asked of these units has a verdict.")
        return
    sheet.paragraph("Each requirement that has no verdict, by unit, with the reason.")
    by_unit: dict[str, list[Mapping[str, Any]]] = defaultdict(list)
    for one in held:
        by_unit[one["position"]].append(one)
    rows = [row for lines in by_unit.values() for row in _reasons(lines)]
    columns = (Column("Unit", 0.15), Column("Requirement", 0.31), Column("Why", 0.14), Column("Reason", 0.4))
    table(sheet, columns, rows)


def _reasons(held: list[Mapping[str, Any]]) -> list[tuple[Any, ...]]:
    """What has one reason at several ports is one line."""
    by_reason: dict[tuple[str, str], dict[str, list[str]]] = {}
    for one in held:
        at = by_reason.setdefault((one["code"], one["text"]), {}).setdefault(one["requirement"], [])
        if one["port"]:
            at.append(where_of(one).lower())
    rows = []
    for index, ((code, text), where) in enumerate(by_reason.items()):
        said = [
            (title_of(name) if name else "The unit") + (f" ({words.listed(ports)})" if ports else "")
            for name, ports in where.items()
        ]
        tag = Set(held[0]["tag"], ink.CELL_BOLD) if index == 0 else ""
        rows.append((tag, "; ".join(said), WORDS.get(code, code.replace("_", " ")), text))
    return rows


# --- instruments -------------------------------------------------------------------------------------------------
def instruments(sheet: Sheet, content: Content) -> None:
    _chapter(sheet, "Instruments")
    sheet.paragraph("Those with which the values were read, and all that is on record of their calibration.")
    rows = []
    for one in content.document["judging"]["instruments"]:
        calibrations = [_calibration(c) for c in one["calibrations"]]
        rows.append(
            (
                f"{one['name']}\n{one['serial']}",
                words.spaced(one["kind"]),
                _accuracy(one),
                "\n".join(calibrations) or "none",
            )
        )
    columns = (
        Column("Instrument, serial", 0.25),
        Column("Kind", 0.15),
        Column("Accuracy, resolution", 0.22),
        Column("Calibrations", 0.38),
    )
    table(sheet, columns, rows, empty="No instrument was used: every value is reported.")


def _calibration(held: Mapping[str, Any]) -> str:
    found = held["as_found"].replace("_", " ")
    return f"{held['certificate']}: {words.day(held['on'])}, due {words.day(held['due'])}, as found {found}"


def _accuracy(tool: Mapping[str, Any]) -> str:
    given = tool["accuracy"]
    parts = [f"{100 * given['relative']:g} % of reading"] if given.get("relative") else []
    if given.get("absolute"):
        parts.append(_quantity(given["absolute"]))
    shape = SHAPES.get(given.get("shape", ""), "")
    said = f"± ({' + '.join(parts)}){', ' + shape if shape else ''}" if parts else "not stated"
    resolution = f"; reads to {_quantity(tool['resolution'])}" if tool.get("resolution") else ""
    return said + resolution


def _quantity(given: Mapping[str, Any]) -> str:
    return f"{given['value']:g} {given['unit']}"


# --- methods and sources -----------------------------------------------------------------------------------------
_COUNTED = (Column("Equation", 0.66), Column("Values", 0.14, "right"))


def methods(sheet: Sheet, content: Content, around: Surroundings) -> None:
    _chapter(sheet, "Methods and sources")
    sheet.heading("Methods by which air was measured", keep=50.0)
    held = [one for unit in content.units for one in content.measurements(unit["position"])]
    air = Counter((one["method"], one["equation"]) for one in held if "equation" in one)
    table(
        sheet,
        (Column("Method", 0.2), *_COUNTED),
        [(METHODS.get(code, code), said, str(number)) for (code, said), number in sorted(air.items())],
        empty="Nothing has been measured.",
    )
    figures = [(one["kind"], figure) for one in held for figure in one.get("figures", ())]
    if figures:
        other = Counter((KINDS[kind].TITLE, words.spaced(one["name"]), one["equation"]) for kind, one in figures)
        sheet.heading("Methods by which the rest was found", keep=50.0)
        rows = [(f"{kind}: {name}", said, str(number)) for (kind, name, said), number in sorted(other.items())]
        table(sheet, (Column("What", 0.3), Column("Equation", 0.56), _COUNTED[1]), rows)
    sheet.heading("What the project has agreed on", keep=50.0)
    table(sheet, _PAIR, _agreed(content))
    sheet.heading("Rules, with the version that judged", keep=50.0)
    rules = content.document["made_with"]["rules"]
    table(sheet, _PAIR, [(title_of(code), f"version {version}") for code, version in rules.items()])
    sheet.heading("Where the design comes from", keep=50.0)
    columns = (Column("Source", 0.75), Column("Units", 0.25, "right"))
    table(sheet, columns, _design_sources(content), empty="No design is given.")
    sheet.heading("Published sources that the workings cite", keep=50.0)
    cited = sorted(source for source in around.sources if _STANDARD.match(source))
    table(sheet, (Column("", 1.0),), [(source,) for source in cited], empty="None.")


def _agreed(content: Content) -> list[tuple[str, str]]:
    held = content.conventions
    tolerance = held["default_tolerance"]
    guard = f", guard {held.get('guard_multiplier', 1.0):g} U" if held["decision_rule"] != "simple" else ""
    return [
        ("Decision rule", RULES_IN_WORDS[held["decision_rule"]] + guard),
        ("Coverage of uncertainties", f"{100 * held.get('coverage_probability', 0.95):g} %"),
        ("Standard air", printing.density(si(held["standard_density"]), content.display)),
        ("Basis where the design does not state it", f"{held['basis_when_not_stated']} air"),
        ("Inch of water", held["inch_of_water"].replace("deg", " °")),
        (
            "Tolerance where the design gives none",
            f"{limits_in_words(tolerance['low'], tolerance['high'])}, {tolerance.get('clause', '')}".rstrip(", "),
        ),
        ("Mass balance", f"in and out agree within {100 * held['mass_balance_allowance']:g} % of the larger"),
        *_signing(held),
        *_own_checks(held),
        *_own_procedures(held),
        ("Version of the agreement", str(held.get("version", 1))),
    ]


def _signing(held: Mapping[str, Any]) -> list[tuple[str, str]]:
    """
    >>> _signing({"signoffs_required": ["mechanical", "fire_alarm"]})
    [('Checklists are signed off by', 'mechanical, fire alarm')]
    """
    trades = [VOCABULARY.trades[trade] for trade in held.get("signoffs_required") or ()]
    return [("Checklists are signed off by", ", ".join(trades))] if trades else []


_OWN = {
    "add": "added",
    "change": "changed",
    "drop": "dropped",
    "group": "of its groups",
    "option": "of its options",
    "sensor": "of its field sensors",
    "kind": "of its kinds of unit",
}


def _own_checks(held: Mapping[str, Any]) -> list[tuple[str, str]]:
    """
    >>> _own_checks({"own_checks": {"version": 2, "add": [{}], "drop": ["level"], "option": [{}]}}), _own_checks({})
    ([("The firm's own checks before a test", 'version 2: 1 added, 1 dropped, 1 of its options')], [])
    """
    own = held.get("own_checks")
    if not own:
        return []
    parts = [f"{len(own[name])} {words}" for name, words in _OWN.items() if own.get(name)]
    return [("The firm's own checks before a test", f"version {own['version']}: {', '.join(parts)}")]


def _own_procedures(held: Mapping[str, Any]) -> list[tuple[str, str]]:
    """
    >>> _own_procedures({"own_procedures": {"version": 3, "add": [{}, {}], "reword": [{}]}}), _own_procedures({})
    ([("The firm's own functional procedures", "version 3: 2 added, 1 of the catalogue's steps worded otherwise")], [])
    """
    own = held.get("own_procedures")
    if not own:
        return []
    of = {"add": "added", "reword": "of the catalogue's steps worded otherwise"}
    parts = [f"{len(own[name])} {words}" for name, words in of.items() if own.get(name)]
    return [("The firm's own functional procedures", f"version {own['version']}: {', '.join(parts)}")]


def _design_sources(content: Content) -> list[tuple[str, str]]:
    units: dict[str, set[str]] = defaultdict(set)
    for position, given in content.given.items():
        design = given.get("design") or {}
        for group in design.values():
            for part in group.values():
                for source in (part or {}).get("sources", {}).values():
                    units[source].add(position)
    return [(source, str(len(held))) for source, held in sorted(units.items())]


# --- the manifest ------------------------------------------------------------------------------------------------
_MANIFEST = (
    Column("Unit", 0.13),
    Column("Evidence and the SHA-256 of its bytes", 0.44),
    Column("Observed, received", 0.21),
    Column("Stands", 0.22),
)
_UNTITLED = tuple(replace(column, title="") for column in _MANIFEST)


def manifest(sheet: Sheet, content: Content) -> None:
    _chapter(sheet, "Manifest of the evidence")
    held = content.document["manifest"]
    sheet.paragraph(
        f"{words.opening(words.of(len(held), 'record'))}, each as it was received, to the byte; the bytes are in the "
        "attached binder.json. What was superseded is kept beside what supersedes it."
    )
    by_tag: dict[str, list[Mapping[str, Any]]] = defaultdict(list)
    for one in held:
        by_tag[one["position"]].append(one)
    problems = {one["id"]: one["problems"] for one in content.document["set_aside"]}
    columns: tuple[Column, ...] = _MANIFEST
    for lines in by_tag.values():
        first, *rest = [_evidence(content, one, problems.get(one["id"], ())) for one in lines]
        rows: list[tuple[Cell, ...]] = [(Set(lines[0]["tag"], ink.CELL_BOLD), *first), *(("", *row) for row in rest)]
        sheet.need(60.0)
        table(sheet, columns, rows, style=ink.TINY)
        columns = _UNTITLED
    _photo_manifest(sheet, content)


def _evidence(content: Content, one: Mapping[str, Any], problems: Any) -> tuple[str, ...]:
    stands = "stands" if one["held"] == "judging" else "not evaluated"
    if one["superseded"]:
        stands = "; ".join(f"superseded by {by['by']}: {by['reason']}" for by in one["superseded"])
    if problems:
        stands += ": " + "; ".join(f"{problem['pointer']} {problem['reason']}" for problem in problems)
    stage = stage_of(is_final=one["is_final"], is_counted=one["id"] not in content.not_final)
    if one["session"]:
        stage += f", session {one['session']}"
    return (
        f"{one['id']}\n{one['sha256']}",
        f"{words.seconds_of(one['observed_at'])} by {one['observed_by']}\n"
        f"{words.seconds_of(one['received_at'])} from {one['sent_by']}",
        f"{one['kind']}, {stage}; {stands}",
    )


def _photo_manifest(sheet: Sheet, content: Content) -> None:
    held = content.document["photos"]
    if not held:
        return
    sheet.heading("Photos", keep=60.0)
    sheet.paragraph(
        "The first hash is of the bytes as they came; the second of the copy in this binder, from which place and "
        "device were taken out.",
        ink.ASIDE,
    )
    rows = [
        (one["belongs_to"], f"{one['sha256']}\n{one['view'] or 'not here: ' + one['missing']}", one["caption"])
        for one in held
    ]
    table(sheet, (Column("Belongs to", 0.26), Column("SHA-256", 0.5), Column("Caption", 0.24)), rows, style=ink.TINY)
