"""`Page`, the base of every page: a session, what one may see, and refusals that a person can read.

Who is not signed in goes to the login; what one may not see is *not found*; what one may not do is refused with the
reason. A page finds things through `seen` and `visible`, as an API route does.
"""

from typing import Any, TypeVar
from uuid import UUID

from django.contrib.auth.views import redirect_to_login
from django.db.models import Manager, Model, QuerySet
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, HttpResponseRedirect
from django.shortcuts import render
from django.views import View

from portfolio.access import Forbidden, Placed, require
from portfolio.dashboards import faults
from portfolio.dashboards.display import chosen
from portfolio.dashboards.words import ROLES
from portfolio.door.problems import Problem
from portfolio.models import Person
from portfolio.models.people import Role

M = TypeVar("M", bound=Model)


class SeeOther(HttpResponseRedirect):
    """After a form was taken: the page to look at, so that loading it again repeats nothing."""

    status_code = 303


class Page(View):
    http_method_names = ["get", "head", "post"]

    @property
    def person(self) -> Person:
        person = self.request.user
        assert isinstance(person, Person)
        return person

    @property
    def roles(self) -> set[Role]:
        return {Role(m.role) for m in self.person.memberships_in_force}

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if not isinstance(request.user, Person):
            return redirect_to_login(request.get_full_path())
        try:
            response = super().dispatch(request, *args, **kwargs)
        except (Http404, Forbidden, Problem) as refused:
            return faults.refuse(request, refused)
        response.headers.setdefault("Cache-Control", "private, no-cache")
        return response

    def seen(self, things: Manager[M] | QuerySet[M]) -> QuerySet[M]:
        visible: QuerySet[M] = things.visible_to(self.person)  # type: ignore[union-attr]
        return visible

    def visible(self, things: Manager[M] | QuerySet[M], pk: UUID | str | int, *, verb: str = "see") -> M:
        """404 if the person may not see it, 403 with the reason if it may not do the verb."""
        thing = self.seen(things).filter(pk=pk).first()
        if thing is None:
            raise Http404
        require(self.person, verb, thing)  # type: ignore[arg-type]
        return thing

    def require(self, verb: str, thing: Placed) -> None:
        require(self.person, verb, thing)

    def show(self, template: str, context: dict[str, Any], *, status: int = 200) -> HttpResponse:
        return render(self.request, template, frame(self.request) | context, status=status)


def frame(request: HttpRequest) -> dict[str, Any]:
    """What the base template shows of the person."""
    person = request.user
    if not isinstance(person, Person):
        return {"person": None, "display": chosen(request)}
    roles = sorted({m.role for m in person.memberships_in_force}, key=list(ROLES).index)
    return {
        "person": person,
        "person_roles": ", ".join(ROLES[role] for role in roles) or "no role at present",
        "works_here": bool({"lead", "technician"} & set(roles)),
        "display": chosen(request),
    }


def text_of(data: Any, name: str, longest: int = 10_000) -> str:
    """A field of a form as text, with the line ends of one system and without NUL (no database keeps it)."""
    value = data.get(name, "")
    return str(value).replace("\r\n", "\n").replace("\0", "").strip()[:longest]
