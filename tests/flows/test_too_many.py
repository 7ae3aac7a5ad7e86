"""Who sends more than is taken is told to wait; nothing of it is kept, and the device's record comes in afterwards."""

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from commissioning.models import Submission
from portfolio.models import Job, LoginTries
from tests import envelopes
from tests.cast import Cast

pytestmark = pytest.mark.django_db(transaction=True)


def body(cast: Cast, name: str) -> bytes:
    held = envelopes.envelope(
        name,
        position=cast.things["position"].pk,
        person=cast.person("own", "technician").pk,
        instrument=cast.things["instrument"].pk,
        flows={"supply": 1000.0},
    )
    return envelopes.raw(held)


def test_a_backlog_is_taken_up_to_the_limit_and_the_rest_is_kept_by_the_device(cast: Cast, settings: Any) -> None:
    settings.SUBMISSIONS_PER_PERSON = 2
    device = cast.actor("own", "technician")
    sent = [body(cast, f"reading {n}") for n in range(4)]
    assert [device.call("POST", "submissions", one).status_code for one in sent[:2]] == [201, 201]
    job = Job.objects.get(kind="judge").wanted

    refused = device.call("POST", "submissions", sent[2])
    told = refused.json()
    assert (refused.status_code, refused["Content-Type"]) == (429, "application/problem+json")
    assert (told["code"], 0 < int(refused["Retry-After"]) <= 900) == ("too_many", True)
    batch = device.call("POST", "submissions/batch", b"\n".join(sent[2:]))
    assert (batch.status_code, int(batch["Retry-After"]) > 0) == (429, True)
    assert (Submission.objects.count(), Job.objects.get(kind="judge").wanted) == (2, job)
    other = cast.actor("own", "lead")  # counted by person: nobody else waits
    assert other.call("POST", "submissions", body(cast, "of the lead")).status_code != 429

    LoginTries.objects.update(since=timezone.now() - timedelta(minutes=16))
    late = device.call("POST", "submissions/batch", b"\n".join(sent))  # begun within the limit, so taken whole
    assert (late.status_code, late.content.count(b'"status":201')) == (200, 4)
    assert device.call("POST", "submissions", sent[0]).status_code == 429
