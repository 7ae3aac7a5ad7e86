"""The firm's work list: where units stand, who has the next move, since when. Reads standing only.

A fixed number of queries whatever the number of units; all that is chosen lies in the address, so that a link is a
saved view.
"""

import uuid
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlencode

from django.db.models import Case, Count, F, IntegerField, Q, QuerySet, Value, When

from portfolio.dashboards.words import count, listed, opening, signed_in_words, units
from portfolio.models import Building, Company, Person, Standing
from portfolio.models.people import Role

PAGE_SIZE = 100
Code = Standing.Code
_CODES = [code for code, _ in Code.choices if code != Code.NOT_COUNTED] + [str(Code.NOT_COUNTED)]
_MOVERS = ("lead", "technician", "contractor")
SORTS: dict[str, tuple[str, ...]] = {
    "unit": ("tag",),
    "place": ("building__name", "position__location"),
    "next": ("rank",),
    "who": ("turn", "company__name"),
    "since": ("since",),
    "due": ("due",),
}


@dataclass(frozen=True)
class Asked:
    """What the address asks for. What cannot be read is left out, as if it had not been asked."""

    state: str = ""
    who: str = ""
    project: str = ""
    building: str = ""
    q: str = ""
    sort: str = ""
    page: int = 1

    @classmethod
    def of(cls, query: Mapping[str, Any]) -> "Asked":
        page = str(query.get("page", "1"))
        sort = str(query.get("sort", ""))
        who = str(query.get("who", ""))
        return cls(
            state=state if (state := str(query.get("state", ""))) in _CODES else "",
            who=who if who in _MOVERS else _id(who),
            project=_id(query.get("project", "")),
            building=_id(query.get("building", "")),
            q=str(query.get("q", "")).replace("\0", "").strip()[:60],
            sort=sort if sort.lstrip("-") in SORTS else "",
            page=min(int(page), 100_000) if page.isascii() and page.isdigit() and 0 < len(page) < 7 else 1,
        )

    @property
    def kept(self) -> dict[str, str]:
        """What a search keeps of the view."""
        names = ("state", "who", "project", "building", "sort")
        return {name: value for name in names if (value := getattr(self, name))}

    def address(self, **changes: Any) -> str:
        """The same view with some of it changed; another choice begins at its first page."""
        held: dict[str, Any] = {**self.kept, "q": self.q, "page": 1, **changes}
        kept = {name: value for name, value in held.items() if value and not (name == "page" and value == 1)}
        return f"?{urlencode(kept)}" if kept else "?"


@dataclass(frozen=True)
class Word:
    """A filter as a word, with how many units it leaves."""

    text: str
    address: str
    number: int
    is_chosen: bool


@dataclass
class Group:
    code: str
    mover: str
    company: uuid.UUID | None
    company_name: str
    number: int


@dataclass
class WorkList:
    asked: Asked
    groups: list[Group]
    rows: QuerySet[Standing]
    roles: set[Role]
    total: int = 0
    counted: int = 0
    signable: int = 0
    signed: int = 0
    season: int = 0  # of those signed
    waiting: Counter[str] = field(default_factory=Counter)

    @property
    def page_rows(self) -> list[Standing]:
        """The whole list is sorted by its ids alone; what is shown of a row is read for one page only."""
        start = (self.asked.page - 1) * PAGE_SIZE
        ids = list(self.rows.values_list("pk", flat=True)[start : start + PAGE_SIZE])
        shown = _with_names(Standing.objects.all()).in_bulk(ids)
        return [shown[pk] for pk in ids]

    @property
    def pages(self) -> int:
        return max(1, -(-self.total // PAGE_SIZE))


def work_list(person: Person, roles: set[Role], query: Mapping[str, Any]) -> WorkList:
    asked = Asked.of(query)
    seen = list(Building.objects.visible_to(person).values_list("pk", flat=True))
    rows = _narrowed(Standing.objects.filter(building__in=seen), asked)
    groups = _groups(rows)
    listed_rows = _with_names(rows.filter(_state(asked) & _who(asked)))
    found = WorkList(asked, groups, _ordered(listed_rows, asked, roles), roles)
    found.total = sum(g.number for g in groups if _is_in(g, asked))
    found.counted = sum(g.number for g in groups if g.code != Code.NOT_COUNTED)
    found.signable = sum(g.number for g in groups if g.code == Code.SIGNABLE)
    found.signed = sum(g.number for g in groups if g.code in (Code.SIGNED, Code.SEASON))
    found.season = sum(g.number for g in groups if g.code == Code.SEASON)
    for group in groups:
        if group.code not in (Code.NOT_COUNTED, Code.SIGNABLE) and group.mover:
            found.waiting[mover_in_words(group.mover, group.company_name, roles)] += group.number
    return found


def _with_names(rows: QuerySet[Standing]) -> QuerySet[Standing]:
    return rows.select_related("position__building__site", "company")


def _groups(rows: QuerySet[Standing]) -> list[Group]:
    """Counted by building as well, which is the order of the index, and added up here."""
    number: Counter[tuple[str, str, uuid.UUID | None]] = Counter()
    counted = rows.values_list("building", "mover", "code", "company").annotate(n=Count("pk")).order_by()
    for _, mover, code, company, n in counted:
        number[code, mover, company] += n
    companies = Company.objects.filter(pk__in={company for _, _, company in number if company})
    names: dict[uuid.UUID | None, str] = dict(companies.values_list("pk", "name"))
    return [Group(*key, names.get(key[2], ""), n) for key, n in number.items()]


def _id(text: Any) -> str:
    try:
        return str(uuid.UUID(str(text)))
    except ValueError:
        return ""


def _narrowed(rows: QuerySet[Standing], asked: Asked) -> QuerySet[Standing]:
    if asked.project:
        rows = rows.filter(building__site__project=uuid.UUID(asked.project))
    if asked.building:
        rows = rows.filter(building=uuid.UUID(asked.building))
    if asked.q:
        rows = rows.filter(Q(tag__icontains=asked.q) | Q(position__location__icontains=asked.q))
    return rows


def _state(asked: Asked) -> Q:
    return Q(code=asked.state) if asked.state else Q()


def _who(asked: Asked) -> Q:
    if not asked.who:
        return Q()
    return Q(mover=asked.who) if asked.who in _MOVERS else Q(company=asked.who)


def _is_in(group: Group, asked: Asked) -> bool:
    who = not asked.who or asked.who in (group.mover, str(group.company))
    return who and asked.state in ("", group.code)


def _ordered(rows: QuerySet[Standing], asked: Asked, roles: set[Role]) -> QuerySet[Standing]:
    """By who has the next move, oneself first; then by date."""
    turns = ["technician", "lead"] if roles == {Role.TECHNICIAN} else ["lead", "technician"]
    rows = rows.annotate(
        turn=_ranks("mover", [*turns, "contractor"]),
        rank=_ranks("code", _CODES),
    )
    if not asked.sort:
        last = Case(When(code=Code.SIGNABLE, then=Value(1)), default=Value(0), output_field=IntegerField())
        dates = (F("due").asc(nulls_last=True), F("since").asc(nulls_last=True))
        return rows.order_by("turn", last, *dates, "tag", "pk")
    names = SORTS[asked.sort.lstrip("-")]
    if asked.sort.startswith("-"):
        keys = [F(name).desc(nulls_last=True) for name in names]
    else:
        keys = [F(name).asc(nulls_last=True) for name in names]
    return rows.order_by(*keys, "tag", "pk")


def _ranks(name: str, order: Iterable[str]) -> Case:
    whens = [When(**{name: value}, then=Value(rank)) for rank, value in enumerate(order)]
    return Case(*whens, default=Value(99), output_field=IntegerField())


def mover_in_words(mover: str, company: str, roles: set[Role]) -> str:
    """
    >>> mover_in_words("lead", "", {Role.LEAD}), mover_in_words("contractor", "Garrowby", {Role.LEAD})
    ('you', 'Garrowby')
    """
    if mover == "contractor":
        return company or "a contractor"
    if mover == "lead":
        return "you" if Role.LEAD in roles else "the lead"
    if mover == "technician":
        return "you" if roles & {Role.LEAD, Role.TECHNICIAN} == {Role.TECHNICIAN} else "a technician"
    return mover


def sentence(found: WorkList) -> str:
    """What the reader came for: how many can be signed, and for whom the others wait."""
    if not found.counted:
        return "No unit is in scope yet: import a design schedule, or add units to a building."
    if found.signed:
        said = (signed_in_words(found.signed, found.season, found.counted), _more(found), _waiting(found))
        return " ".join(filter(None, said))
    which = "All" if found.signable == found.counted else opening(count(found.signable)) + " of"
    which = "None of" if not found.signable else which
    noun = units(found.counted)
    head = f"{which} {count(found.counted)} {noun} can be signed."
    if found.counted == 1:
        head = "The one unit can be signed." if found.signable else "The one unit cannot be signed yet."
    return f"{head} {_waiting(found)}".strip()


def _more(found: WorkList) -> str:
    if found.signed == found.counted:
        return ""
    more = " more" if found.signable else ""
    return f"{opening(count(found.signable)) if found.signable else 'None of the others'}{more} can be signed."


def _waiting(found: WorkList) -> str:
    if not found.waiting:
        return ""
    by_size = sorted(found.waiting.items(), key=lambda item: (item[0] == "you", -item[1], item[0]))
    shown = by_size if len(by_size) <= 5 else [*by_size[:3], *[i for i in by_size[3:] if i[0] == "you"]]
    rest = found.waiting.total() - sum(number for _, number in shown)
    parts = [f"{count(number)} for {name}" for name, number in shown]
    if rest:
        parts.append(f"{count(rest)} for others")
    first, *others = parts
    number, _, whom = first.partition(" for ")
    verb = "waits" if shown[0][1] == 1 else "wait"
    return opening(listed([f"{number} {verb} for {whom}", *others])) + "."


def words(found: WorkList) -> dict[str, list[Word]]:
    """Filters by standing and by who has the next move, each with its count under the other choices."""
    asked = found.asked
    by_code: Counter[str] = Counter()
    by_who: Counter[str] = Counter()
    names: dict[str, str] = {}
    for group in found.groups:
        if _is_in(group, Asked(who=asked.who)):
            by_code[group.code] += group.number
        if _is_in(group, Asked(state=asked.state)) and group.mover:
            key = str(group.company) if group.company else group.mover
            by_who[key] += group.number
            names[key] = mover_in_words(group.mover, group.company_name, found.roles)
    states = [Word("all", asked.address(state=""), by_code.total(), not asked.state)]
    states += [
        Word(Code(code).label, asked.address(state=code), by_code[code], asked.state == code)
        for code in _CODES
        if by_code[code] or asked.state == code
    ]
    movers = [Word("everyone", asked.address(who=""), sum(by_who.values()), not asked.who)]
    movers += [
        Word(names[key], asked.address(who=key), number, asked.who == key)
        for key, number in sorted(by_who.items(), key=lambda item: (names[item[0]] != "you", names[item[0]]))
    ]
    return {"Standing": states, "Next move": movers}
