"""The policy's lines for evidence, verdicts and issues; see policy.py for what a line means."""

import json
import uuid
from datetime import UTC, datetime, timedelta
from typing import Any

from django.utils import timezone

from commissioning.issues import exchange
from commissioning.models import (
    AnswerLink,
    CurrentVerdict,
    Issue,
    IssueCheck,
    IssueEvent,
    Judgement,
    Record,
    Submission,
)
from portfolio.schedules import importing
from tests.architecture.policy import EVERYONE, IN_FORCE, PROJECT, STAGE, THINGS, line
from tests.cast import Actor, Cast

SUBMITTED = uuid.UUID("00000000-0000-4000-8000-00000000e001")


def _on_stage(cast: Cast) -> None:
    """A record that needs attention, a failing verdict, and its issue released to the company."""
    position, lead = cast.things["position"], cast.person("own", "lead")
    now = timezone.now()
    submission = Submission.objects.create(
        person=lead,
        client_id=SUBMITTED,
        project=cast.things["project"],
        sha256="0" * 64,
        raw=cast.named("stage", "raw").encode(),
        receipt=json.dumps({"id": str(SUBMITTED), "note": cast.named("stage", "receipt")}).encode(),
        received_at=now,
    )
    Record.objects.create(
        submission=submission,
        position=position,
        kind="airflow",
        observed_at=datetime(2026, 5, 4, 15, 0, tzinfo=UTC),
        observed_by=lead.pk,
        session=cast.named("stage", "AL-1"),
        problems=[{"pointer": "", "value": "", "reason": "made up", "remedy": ""}],
        needs_attention=True,
        parse_version=1,
    )
    judgement = Judgement.objects.create(
        position=position,
        requirement="design_airflow",
        port="supply",
        inputs_hash="0" * 64,
        rule_version=1,
        result_hash="0" * 64,
        result={"requirement": "design_airflow", "port": "supply", "clause": cast.named("stage", "clause")},
        made_at=now,
    )
    CurrentVerdict.objects.create(
        position=position, requirement="design_airflow", port="supply", judgement=judgement, outcome="does_not_conform"
    )
    issue = Issue.objects.create(
        project=cast.things["project"],
        number=1,
        title=cast.named("stage", "Supply air is low"),
        state=Issue.State.RELEASED,
        company=cast.things["company"],
        opened_at=now,
        moved_at=now,
    )
    IssueCheck.objects.create(issue=issue, position=position, requirement="design_airflow", port="supply")
    IssueEvent.objects.create(issue=issue, at=now, act="release", text=cast.named("stage", "look at the damper"))
    cast.things["issue"] = issue
    cast.things["import"] = importing.take(
        project=cast.things["project"],
        person=lead,
        file_name="pasted.txt",
        data=f"TAG\tSUPPLY CFM (STANDARD AIR)\n{cast.named('stage', 'ERV-1')}\t900\n".encode(),
    )
    cast.things["answer_link"] = AnswerLink.objects.create(
        project=cast.things["project"],
        company=cast.things["company"],
        digest="1" * 64,
        made_by=lead,
        expires_at=timezone.now() + timedelta(days=9),
    )


THINGS.append(_on_stage)


def _submitted(_: Cast, __: Actor) -> uuid.UUID:
    return SUBMITTED


def _envelope(cast: Cast) -> bytes:
    """Readable in its frame, so that it is kept; its payload would need attention, which is all that is asked here."""
    return json.dumps(
        {
            "schema": "ventfolio/envelope/1",
            "id": str(uuid.uuid4()),
            "kind": "airflow",
            "position": str(cast.things["position"].pk),
            "observed_at": "2026-05-04T10:15:00-05:00",
            "observed_by": str(cast.person("own", "technician").pk),
            "payload": {},
        }
    ).encode()


def _list_back(cast: Cast) -> bytes:
    return exchange.write([], "nothing to answer")


_WORKING = "lead technician"

line("POST api/v1/submissions", sees=STAGE, may=_WORKING, content=_envelope)
line(
    "POST api/v1/submissions/batch",
    sees=EVERYONE,
    may=EVERYONE,
    ok=200,
    content=lambda cast: b"",
    content_type="application/x-ndjson",
)
line("GET api/v1/submissions/have", sees=EVERYONE)
line("GET api/v1/submissions/<uuid:client_id>", client_id=_submitted, sees=STAGE, shows="stage")
line("GET api/v1/submissions/<uuid:client_id>/bytes", client_id=_submitted, sees=STAGE, shows="stage")

line("GET api/v1/positions/<uuid:pk>/verdicts", pk="position", sees=STAGE, shows="stage")
line("GET api/v1/positions/<uuid:pk>/test-plan", pk="position", sees=STAGE, shows="stage")
line("GET api/v1/positions/<uuid:pk>/records", pk="position", sees=STAGE, shows="stage")
line("GET api/v1/positions/<uuid:pk>/signatures", pk="position", sees=STAGE)
line(
    "POST api/v1/positions/<uuid:pk>/signatures",  # nothing is to be signed there yet
    pk="position",
    sees=STAGE,
    may="lead",
    ok=409,
    body={"note": ""},
    headers={"If-Match": f'"{"0" * 64}"'},
)
line("GET api/v1/projects/<uuid:pk>/judging", pk="project", sees=PROJECT)
line("POST api/v1/projects/<uuid:pk>/judging", pk="project", sees=PROJECT, may="lead", ok=202)
line("GET api/v1/buildings/<uuid:pk>/judging", pk="building", sees=STAGE)
line("POST api/v1/buildings/<uuid:pk>/judging", pk="building", sees=STAGE, may="lead", ok=202)

line("GET api/v1/issues", sees=EVERYONE, shows="stage")
line("GET api/v1/issues/<uuid:pk>", pk="issue", sees=STAGE, shows="stage")
line(
    "POST api/v1/issues/<uuid:pk>/acts",
    pk="issue",
    sees=STAGE,
    ok=200,
    body={"act": "answer_ready", "text": "the damper opens now"},
    headers={"If-Match": '"1"'},
    may="contractor",
)
_COMPANY: dict[str, Any] = {"project_id": "project", "company_id": "company"}
line(
    "GET api/v1/projects/<uuid:project_id>/companies/<uuid:company_id>/issues.xlsx",
    **_COMPANY,
    sees=PROJECT,
)
line(
    "POST api/v1/projects/<uuid:project_id>/companies/<uuid:company_id>/issues.xlsx",
    **_COMPANY,
    sees=PROJECT,
    ok=200,
    content=_list_back,
    content_type="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
)
line("GET api/v1/projects/<uuid:project_id>/answer-links", project_id="project", sees=PROJECT, may="lead")
line(
    "POST api/v1/projects/<uuid:project_id>/answer-links",
    project_id="project",
    sees=PROJECT,
    may="lead",
    body=lambda cast: {"company": str(cast.things["company"].pk)},
)
line(
    "DELETE api/v1/projects/<uuid:project_id>/answer-links/<uuid:pk>",
    project_id="project",
    pk="answer_link",
    sees=PROJECT,
    may="lead",
)
line("GET api/v1/projects/<uuid:pk>/revisions", pk="project", sees=PROJECT)
line(
    "POST api/v1/projects/<uuid:pk>/revisions",
    pk="project",
    sees=PROJECT,
    may="lead",
    body=lambda cast: {
        "dated": "2026-03-01",
        "source": "answer",
        "entries": [{"position": str(cast.things["position"].pk), "design": {"ports": {"supply": {"minimum": None}}}}],
    },
)
line("GET api/v1/projects/<uuid:pk>/imports", pk="project", sees=PROJECT, may="lead")
line(
    "POST api/v1/projects/<uuid:pk>/imports",
    pk="project",
    sees=PROJECT,
    may="lead",
    content=lambda cast: b"TAG\tSUPPLY CFM\nERV-9\t900\n",
    content_type="text/plain",
)
line("GET api/v1/imports/<uuid:pk>", pk="import", sees=PROJECT, may="lead", shows="stage")
line("PATCH api/v1/imports/<uuid:pk>", pk="import", sees=PROJECT, may="lead", body={"air_basis": "standard"})
line("POST api/v1/imports/<uuid:pk>/apply", pk="import", sees=PROJECT, may="lead", ok=200)
line("GET healthz", sees=IN_FORCE, public=True)
line("GET readyz", sees=IN_FORCE, public=True)
