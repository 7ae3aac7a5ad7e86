"""The functional tests of a unit over HTTP: which apply and why, what each needs, and its steps."""

import uuid
from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from commissioning.catalogue.units import VOCABULARY
from commissioning.dossier.procedures.answered import asked_json
from commissioning.dossier.procedures.plan import Asked, Planned, depends_on, plan_of
from commissioning.evidence.own_procedures import library_of
from commissioning.models import CurrentVerdict
from commissioning.verdicts.planned_tests import unit_now
from portfolio.door.views import DoorView
from portfolio.models import Position


class FunctionalPlanView(DoorView):
    verbs = {"GET": "see"}

    @extend_schema(
        operation_id="test_plan",
        summary="Functional tests of a position",
        description=(
            "Every procedure of the library, and of the firm's own, in the order in which a unit is tested: whether it "
            "applies, whether the design's list asks for it, and how it stands. Values follow from the settings as "
            "they were last read; `missing` names settings without which a step's value is not known. A run is sent as "
            "a `test_run`."
        ),
        responses={200: OpenApiTypes.OBJECT},
    )
    def get(self, request: Request, pk: uuid.UUID) -> Response:
        position = self.visible(Position.objects.select_related("building__site__project", "system"), pk)
        verdicts = CurrentVerdict.objects.filter(position=position, requirement="functional_tests")
        held = {one.port: one for one in verdicts.select_related("judgement")}
        library = library_of(position.building.site.project_id)
        tests = [_test(one, held.get(one.procedure.code)) for one in plan_of(unit_now(position), library)]
        return Response(
            {"position": str(position.pk), "tag": position.tag, "library": library.version, "tests": tests},
        )


def _test(one: Planned, verdict: CurrentVerdict | None) -> dict[str, Any]:
    procedure = one.procedure
    needs = procedure.needs
    absence = verdict.judgement.result["absence"] if verdict else None
    return {
        "procedure": procedure.code,
        "version": procedure.version,
        "title": procedure.title,
        "why": procedure.why,
        "applies": one.applies,
        "due": one.is_due,
        "reason": one.reason,
        "outcome": verdict.outcome if verdict else None,
        "because": absence["text"] if absence else "",
        "needs": {
            "season": needs.season,
            "occupancy": needs.occupancy,
            "coordination": needs.coordination,
            "present": list(needs.present),
        },
        "cautions": [_hazard(code) for code in procedure.hazards],
        "safe_state": procedure.safe_state,
        "witnessed": procedure.witnessed,
        "depends_on": list(depends_on(procedure)),
        "steps": [_step(asked) for asked in one.steps],
    }


def _hazard(code: str) -> dict[str, str]:
    hazard = VOCABULARY.hazards[code]
    return {"hazard": code, "title": hazard.title, "text": hazard.text}


def _step(asked: Asked) -> dict[str, Any]:
    step, told = asked.step, asked_json(asked)
    return {
        "step": step.id,
        "part": step.part,
        "cautions": list(step.caution),
        "who": step.who,
        "do": step.do,
        "expect": step.expect,
        "answer": step.answer,
        "photo": step.photo,
        "measured": step.measured,
        "low": _quantity(told["low"], told["unit"]),
        "high": _quantity(told["high"], told["unit"]),
        "expected": _quantity(told["expected"], told["unit"]),
        "how": told["how"],
        "basis": told["basis"],
        "missing": told["missing"],
        "trend": told["trend"],
        "leaves": step.leaves,
        "source": step.source,
        "simulated": step.simulated,
        "untested": step.untested,
    }


def _quantity(value: float | None, unit: str) -> dict[str, Any] | None:
    return None if value is None else {"value": value, "unit": unit}
