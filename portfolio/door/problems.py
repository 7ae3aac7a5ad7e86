"""Every refusal is a problem document (RFC 9457): a code, a sentence, and for fields what was wrong and what to do.

A fault of ours tells its request id and nothing else; the log has the rest.
"""

from collections.abc import Mapping
from typing import Any, TypedDict

from django.core.exceptions import PermissionDenied, RequestDataTooBig
from django.db import DataError, IntegrityError, OperationalError
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from rest_framework import exceptions
from rest_framework.response import Response

from portfolio.access import Forbidden
from portfolio.door.field_errors import FieldError, field_errors

MEDIA_TYPE = "application/problem+json"


class Context(TypedDict, total=False):
    request: Any
    view: Any


class Problem(Exception):
    """Raise it anywhere under a door view; `extra` adds members of the problem's own, such as the current state."""

    def __init__(
        self,
        status: int,
        code: str,
        title: str,
        detail: str = "",
        *,
        errors: list[FieldError] | None = None,
        headers: Mapping[str, str] | None = None,
        extra: Mapping[str, Any] | None = None,
    ) -> None:
        super().__init__(f"{status} {code}: {detail or title}")
        self.status = status
        self.code = code
        self.title = title
        self.detail = detail
        self.errors = errors or []
        self.headers = dict(headers or {})
        self.extra = dict(extra or {})

    def document(self, request_id: str) -> dict[str, Any]:
        document: dict[str, Any] = {
            "type": "about:blank",
            "title": self.title,
            "status": self.status,
            "code": self.code,
            "detail": self.detail or self.title,
            "request_id": request_id,
        }
        if self.errors:
            document["errors"] = self.errors
        return document | self.extra


def not_found() -> Problem:
    """The one answer for what does not exist and for what the person may not see."""
    return Problem(404, "not_found", "Not found", "There is no such thing, or it is not yours to see.")


def too_large(limit_bytes: int) -> Problem:
    return Problem(413, "too_large", "The body is too large", f"At most {limit_bytes} bytes are taken in one request.")


def exception_handler(exc: Exception, context: Context) -> Response | None:
    """Django REST framework's hook. None is a fault of ours: Django logs it and calls `server_error`."""
    problem = _as_problem(exc, context)
    if problem is None:
        return None
    request = context.get("request")
    response = Response(problem.document(_request_id(request)), status=problem.status, content_type=MEDIA_TYPE)
    for name, value in problem.headers.items():
        response[name] = value
    return response


def _as_problem(exc: Exception, context: Context) -> Problem | None:
    if isinstance(exc, Problem):
        return exc
    if isinstance(exc, Forbidden):
        return Problem(403, "forbidden", "Not allowed", exc.reason)
    if isinstance(exc, Http404):
        return not_found()
    if isinstance(exc, PermissionDenied):
        return Problem(403, "forbidden", "Not allowed")
    if isinstance(exc, RequestDataTooBig):
        return Problem(413, "too_large", "The body is too large")
    if isinstance(exc, exceptions.ValidationError):
        sent = getattr(context.get("request"), "_full_data", None)
        return invalid(field_errors(exc.get_full_details(), None if isinstance(sent, type) else sent))
    if isinstance(exc, exceptions.APIException):
        return _framework_problem(exc)
    return _database_problem(exc)


def invalid(errors: list[FieldError]) -> Problem:
    said = "; ".join(f"{e['pointer'] or 'the body'}: {e['detail']}" for e in errors[:3])
    return Problem(400, "invalid", "The request has faults", said, errors=errors)


_TITLES = {
    400: "The request could not be read",
    401: "Who are you?",
    403: "Not allowed",
    404: "Not found",
    405: "This method does not exist here",
    406: "This form of answer does not exist here",
    415: "This content type is not read here",
    429: "Too many requests",
}


def _framework_problem(exc: exceptions.APIException) -> Problem:
    headers: dict[str, str] = {}
    challenge = getattr(exc, "auth_header", None)
    if challenge:
        headers["WWW-Authenticate"] = challenge
    wait = getattr(exc, "wait", None)
    if wait:
        headers["Retry-After"] = str(int(wait))
    code = exc.get_codes()
    return Problem(
        exc.status_code,
        code if isinstance(code, str) else "refused",
        _TITLES.get(exc.status_code, "The request was refused"),
        str(exc.detail) if isinstance(exc.detail, str) else "",
        headers=headers,
    )


def _database_problem(exc: Exception) -> Problem | None:
    if isinstance(exc, IntegrityError):
        return Problem(
            409, "conflict", "This contradicts what is kept", "Something like it exists, or what it names is gone."
        )
    if isinstance(exc, OperationalError):
        return Problem(
            503, "busy", "The database is not answering", "Nothing was kept. Try again.", headers={"Retry-After": "5"}
        )
    if isinstance(exc, DataError):
        return Problem(400, "value_refused", "A value cannot be kept", "A number or text is outside what fits.")
    return None


def _request_id(request: Any) -> str:
    return str(getattr(request, "META", {}).get("ventfolio.request_id", ""))


# --- outside of the views: Django's own pages ------------------------------------------------------------------


def _answer(request: HttpRequest, problem: Problem) -> HttpResponse:
    if request.path.startswith("/api/"):
        return JsonResponse(
            problem.document(_request_id(request)),
            status=problem.status,
            content_type=MEDIA_TYPE,
            headers=problem.headers,
        )
    text = f"{problem.title}. {problem.detail}\nRequest {_request_id(request)}\n"
    return HttpResponse(text, status=problem.status, content_type="text/plain; charset=utf-8")


def page_not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    return _answer(request, not_found())


def permission_denied(request: HttpRequest, exception: Exception) -> HttpResponse:
    reason = exception.reason if isinstance(exception, Forbidden) else ""
    return _answer(request, Problem(403, "forbidden", "Not allowed", reason))


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    if isinstance(exception, RequestDataTooBig):
        return _answer(request, Problem(413, "too_large", "The body is too large"))
    return _answer(request, Problem(400, "unreadable", "The request could not be read"))


def server_error(request: HttpRequest) -> HttpResponse:
    return _answer(request, Problem(500, "fault", "A fault of ours", "Nothing was kept. The log has the details."))


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    return _answer(
        request, Problem(403, "csrf_failed", "The page is out of date", "Load the page again and repeat it.")
    )
