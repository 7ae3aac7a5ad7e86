"""Who sees what, as queries, and where a thing lies. Each visible model's queryset has ``visible_to(person)``.

A person reaches things through memberships in force. What lies outside the reach does not exist for them.
"""

from dataclasses import dataclass
from functools import reduce
from operator import or_
from uuid import UUID

from django.db.models import Q


@dataclass(frozen=True)
class Reach:
    """The ids that a person's memberships in force name, by kind of scope."""

    firms: frozenset[UUID] = frozenset()
    owners: frozenset[UUID] = frozenset()
    projects: frozenset[UUID] = frozenset()
    buildings: frozenset[UUID] = frozenset()
    companies: frozenset[UUID] = frozenset()
    only_project: UUID | None = None  # a device token may be limited to one project

    def projects_whole(self, path: str = "") -> Q:
        """Projects seen as a whole (not merely one building of them); `path` leads to the project."""
        ways = {"firm": self.firms, "owner": self.owners, "id": self.projects, "parties": self.companies}
        named = [Q(**{f"{path}{way}__in": ids}) for way, ids in ways.items() if ids]  # no table is joined for nothing
        whole = reduce(or_, named) if named else Q(**{f"{path}id__in": ()})
        return whole & Q(**{f"{path}id": self.only_project}) if self.only_project else whole

    def buildings_seen(self, path: str = "") -> Q:
        """Buildings seen; `path` leads to the building."""
        whole = self.projects_whole(f"{path}site__project__")
        if not self.buildings:
            return whole
        own = Q(**{f"{path}id__in": self.buildings})
        if self.only_project:
            own &= Q(**{f"{path}site__project": self.only_project})
        return own | whole

    def directory(self, path: str = "") -> Q:
        """Firms whose directory of owners, companies and people is open; a limited token opens none."""
        return Q(pk__in=[]) if self.only_project else Q(**{f"{path}__in": self.firms})


@dataclass(frozen=True)
class Scope:
    """Where a thing lies: what ``access_scope()`` of a model answers, and what roles are counted against.

    `company_id` is the company that has the thing to do; `person_id` the person whose own it is.
    """

    firm_id: UUID | None = None
    owner_id: UUID | None = None
    project_id: UUID | None = None
    building_id: UUID | None = None
    building_ids: frozenset[UUID] = frozenset()  # when it lies in several
    company_id: UUID | None = None
    person_id: UUID | None = None

    def access_scope(self) -> "Scope":
        return self

    @property
    def buildings(self) -> frozenset[UUID]:
        return self.building_ids | ({self.building_id} if self.building_id else frozenset())
