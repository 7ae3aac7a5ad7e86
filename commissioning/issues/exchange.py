"""The issues list as a spreadsheet per company, and the company's columns back in, with a dry run.

Out: one sheet; the last three columns are theirs to fill. In: only those are read, by the issue's number and the
version they answered; text that looks like a formula goes out as text.
"""

import io
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from openpyxl import Workbook, load_workbook
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter

from commissioning.issues.actions import Actor, CannotAct, Stale, Wish, act
from commissioning.issues.queries import checks_of, with_everything
from commissioning.judging import place_of
from commissioning.models import Issue
from portfolio.access import Forbidden

COLUMNS = (
    ("Issue", 8),
    ("Version", 9),
    ("Title", 44),
    ("Units", 28),
    ("Priority", 13),
    ("State", 18),
    ("Due", 12),
    ("What closes it", 44),
    ("Your answer (ready / not ours)", 30),
    ("Proof or reason", 44),
    ("Your name", 20),
)
ANSWERS = {"ready": "answer_ready", "not ours": "answer_not_ours"}
MOST_BYTES = 5 * 1024 * 1024
MOST_ROWS = 5000


def write(issues: Sequence[Issue], heading: str) -> bytes:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "Issues"
    sheet.append([heading])
    sheet.append([name for name, _ in COLUMNS])
    for number, (_, width) in enumerate(COLUMNS, start=1):
        sheet.column_dimensions[get_column_letter(number)].width = width
        sheet.cell(2, number).font = Font(bold=True)
    sheet.freeze_panes = "A3"
    found = checks_of(list(issues))
    for issue in issues:
        units = ", ".join(sorted({check.tag for check in found[str(issue.pk)]}))
        row = [
            issue.number,
            issue.version,
            issue.title,
            units,
            issue.get_priority_display(),
            issue.get_state_display(),
            issue.due,
            _closes(found[str(issue.pk)]),
            "",
            "",
            "",
        ]
        sheet.append(row)
        for cell in sheet[sheet.max_row]:
            cell.alignment = Alignment(wrap_text=True, vertical="top")
            if isinstance(cell.value, str):
                cell.data_type = "s"  # text stays text, whatever it begins with
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


def _closes(checks: Sequence[Any]) -> str:
    failing = [check for check in checks if check.outcome != "conforms"] or list(checks)
    return "; ".join(
        f"{check.tag} {place_of(check.port, [check.requirement])}".rstrip()
        + f": {check.requirement.replace('_', ' ')} at the retest"
        for check in failing
    )


@dataclass(frozen=True)
class Fault:
    row: int
    column: str
    value: str
    reason: str
    remedy: str


@dataclass(frozen=True)
class Answer:
    row: int
    number: int
    version: int
    act: str
    text: str
    said_by: str


@dataclass(frozen=True)
class Reading:
    """What a list that came back says; nothing is applied while a fault stands."""

    answers: tuple[Answer, ...]
    faults: tuple[Fault, ...]

    def to_json(self) -> dict[str, Any]:
        return {"answers": [asdict(a) for a in self.answers], "faults": [asdict(f) for f in self.faults]}


def read(data: bytes, issues: Sequence[Issue]) -> Reading:
    """Understand a list that came back, against the issues that its sender may answer."""
    known = {issue.number: issue for issue in issues}
    try:
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        rows = list(book.worksheets[0].iter_rows(min_row=3, max_row=MOST_ROWS, max_col=len(COLUMNS), values_only=True))
    except Exception as error:  # openpyxl raises whatever its parsers raise
        return Reading((), (Fault(0, "", "", f"This is no list of ours: {error}.", "Send the .xlsx back as it was."),))
    answers, faults = [], []
    for number, row in enumerate(rows, start=3):
        said = _read_row(number, [*row, *([None] * (len(COLUMNS) - len(row)))], known)
        if isinstance(said, Answer):
            answers.append(said)
        elif said is not None:
            faults.append(said)
    return Reading(tuple(answers), tuple(faults))


def _read_row(row: int, cells: Sequence[Any], known: dict[int, Issue]) -> Answer | Fault | None:
    answer, text, who = (str(value or "").strip() for value in cells[8:11])
    if not answer:
        return (
            Fault(row, COLUMNS[8][0], "", "There is a text but no answer.", "Write ready or not ours.")
            if text
            else None
        )
    code = ANSWERS.get(answer.lower().rstrip("."))
    if code is None:
        return Fault(row, COLUMNS[8][0], answer, "This is no answer.", "Write ready or not ours.")
    if not text:
        return Fault(
            row, COLUMNS[9][0], "", "An answer needs its proof or its reason.", "Say what was done, or why not."
        )
    issue = known.get(cells[0]) if isinstance(cells[0], int) else None
    if issue is None:
        return Fault(
            row, COLUMNS[0][0], str(cells[0]), "No issue of yours has this number.", "Leave the column as it was."
        )
    if cells[1] != issue.version:
        return Fault(
            row,
            COLUMNS[1][0],
            str(cells[1]),
            f"The issue has changed since (version {issue.version}, {issue.get_state_display()}).",
            "Fetch the list again and answer anew.",
        )
    if issue.state != Issue.State.RELEASED:
        return Fault(row, COLUMNS[5][0], issue.get_state_display(), "This one awaits no answer.", "Clear the answer.")
    return Answer(row, issue.number, issue.version, code, text, who)


def apply(reading: Reading, issues: Sequence[Issue], actor: Actor) -> list[Issue]:
    """All of it, inside the caller's transaction, or an exception and nothing. Raises CannotAct naming the row."""
    if reading.faults:
        fault = reading.faults[0]
        raise CannotAct(f"row {fault.row}, {fault.column}", fault.value, fault.reason, fault.remedy)
    known = {issue.number: issue for issue in issues}
    done = []
    for answer in reading.answers:
        who = Actor(actor.person, actor.link, actor.said_by or answer.said_by, actor.request)
        try:
            done.append(
                act(
                    issue=known[answer.number],
                    code=answer.act,
                    actor=who,
                    version=answer.version,
                    wish=Wish(text=answer.text),
                )
            )
        except (Stale, Forbidden) as error:
            raise CannotAct(f"row {answer.row}", answer.number, str(error), "Fetch the list again.") from error
    return done


__all__ = ["Answer", "Fault", "Reading", "apply", "read", "with_everything", "write"]
