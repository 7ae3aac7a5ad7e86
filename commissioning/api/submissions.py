"""Evidence comes in here: one envelope, or a batch of them, one per line."""

import json
from typing import Any
from uuid import UUID

from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.negotiation import BaseContentNegotiation
from rest_framework.parsers import BaseParser
from rest_framework.renderers import BaseRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from commissioning.evidence.accept import Kept, Outcome, Refused, Sender, accept
from commissioning.models import Submission
from portfolio.door.bodies import body_of
from portfolio.door.field_errors import FieldError
from portfolio.door.problems import Problem, not_found
from portfolio.door.views import DoorView
from portfolio.models import DeviceToken

MOST_BYTES = 1024 * 1024
MOST_BATCH_BYTES = 8 * 1024 * 1024
MOST_LINES = 500


class _AsItCame(BaseParser):
    """The body is evidence: nobody parses it but the one who keeps it."""

    media_type = "*/*"


class EvidenceView(DoorView):
    parser_classes = [_AsItCame]

    def sender(self, request: Request) -> Sender:
        token = request.auth if isinstance(request.auth, DeviceToken) else None
        return Sender(self.person, token, request.META.get("ventfolio.request_id", ""))


def problem_of(refused: Refused) -> Problem:
    errors = [
        FieldError(pointer=one.pointer, code=refused.code, detail=one.reason, value=one.value, remedy=one.remedy)
        for one in refused.problems
    ]
    headers = {"Retry-After": str(refused.wait_s)} if refused.wait_s else {}
    title = "This envelope is not taken" if not refused.wait_s else "Too many at once"
    return Problem(
        refused.status, refused.code, title, refused.detail, errors=errors, extra=refused.extra, headers=headers
    )


class SubmissionsView(EvidenceView):
    verbs = {"POST": "submit_evidence"}

    @extend_schema(
        operation_id="submit",
        summary="Submit one envelope",
        description=(
            "The body is the envelope's exact bytes (docs/schemas/envelope.json). `Idempotency-Key`, if sent, is the "
            "envelope's id. The same bytes again bring the same receipt; other bytes under the same id are refused."
        ),
        request={"application/json": OpenApiTypes.OBJECT},
        responses={201: OpenApiTypes.OBJECT},
        parameters=[
            OpenApiParameter("Idempotency-Key", str, OpenApiParameter.HEADER, description="the envelope's id"),
            OpenApiParameter("Content-Digest", str, OpenApiParameter.HEADER, description="sha-256 of the body"),
        ],
    )
    def post(self, request: Request) -> HttpResponse:
        self._asked = True  # `accept` asks for each position what this person may do there
        raw = body_of(request, limit_bytes=MOST_BYTES)
        key = request.META.get("HTTP_IDEMPOTENCY_KEY", "").strip().strip('"').lower()
        outcome = accept(self.sender(request), [raw], key=key)[0]
        if isinstance(outcome, Refused):
            raise problem_of(outcome)
        response = HttpResponse(outcome.receipt, status=201, content_type="application/json")
        if outcome.is_replay:
            response["Idempotent-Replay"] = "true"
        return response


class NDJSON(BaseRenderer):
    media_type = "application/x-ndjson"
    format = "ndjson"

    def render(self, data: Any, *args: Any, **kwargs: Any) -> bytes:
        return data if isinstance(data, bytes) else json.dumps(data).encode()


class _Whatever(BaseContentNegotiation):
    def select_parser(self, request: Request, parsers: Any) -> Any:
        return parsers[0]

    def select_renderer(self, request: Request, renderers: Any, format_suffix: str | None = None) -> Any:
        return (renderers[0], renderers[0].media_type)


class BatchView(EvidenceView):
    verbs = {"POST": "submit_evidence"}
    content_negotiation_class = _Whatever

    @extend_schema(
        operation_id="submit_batch",
        summary="Submit many envelopes, one per line",
        description="NDJSON in, NDJSON out: a result per line, in order. A bad line does not stop its neighbours.",
        request={"application/x-ndjson": OpenApiTypes.STR},
        responses={(200, "application/x-ndjson"): OpenApiTypes.STR},
    )
    def post(self, request: Request) -> HttpResponse:
        self._asked = True
        body = body_of(request, limit_bytes=MOST_BATCH_BYTES)
        lines = [line for line in body.split(b"\n") if line.strip()]
        if len(lines) > MOST_LINES:
            raise Problem(413, "too_many_lines", "Too many lines", f"At most {MOST_LINES} envelopes in one batch.")
        outcomes = accept(self.sender(request), lines)
        if outcomes and isinstance(outcomes[0], Refused) and outcomes[0].wait_s:
            raise problem_of(outcomes[0])  # of all of them: a device keeps the batch and sends it again
        said = b"".join(_line(number, outcome) for number, outcome in enumerate(outcomes, start=1))
        return HttpResponse(said, content_type="application/x-ndjson")


def _line(number: int, outcome: Outcome) -> bytes:
    if isinstance(outcome, Kept):
        return b'{"line":%d,"status":201,"receipt":%s}\n' % (number, outcome.receipt)
    problem = problem_of(outcome).document("")
    return json.dumps({"line": number, "status": outcome.status, "problem": problem}).encode() + b"\n"


class SubmissionView(DoorView):
    verbs = {"GET": "see"}

    @extend_schema(operation_id="receipt", summary="The receipt of a submission", responses={200: OpenApiTypes.OBJECT})
    def get(self, request: Request, client_id: UUID) -> HttpResponse:
        found = self.seen(Submission.objects).filter(client_id=client_id).order_by("pk").first()
        if found is None:
            raise not_found()
        return HttpResponse(bytes(found.receipt), content_type="application/json")


class SubmissionBytesView(DoorView):
    verbs = {"GET": "see"}

    @extend_schema(
        operation_id="submission_bytes", summary="The exact bytes of a submission", responses={200: OpenApiTypes.BINARY}
    )
    def get(self, request: Request, client_id: UUID) -> HttpResponse:
        found = self.seen(Submission.objects).filter(client_id=client_id).order_by("pk").first()
        if found is None:
            raise not_found()
        response = HttpResponse(bytes(found.raw), content_type="application/octet-stream")
        response["Content-Disposition"] = f'attachment; filename="{client_id}.json"'
        return response


class HaveView(DoorView):
    verbs = {"GET": "see"}

    @extend_schema(
        operation_id="have",
        summary="Which of these does the server have?",
        description="A device asks before it sends: up to 100 `sha256` values; the answer lists those kept of yours.",
        parameters=[OpenApiParameter("sha256", str, many=True, required=True)],
        responses={200: OpenApiTypes.OBJECT},
    )
    def get(self, request: Request) -> Response:
        self._asked = True
        asked = request.query_params.getlist("sha256")[:100]
        mine = Submission.objects.filter(person=self.person, sha256__in=asked)
        return Response({"have": sorted(mine.values_list("sha256", flat=True))})
