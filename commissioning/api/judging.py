"""What holds of a position and how it came about; judging again, and how far that is."""

import uuid
from typing import Any

from django.db import transaction
from django.db.models import Q
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from commissioning.models import CurrentVerdict, JudgedPosition, Record
from commissioning.pipeline import positions_under
from portfolio import audit
from portfolio.door.views import DoorView
from portfolio.jobs import queue
from portfolio.models import Building, Job, Position, Project


class VerdictsView(DoorView):
    verbs = {"GET": "see"}

    @extend_schema(operation_id="verdicts", summary="What holds of a position", responses={200: OpenApiTypes.OBJECT})
    def get(self, request: Request, pk: uuid.UUID) -> Response:
        position = self.visible(Position.objects, pk)
        verdicts = CurrentVerdict.objects.filter(position=position).select_related("judgement")
        judged = JudgedPosition.objects.filter(position=position).first()
        return Response(
            {
                "position": str(position.pk),
                "tag": position.tag,
                "waiting": Job.objects.filter(kind="judge", subject=position.pk, due=True).exists(),
                "judged_at": judged.judged_at if judged else None,
                "inputs_hash": judged.inputs_hash if judged else None,
                "judgements": [v.judgement.result for v in verdicts.order_by("requirement", "port")],
                "measurements": judged.measurements if judged else [],
                "problems": judged.problems if judged else [],
                "standing": _standing(position),
            }
        )


def _standing(position: Position) -> dict[str, Any] | None:
    standing = getattr(position, "standing", None)
    return standing and {
        "code": standing.code,
        "sentence": standing.sentence,
        "mover": standing.mover,
        "company": str(standing.company_id) if standing.company_id else None,
        "since": standing.since,
        "due": standing.due,
    }


class RecordsView(DoorView):
    verbs = {"GET": "see"}

    @extend_schema(operation_id="records", summary="Records of a position", responses={200: OpenApiTypes.OBJECT})
    def get(self, request: Request, pk: uuid.UUID) -> Response:
        position = self.visible(Position.objects, pk)
        rows = Record.objects.filter(position=position).select_related("submission").order_by("observed_at", "pk")
        return Response({"results": [_show(row) for row in rows]})


def _show(record: Record) -> dict[str, Any]:
    return {
        "id": str(record.submission.client_id),
        "kind": record.kind,
        "sha256": record.submission.sha256,
        "observed_at": record.observed_at,
        "observed_by": str(record.observed_by),
        "received_at": record.submission.received_at,
        "is_final": record.is_final,
        "session": record.session,
        "problems": record.problems,
    }


class ProjectJudgingView(DoorView):
    """Judging under a project again, and how far it is."""

    verbs = {"GET": "see", "POST": "rejudge"}

    @extend_schema(operation_id="project_judging", summary="How far judging is", responses={200: OpenApiTypes.OBJECT})
    def get(self, request: Request, pk: uuid.UUID) -> Response:
        return Response(progress_under(self.visible(Project.objects, pk).pk))

    @extend_schema(
        operation_id="judge_project_again", summary="Judge again", request=None, responses={202: OpenApiTypes.OBJECT}
    )
    def post(self, request: Request, pk: uuid.UUID) -> Response:
        return judge_again(self, request, self.visible(Project.objects, pk))


class BuildingJudgingView(DoorView):
    """Judging under a building again, and how far it is."""

    verbs = {"GET": "see", "POST": "rejudge"}

    @extend_schema(operation_id="building_judging", summary="How far judging is", responses={200: OpenApiTypes.OBJECT})
    def get(self, request: Request, pk: uuid.UUID) -> Response:
        return Response(progress_under(self.visible(Building.objects, pk).pk))

    @extend_schema(
        operation_id="judge_building_again", summary="Judge again", request=None, responses={202: OpenApiTypes.OBJECT}
    )
    def post(self, request: Request, pk: uuid.UUID) -> Response:
        return judge_again(self, request, self.visible(Building.objects, pk))


def judge_again(view: DoorView, request: Request, subject: Project | Building) -> Response:
    with transaction.atomic():
        queue.want("rejudge", [subject.pk])
        project_id = subject.access_scope().project_id
        audit.note(request=request, person=view.person, verb="rejudge", obj=subject, project_id=project_id)
    return Response(progress_under(subject.pk), status=202)


def progress_under(subject: uuid.UUID) -> dict[str, Any]:
    """Counted from the job table at the moment of asking."""
    ids = positions_under(subject).values("pk")
    jobs = Job.objects.filter(kind="judge", subject__in=ids)
    fanning_out = Job.objects.filter(kind="rejudge", subject=subject, due=True).exists()
    waiting = jobs.filter(due=True)
    return {
        "positions": positions_under(subject).count(),
        "waiting": waiting.count(),
        "fanning_out": fanning_out,
        "since": waiting.order_by("changed_at").values_list("changed_at", flat=True).first(),
        "failed": [
            {"position": str(job.subject), "error": job.error.strip().splitlines()[-1]}
            for job in jobs.filter(Q(due=False) & ~Q(error=""))[:20]
        ],
    }
