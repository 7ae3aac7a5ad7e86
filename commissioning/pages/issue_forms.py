"""The forms of an issue: which acts a person may do now, what each asks for, and how it is read."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.core.files.uploadedfile import UploadedFile

from commissioning.issues.actions import CannotAct, Wish, is_for_the_engineer, people_of
from commissioning.issues.queries import Check
from commissioning.issues.states import ACTS, Act, acts_from
from commissioning.models import Issue
from commissioning.pages.words import check_in_words
from portfolio.access import Denied, may
from portfolio.blobs.photos import MAX_BYTES, PhotoRefused, accept_photo
from portfolio.dashboards.page import text_of
from portfolio.models import Blob, Company, Person

_FIELDS: dict[str, tuple[str, ...]] = {
    "release": ("company", "due", "priority", "root_cause", "text"),
    "hand_over": ("company", "due", "text"),
    "drop": ("text",),
    "describe": ("title", "priority", "root_cause", "due", "assignee"),
    "answer_ready": ("text", "photo"),
    "answer_not_ours": ("text",),
    "schedule": ("retest_on",),
    "waste_call_out": ("text",),
    "close": (),
    "accept": ("text",),
    "reopen": ("text",),
    "merge": ("into",),
    "split": ("checks", "title"),
    "comment": ("text",),
    "add_photo": ("photo", "text"),
}
_TEXTS = {
    "drop": "Why it is no issue",
    "answer_ready": "What was done, and how you know that it works",
    "answer_not_ours": "Why it is not yours, and whose it is",
    "waste_call_out": "What was found when somebody came",
    "accept": "Why it is accepted as it is (this is printed in the binder)",
    "reopen": "Why it is open again",
    "add_photo": "What the photo shows",
    "comment": "Comment",
}
_LABELS = {
    "company": "Company",
    "due": "Due on",
    "assignee": "Who in the company has it",
    "priority": "Priority",
    "root_cause": "Root cause, as far as known",
    "title": "Title",
    "retest_on": "Retest on",
    "into": "Into which issue",
    "checks": "Checks to split off",
    "photo": "Photo (JPEG or PNG)",
    "text": "Remark",
}
_KINDS = {"due": "date", "retest_on": "date", "photo": "file", "title": "text", "root_cause": "text", "text": "lines"}


@dataclass(frozen=True)
class Choice:
    value: str
    text: str
    chosen: bool = False


@dataclass(frozen=True)
class Field:
    name: str
    label: str
    kind: str  # text, lines, date, file, choice, ticks
    value: str = ""
    needed: bool = False
    choices: list[Choice] = field(default_factory=list)
    id: str = ""


@dataclass(frozen=True)
class Form:
    act: Act
    title: str
    fields: list[Field]
    is_open: bool = False
    fault: str = ""


@dataclass(frozen=True)
class Refused:
    words: str
    reason: str


def verb_of(act: Act, issue: Issue) -> str:
    if act.code == "accept":
        return "accept_as_engineer" if is_for_the_engineer(issue) else "accept_as_is"
    return act.verb


def forms_for(
    person: Person, issue: Issue, checks: list[Check], *, typed: Mapping[str, Any] | None = None, fault: str = ""
) -> tuple[list[Form], list[Refused]]:
    """The acts that may follow for this person, and why the others may not; `typed` keeps what was filled in."""
    forms, refused = [], []
    answers: dict[str, Any] = {}
    for act in acts_from(issue.state):
        verb = verb_of(act, issue)
        answer = answers.setdefault(verb, may(person, verb, issue))
        if isinstance(answer, Denied):
            refused.append(Refused(act.words, answer.reason))
            continue
        if act.code == "split" and len(checks) < 2:
            continue
        mine = typed is not None and typed.get("act") == act.code
        fields = [_field(name, act, issue, checks, typed if mine else None) for name in _FIELDS[act.code]]
        forms.append(Form(act, _title(act), fields, mine, fault if mine else ""))
    return forms, refused


def _title(act: Act) -> str:
    return act.words[:1].upper() + act.words[1:]


def _field(name: str, act: Act, issue: Issue, checks: list[Check], typed: Mapping[str, Any] | None) -> Field:
    held = str(typed.get(name, "")) if typed is not None else _held(name, act, issue)
    choices = _choices(name, issue, checks, typed, held)
    kind = (
        "ticks"
        if name == "checks"
        else "choice"
        if choices or name in ("company", "into", "assignee")
        else _KINDS[name]
    )
    label = _TEXTS.get(act.code, "Remark") if name == "text" else _LABELS[name]
    return Field(name, label, kind, held, name in act.needs, choices, f"{act.code}-{name}")


def _held(name: str, act: Act, issue: Issue) -> str:
    if name in ("text", "photo", "into", "checks") or (act.code == "split" and name == "title"):
        return ""
    if name == "assignee":
        return str(issue.assignee_id or "")
    value = getattr(issue, name)
    if name == "company":
        return "" if act.code == "hand_over" else str(issue.company_id or "")
    return value.isoformat() if isinstance(value, date) else str(value or "")


def _choices(name: str, issue: Issue, checks: list[Check], typed: Mapping[str, Any] | None, held: str) -> list[Choice]:
    if name == "priority":
        return [Choice(value, label, value == held) for value, label in Issue.Priority.choices]
    if name == "company":
        rows = issue.project.parties.order_by("name")
        return [Choice(str(c.pk), f"{c.name}, {c.get_trade_display().lower()}", str(c.pk) == held) for c in rows]
    if name == "assignee":
        return [Choice(str(one.pk), one.name, str(one.pk) == held) for one in people_of(issue)] if issue.company else []
    if name == "into":
        others = Issue.objects.filter(project=issue.project_id, state__in=Issue.LIVE).exclude(pk=issue.pk)
        return [Choice(str(i.pk), f"{i.number}. {i.title}", str(i.pk) == held) for i in others.order_by("number")[:500]]
    if name == "checks":
        ticked = set(typed.getlist("checks")) if typed is not None and hasattr(typed, "getlist") else set()
        return [Choice(str(c.pk), check_in_words(c), str(c.pk) in ticked) for c in checks]
    return []


def wish_of(person: Person, issue: Issue, posted: Any, files: Mapping[str, Any]) -> tuple[str, Wish]:
    """The act and what was filled in for it; raises CannotAct naming the field."""
    code = text_of(posted, "act", 40)
    if code not in ACTS:
        raise CannotAct("act", code, "There is no such act.", "Load the page again.")
    values: dict[str, Any] = {}
    for name in _FIELDS[code]:
        value = _read(name, person, issue, posted, files)
        if value not in (None, "", ()):
            values[name] = value
    return code, Wish(**values)


def _read(name: str, person: Person, issue: Issue, posted: Any, files: Mapping[str, Any]) -> Any:
    if name == "photo":
        return photo_of(files.get("photo"))
    if name == "checks":
        return tuple(int(one) for one in posted.getlist("checks")[:2000] if one.isascii() and one.isdigit())
    text = text_of(posted, name, {"title": 200, "root_cause": 400}.get(name, 10_000))
    if not text:
        return None
    if name in ("due", "retest_on"):
        return day_of(name, text)
    if name == "priority":
        return text if text in Issue.Priority.values else None
    if name == "company":
        return _row(Company.objects.visible_to(person).filter(projects=issue.project_id), name, text)
    if name == "assignee":
        return _row(people_of(issue), name, text)
    if name == "into":
        return _row(Issue.objects.visible_to(person).filter(project=issue.project_id), name, text)
    return text


def day_of(name: str, text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise CannotAct(name, text, "This is no date.", "Write it as year-month-day, such as 2026-05-14.") from None


def _row(rows: Any, name: str, text: str) -> Any:
    try:
        found = rows.filter(pk=text).first()
    except (ValueError, TypeError, LookupError):
        found = None
    except Exception as error:  # Django's ValidationError of a malformed id
        raise CannotAct(name, text, "There is no such thing, or you do not see it.", "Choose again.") from error
    if found is None:
        raise CannotAct(name, text, "There is no such thing, or you do not see it.", "Choose again.")
    return found


def photo_of(file: "UploadedFile[bytes] | None") -> Blob | None:
    """The photo that came with a form, kept; its original bytes are evidence."""
    if file is None or not file.size:
        return None
    if file.size > MAX_BYTES:
        raise CannotAct("photo", str(file.name), f"It is larger than {MAX_BYTES // 1024**2} MB.", "Send a smaller one.")
    try:
        return accept_photo(file.read())
    except PhotoRefused as refused:
        raise CannotAct("photo", str(file.name), refused.reason, "Send a JPEG or a PNG.") from refused
