"""The issues that one sees: filters as words, the whole state in the address."""

import uuid
from collections import Counter
from typing import Any
from urllib.parse import urlencode

from django.db.models import Count, F, Q, QuerySet
from django.http import HttpRequest, HttpResponse

from commissioning.models import Issue
from portfolio.dashboards.days import Days
from portfolio.dashboards.page import Page
from portfolio.dashboards.words import count, day, opening
from portfolio.dashboards.worklist import Word

PAGE_SIZE = 100
OPEN = "open"
_SORTS = {
    "number": ("number",), "title": ("title",), "company": ("company__name",), "due": ("due",), "since": ("moved_at",),
    "priority": ("priority",), "state": ("state",),
}  # fmt: skip
_HEADS = (
    ("number", "Issue"),
    ("company", "Company"),
    ("state", "State"),
    ("since", "Since"),
    ("due", "Due"),
    ("priority", "Priority"),
)


class IssuesPage(Page):
    def get(self, request: HttpRequest) -> HttpResponse:
        asked = _asked(request)
        rows = self.seen(Issue.objects)
        if asked["project"]:
            rows = rows.filter(project=uuid.UUID(asked["project"]))
        groups = list(
            rows.order_by().values_list("state", "company", "company__name").annotate(n=Count("pk", distinct=True))
        )
        chosen = rows.filter(_state(asked), _company(asked))
        total = sum(n for state, company, _, n in groups if _fits(asked, state, company))
        page = int(asked["page"])
        shown = _ordered(chosen, asked).select_related("company", "project").prefetch_related("checks__position")
        issues = list(shown[(page - 1) * PAGE_SIZE : page * PAGE_SIZE])
        days = Days({issue.project_id for issue in issues})
        context = {
            "here": "issues",
            "sentence": _sentence(groups),
            "words": _words(asked, groups),
            "heads": [_head(asked, code, title) for code, title in _HEADS],
            "rows": [_row(issue, days) for issue in issues],
            "total": total,
            "pages": max(1, -(-total // PAGE_SIZE)),
            "page": page,
            "earlier": _address(asked, page=page - 1) if page > 1 else "",
            "later": _address(asked, page=page + 1) if page * PAGE_SIZE < total else "",
        }
        return self.show("commissioning/issues.html", context)


def _asked(request: HttpRequest) -> dict[str, str]:
    given = request.GET
    page = given.get("page", "1")
    held = {"project": _id(given.get("project", "")), "company": _id(given.get("company", ""))}
    state = given.get("state", OPEN)
    sort = given.get("sort", "")
    return held | {
        "state": state if state in {OPEN, "all", *Issue.State.values} else OPEN,
        "sort": sort if sort.lstrip("-") in _SORTS else "",
        "page": page if page.isascii() and page.isdigit() and 0 < len(page) < 6 and int(page) else "1",
    }


def _id(text: str) -> str:
    try:
        return str(uuid.UUID(text))
    except ValueError:
        return ""


def _address(asked: dict[str, str], **changes: Any) -> str:
    held = asked | {"page": "1"} | {name: str(value) for name, value in changes.items()}
    defaults = {"state": OPEN, "page": "1"}
    return "?" + urlencode({k: v for k, v in held.items() if v and defaults.get(k) != v})


def _state(asked: dict[str, str]) -> Q:
    if asked["state"] == "all":
        return Q()
    return Q(state__in=Issue.LIVE) if asked["state"] == OPEN else Q(state=asked["state"])


def _company(asked: dict[str, str]) -> Q:
    return Q(company=uuid.UUID(asked["company"])) if asked["company"] else Q()


def _fits(asked: dict[str, str], state: str, company: uuid.UUID | None) -> bool:
    fits = asked["state"] in ("all", state) or (asked["state"] == OPEN and state in Issue.LIVE)
    return fits and asked["company"] in ("", str(company))


def _sentence(groups: list[tuple[str, uuid.UUID | None, str | None, int]]) -> str:
    """Five issues are open; two of them await a retest, one awaits your release."""
    held: Counter[str] = Counter()
    for state, _, _, number in groups:
        held[state] += number
    live = sum(held[state] for state in Issue.LIVE)
    if not live:
        return "No issue is open."
    parts = []
    for state, one, many in (
        (Issue.State.DRAFT, "is a draft to release or drop", "are drafts to release or drop"),
        (Issue.State.RELEASED, "is with a company", "are with companies"),
        (Issue.State.READY, "awaits its retest", "await their retests"),
        (Issue.State.NOT_OURS, "was answered “not ours”", "were answered “not ours”"),
    ):
        if held[state]:
            parts.append(f"{count(held[state])} {one if held[state] == 1 else many}")
    return f"{opening(count(live))} {'issue is' if live == 1 else 'issues are'} open: {', '.join(parts)}."


def _words(asked: dict[str, str], groups: list[tuple[str, uuid.UUID | None, str | None, int]]) -> dict[str, list[Word]]:
    states: Counter[str] = Counter()
    companies: Counter[str] = Counter()
    names: dict[str, str] = {}
    for state, company, name, number in groups:
        if asked["company"] in ("", str(company)):
            states[state] += number
        if _fits(asked | {"company": ""}, state, company) and company:
            companies[str(company)] += number
            names[str(company)] = name or ""
    live = sum(states[state] for state in Issue.LIVE)
    words = [Word("open", _address(asked, state=OPEN), live, asked["state"] == OPEN)]
    words += [
        Word(str(label), _address(asked, state=value), states[value], asked["state"] == value)
        for value, label in Issue.State.choices
        if states[value] or asked["state"] == value
    ]
    words.append(Word("all", _address(asked, state="all"), states.total(), asked["state"] == "all"))
    found = {"State": words}
    if len(companies) > 1 or asked["company"]:
        found["Company"] = [Word("every company", _address(asked, company=""), 0, not asked["company"])] + [
            Word(names[key], _address(asked, company=key), companies[key], asked["company"] == key)
            for key in sorted(names, key=lambda key: names[key])
        ]
    return found


def _ordered(rows: QuerySet[Issue], asked: dict[str, str]) -> QuerySet[Issue]:
    if not asked["sort"]:
        return rows.order_by(F("due").asc(nulls_last=True), "number", "pk")
    names = _SORTS[asked["sort"].lstrip("-")]
    down = asked["sort"].startswith("-")
    keys = [F(n).desc(nulls_last=True) if down else F(n).asc(nulls_last=True) for n in names]
    return rows.order_by(*keys, "number", "pk")


def _head(asked: dict[str, str], code: str, title: str) -> dict[str, str]:
    upwards = asked["sort"] == code
    direction = "ascending" if upwards else "descending" if asked["sort"] == f"-{code}" else ""
    return {"title": title, "address": _address(asked, sort=f"-{code}" if upwards else code), "sorted": direction}


def _row(issue: Issue, days: Days) -> dict[str, Any]:
    tags = sorted({check.position.tag for check in issue.checks.all()})
    return {
        "issue": issue,
        "units": ", ".join(tags[:4]) + (f" and {len(tags) - 4} more" if len(tags) > 4 else ""),
        "since": day(days.day(issue.moved_at, issue.project_id)),
        "due": day(issue.due),
        "is_late": issue.is_live and issue.due is not None and issue.due < days.today(issue.project_id),
    }
