"""Roles: who may do what, told with a reason. What a person may not see is decided before, by ``visible_to``.

The roles that count are those of memberships in force whose scope reaches the object. Every object says where it
lies by ``access_scope()``; so a room above can bring its own objects without being known here.

>>> sorted(role.value for role in VERBS["build_binder"].roles)
['lead', 'owner']
"""

from dataclasses import dataclass
from typing import Protocol
from uuid import UUID

from django.db.models import Model, QuerySet

from portfolio.models import Company, Membership, Person, Project
from portfolio.models.people import Role
from portfolio.models.reach import Scope

__all__ = [
    "VERBS",
    "Allowed",
    "Denied",
    "Forbidden",
    "Placed",
    "Scope",
    "companies_on",
    "may",
    "may_somewhere",
    "require",
    "roles_on",
]


@dataclass(frozen=True)
class Rule:
    words: str  # completes "Only ... may"
    roles: frozenset[Role] = frozenset()
    of_the_company_only: bool = False  # a contractor counts only if its company has the thing
    own_only: bool = False


def _roles(*roles: Role) -> frozenset[Role]:
    return frozenset(roles)


_EVERYONE = frozenset(Role)
_LEAD = _roles(Role.LEAD)

VERBS: dict[str, Rule] = {
    "see": Rule("see this", _EVERYONE),
    "submit_evidence": Rule("submit evidence", _roles(Role.LEAD, Role.TECHNICIAN)),
    "answer_checklist": Rule("answer a checklist", _roles(Role.LEAD, Role.TECHNICIAN, Role.CONTRACTOR)),
    "import_design": Rule("import a design", _LEAD),
    "edit_portfolio": Rule("edit projects, places and positions", _LEAD),
    "manage_instruments": Rule("manage instruments and calibrations", _LEAD),
    "keep_mappings": Rule("keep mappings of controllers", _LEAD),
    "manage_people": Rule("manage people and their roles", _LEAD),
    "release_issue": Rule("release an issue", _LEAD),
    "work_issue": Rule("merge, split, schedule, close, reopen or drop an issue", _LEAD),
    "answer_issue": Rule("answer this issue", _roles(Role.CONTRACTOR), of_the_company_only=True),
    "comment": Rule("comment", _EVERYONE),
    "attach_photo": Rule("add photos", _EVERYONE),
    "accept_as_is": Rule("accept this as is", _roles(Role.OWNER)),
    "accept_as_engineer": Rule(
        "accept this as is, being a matter of code, safety or the ventilation minimum", _roles(Role.ENGINEER)
    ),
    "sign_unit": Rule("sign for a unit", _LEAD),
    "build_binder": Rule("have a binder built", _roles(Role.LEAD, Role.OWNER)),
    "see_samples": Rule("see which units are drawn for verification", _EVERYONE - {Role.CONTRACTOR}),
    "see_sample_results": Rule("see what a sample allows to say", _EVERYONE - {Role.CONTRACTOR, Role.TECHNICIAN}),
    "keep_checks": Rule("change the firm's own checks", _LEAD),
    "keep_procedures": Rule("change the firm's own procedures", _LEAD),
    "draw_sample": Rule("draw a sample", _LEAD),
    "plan_visits": Rule("plan visits", _LEAD),
    "lift_hold": Rule("lift a quality hold", _LEAD),
    "sign_off": Rule("sign off the items of a trade", _roles(Role.LEAD, Role.CONTRACTOR)),
    "rejudge": Rule("have verdicts made again", _LEAD),
    "make_token": Rule("make or revoke tokens of your own", own_only=True),
}


class Placed(Protocol):
    def access_scope(self) -> Scope: ...


@dataclass(frozen=True)
class Allowed:
    def __bool__(self) -> bool:
        return True


@dataclass(frozen=True)
class Denied:
    reason: str

    def __bool__(self) -> bool:
        return False


class Forbidden(Exception):
    """The object is seen, the act is not allowed; the reason is a sentence for people."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


def may(person: Person, verb: str, obj: Placed) -> Allowed | Denied:
    """Whether `person` may do `verb` to `obj`, and if not, why: the same sentence for page, API and log."""
    rule = VERBS[verb]
    scope = obj.access_scope()
    if rule.own_only:
        return Allowed() if scope.person_id == person.id else Denied(f"You may only {rule.words}.")
    roles = roles_on(person, scope)
    if rule.of_the_company_only and scope.company_id not in person.reach.companies:
        roles = roles - {Role.CONTRACTOR}
    if roles & rule.roles:
        return Allowed()
    if verb == "see" and _sees(person, obj):
        return Allowed()
    return Denied(_sentence(rule, roles))


def may_somewhere(person: Person, verb: str) -> Allowed | Denied:
    """For what has no place yet, such as a photo before the record that names it: a role anywhere suffices."""
    rule = VERBS[verb]
    roles = frozenset(Role(m.role) for m in person.memberships_in_force)
    return Allowed() if roles & rule.roles else Denied(_sentence(rule, roles))


def require(person: Person, verb: str, obj: Placed) -> None:
    """`may`, or `Forbidden` with the reason."""
    answer = may(person, verb, obj)
    if isinstance(answer, Denied):
        raise Forbidden(answer.reason)


def roles_on(person: Person, scope: Scope) -> frozenset[Role]:
    """The roles that count for a thing that lies at `scope`."""
    if person.only_project is not None and scope.project_id != person.only_project:
        return frozenset()
    return frozenset(Role(m.role) for m in person.memberships_in_force if _reaches(person, m, scope))


def companies_on(person: Person, scope: Scope) -> list[Company]:
    """The companies for which the person is a contractor at a thing that lies at `scope`."""
    held = {m.company_id for m in person.memberships_in_force if m.role == Role.CONTRACTOR and m.company_id}
    if person.only_project is not None and scope.project_id != person.only_project:
        return []
    return list(Company.objects.filter(pk__in=[id for id in held if _has_to_do(id, scope)]).order_by("name", "pk"))


def _reaches(person: Person, membership: Membership, scope: Scope) -> bool:
    if membership.scope == "building":
        return bool(scope.buildings) and scope.buildings <= _own_buildings(person, membership.role)
    if membership.scope == "company":
        return membership.company_id is not None and _has_to_do(membership.company_id, scope)
    named: UUID | None = getattr(membership, f"{membership.scope}_id")
    lies_in: UUID | None = getattr(scope, f"{membership.scope}_id")
    return named == lies_in


def _own_buildings(person: Person, role: str) -> frozenset[UUID | None]:
    """All buildings in which the person has that role: together they may cover a thing in several."""
    return frozenset(m.building_id for m in person.memberships_in_force if m.role == role)


def _has_to_do(company_id: UUID, scope: Scope) -> bool:
    if scope.company_id == company_id:
        return True
    if scope.project_id is None:
        return False
    return Project.parties.through.objects.filter(project=scope.project_id, company=company_id).exists()


def _sees(person: Person, obj: Placed) -> bool:
    """A thing may be seen in part without any role on the whole, such as the project of one's building."""
    manager = getattr(obj.__class__, "objects", None)  # not type(): a request's user is a lazy stand-in
    if manager is None or not hasattr(manager, "visible_to"):
        return False
    seen: QuerySet[Model] = manager.visible_to(person)
    found: bool = seen.filter(pk=getattr(obj, "pk", None)).exists()
    return found


def _sentence(rule: Rule, roles: frozenset[Role]) -> str:
    who = " or ".join(sorted(_name(role) for role in rule.roles))
    if rule.of_the_company_only:
        who = "a contractor of the company that has it"
    held = " and ".join(sorted(_name(role) for role in roles)) or "no one with a part in it"
    return f"Only {who} may {rule.words}; here you are {held}."


def _name(role: Role) -> str:
    names = {Role.ENGINEER: "the engineer of record", Role.OWNER: "the owner"}
    return names.get(role, f"a {role.label.lower()}")
