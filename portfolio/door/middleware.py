"""A request id for every request: in the answer's header, in problems and in the audit."""

import secrets
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse


class RequestIdMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request.META["ventfolio.request_id"] = secrets.token_hex(8)
        response = self.get_response(request)
        response["X-Request-ID"] = request.META["ventfolio.request_id"]
        return response
