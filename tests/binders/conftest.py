"""A stage with a day of evidence: a failing final, its issue closed by retest, a correction, a photo, a bad unit."""

import hashlib
import json
import uuid
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from commissioning.models import Binder, Issue
from portfolio.jobs import runner
from portfolio.models import DesignEntry, DesignRevision, Position
from tests import envelopes
from tests.cast import Cast
from tests.portfolio.photographs import jpeg

DESIGN = {"supply": 1000.0, "return": 950.0, "outdoor": 1000.0, "exhaust": 950.0}


class Stage:
    def __init__(self, cast: Cast) -> None:
        self.cast = cast
        self.project, self.building = cast.things["project"], cast.things["building"]
        self.position = cast.things["position"]
        self.revision = DesignRevision.objects.create(
            project=self.project,
            number=1,
            dated=date(2026, 1, 5),
            source="design",
            applied_by=cast.person("own", "lead"),
        )
        self.design(self.position)

    def design(self, position: Position) -> None:
        DesignEntry.objects.create(
            revision=self.revision,
            position=position,
            fields=envelopes.design(DESIGN, minimum={"outdoor": 700}),
        )

    def add_unit(self, tag: str) -> Position:
        position = Position.objects.create(building=self.building, tag=tag, kind="erv")
        self.design(position)
        return position

    def submit(self, name: str, *, status: int = 201, position: Position | None = None, **rest: Any) -> Any:
        photos = rest.pop("photos", None)
        given = envelopes.envelope(
            name,
            position=(position or self.position).pk,
            person=self.cast.person("own", "technician").pk,
            instrument=self.cast.things["instrument"].pk,
            flows=DESIGN | rest.pop("flows", {}),
            **rest,
        )
        if photos:
            given["photos"] = photos
        answer = self.cast.actor("own", "technician").call("POST", "submissions", envelopes.raw(given))
        assert answer.status_code == status, answer.content
        return answer

    def act(self, who: str, issue: Issue, code: str, **body: Any) -> None:
        issue.refresh_from_db()
        answer = self.cast.actor("own", who).call(
            "POST", f"issues/{issue.pk}/acts", {"act": code, **body}, headers={"If-Match": f'"{issue.version}"'}
        )
        assert answer.status_code == 200, answer.content

    def ask(self, who: str = "lead", status: int = 202, **body: Any) -> Any:
        body = {"title": "Closeout", "building": str(self.building.pk), **body}
        if "positions" in body or "buildings" in body:
            del body["building"]
        answer = self.cast.actor("own", who).call("POST", f"projects/{self.project.pk}/binders", body)
        assert answer.status_code == status, answer.content
        return answer.json()

    def built(self, **body: Any) -> Binder:
        asked = self.ask(**body)
        runner.drain()
        binder = Binder.objects.get(pk=asked["id"])
        assert binder.document_id, self.cast.actor("own", "lead").call("GET", f"binders/{binder.pk}").json()
        return binder

    def get(self, path: str, who: str = "lead") -> Any:
        return self.cast.actor("own", who).call("GET", path)

    def day(self) -> None:
        """Low at first, released, answered, retested, closed; a typo superseded; a record that nobody can read."""
        photo = jpeg()
        sha256 = hashlib.sha256(photo).hexdigest()
        self.cast.actor("own", "technician").call("PUT", f"photos/{sha256}", photo)
        self.submit(
            "low", flows={"supply": 820, "outdoor": 820}, photos=[{"sha256": sha256, "caption": "damper <half>"}]
        )
        runner.drain()
        first, second = Issue.objects.order_by("number")
        self.act("lead", second, "merge", into=str(first.pk))
        self.act("lead", first, "release", company=str(self.cast.things["company"].pk), due="2026-05-11")
        self.act("contractor", first, "answer_ready", text="New actuator, damper opens fully.")
        self.submit("typo", session="AL-2", at="2026-05-14T08:00:00-06:00", flows={"supply": 100})
        self.submit(
            "good",
            session="AL-2",
            at="2026-05-14T09:00:00-06:00",
            supersedes=[{"id": str(uuid.uuid5(envelopes.NAMESPACE, "typo")), "reason": "a digit was lost"}],
        )
        self.submit("odd unit", unit="furlongs", at="2026-05-14T10:00:00-06:00")
        runner.drain()
        self.act("lead", first, "close")


@pytest.fixture
def stage(cast: Cast) -> Stage:
    return Stage(cast)


@pytest.fixture
def day(stage: Stage) -> Stage:
    stage.day()
    return stage


@pytest.fixture
def count_queries(django_assert_max_num_queries: Any) -> Callable[..., Any]:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    def counted(do: Callable[[], Any]) -> int:
        with CaptureQueriesContext(connection) as held:
            do()
        return len(held)

    return counted


def load(data: bytes) -> Any:
    return json.loads(data)
