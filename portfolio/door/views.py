"""`DoorView`, the base of every API route: what is not declared is refused.

A view declares for each method the verb of `portfolio.access.VERBS` that it does, finds things through `visible` or
`seen`, and so never serves what the person may not see:

    class PositionView(DoorView):
        verbs = {"GET": "see", "PATCH": "edit_portfolio"}

        def patch(self, request: Request, pk: UUID) -> Response:
            position = self.visible(Position.objects, pk)      # 404 if invisible, 403 with the reason if not allowed
"""

from typing import Any, ClassVar, TypeVar
from uuid import UUID

from django.db.models import Manager, Model, QuerySet
from django.http import HttpRequest
from rest_framework import exceptions
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from portfolio.access import VERBS, Forbidden, Placed, require
from portfolio.door.problems import not_found
from portfolio.models import DeviceToken, Person

M = TypeVar("M", bound=Model)

_TOKEN_VERBS = {DeviceToken.Scope.SUBMIT: {"see", "submit_evidence", "attach_photo"}, DeviceToken.Scope.READ: {"see"}}
_SAFE = {"GET", "HEAD"}


class DoorView(APIView):
    """`verbs` maps a method to its verb; `public` is for what needs no person, such as the API's description."""

    verbs: ClassVar[dict[str, str]] = {}
    public: ClassVar[bool] = False
    permission_classes = [AllowAny]  # `initial` below decides, for every method

    _asked = False

    @property
    def person(self) -> Person:
        person = self.request.user
        if not isinstance(person, Person):
            raise exceptions.NotAuthenticated()
        return person

    @property
    def verb(self) -> str:
        return self.verbs["GET" if self.request.method == "HEAD" else str(self.request.method)]

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        if self.public and request.method in _SAFE:
            self._asked = True
            return
        if not isinstance(request.user, Person):
            raise exceptions.NotAuthenticated()
        method = "GET" if request.method == "HEAD" else str(request.method)
        if method not in self.verbs:
            raise exceptions.MethodNotAllowed(str(request.method))
        self._check_token(request, self.verbs[method])

    def _check_token(self, request: Request, verb: str) -> None:
        token = request.auth
        if not isinstance(token, DeviceToken) or token.scope == DeviceToken.Scope.ACT:
            return
        if verb not in _TOKEN_VERBS[DeviceToken.Scope(token.scope)]:
            raise Forbidden(f"This token may {token.get_scope_display().lower()}, and nothing more.")
        if verb == "see" and request.method not in _SAFE:
            raise Forbidden("This token may only read here.")

    def seen(self, things: Manager[M] | QuerySet[M]) -> QuerySet[M]:
        """Those of `things` that the person may see; the model's queryset knows which."""
        self._asked = True
        visible: QuerySet[M] = things.visible_to(self.person)  # type: ignore[union-attr]
        return visible

    def visible(self, things: Manager[M] | QuerySet[M], pk: UUID | str | int, *, verb: str | None = None) -> M:
        """One of `things`: 404 if the person may not see it, 403 with the reason if it may not do the verb."""
        thing = self.seen(things).filter(pk=pk).first()
        if thing is None:
            raise not_found()
        self.allow(thing, verb=verb)  # type: ignore[arg-type]
        return thing

    def allow(self, thing: Placed, *, verb: str | None = None) -> None:
        """403 with the reason unless the person may do the verb (of this method, if none is named) to `thing`."""
        self._asked = True
        require(self.person, verb or self.verb, thing)

    def finalize_response(self, request: Request, response: Response, *args: Any, **kwargs: Any) -> Response:
        answer = super().finalize_response(request, response, *args, **kwargs)
        if answer.status_code < 400 and not self._asked:
            raise RuntimeError(f"{type(self).__name__} answered without asking what the person may see")
        answer.headers.setdefault("Cache-Control", "no-store")
        return answer

    def options(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Response:
        raise exceptions.MethodNotAllowed("OPTIONS")

    @property
    def allowed_methods(self) -> list[str]:
        return sorted({*self.verbs, *(["HEAD"] if "GET" in self.verbs or self.public else [])})


def check_declared(view: type[DoorView]) -> list[str]:
    """What is wrong with a view's declarations: a test asks this of every route."""
    faults = [f"{view.__name__}: {verb} is no verb" for verb in view.verbs.values() if verb not in VERBS]
    names = (m for m in ("GET", "POST", "PUT", "PATCH", "DELETE") if hasattr(view, m.lower()))
    faults += [f"{view.__name__}: {m} has no verb" for m in names if m not in view.verbs and not view.public]
    return faults
