"""From asking to the file that was handed over; whatever dies in between, and whoever asks."""

import hashlib
import json
import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from commissioning import judging
from commissioning.binders import build, document, pages
from commissioning.binders.freeze import freeze
from commissioning.binders.render import render
from commissioning.binders.verify import verify
from commissioning.models import Binder, JudgedPosition
from portfolio.blobs.store import path_of, read_blob
from portfolio.jobs import queue, runner
from portfolio.models import AuditEvent, Job, Membership
from tests import envelopes
from tests.binders.conftest import Stage

pytestmark = pytest.mark.django_db(transaction=True)


def frozen_of(binder: Binder) -> Any:
    assert binder.frozen_id
    return json.loads(read_blob(binder.frozen_id))


def pdf_of(binder: Binder) -> bytes:
    assert binder.document_id
    return read_blob(binder.document_id)


def test_a_binder_is_asked_for_built_in_the_background_and_taken_away(day: Stage) -> None:
    asked = day.ask(title="Closeout of the stage")
    assert (asked["state"], asked["file"]) == ("waiting", None)
    assert day.get(f"binders/{asked['id']}/file").status_code == 409
    runner.drain()
    told = day.get(f"binders/{asked['id']}").json()
    assert (told["state"], told["steps_done"] > 0) == ("built", True)
    file = b"".join(day.get(f"binders/{asked['id']}/file").streaming_content)
    assert hashlib.sha256(file).hexdigest() == told["sha256"]
    assert len(pages.read(file).pages) == told["pages"]
    frozen = b"".join(day.get(f"binders/{asked['id']}/frozen").streaming_content)
    assert document.input_hash(document.read(frozen)) == told["input_hash"]
    listed = day.get(f"projects/{day.project.pk}/binders").json()["results"]
    assert [one["id"] for one in listed] == [asked["id"]]


def test_what_is_frozen_verifies_without_the_server(day: Stage) -> None:
    report = verify(pdf_of(day.built()))
    assert report.differences == []
    assert report.counted["evidence"] == 4
    assert report.counted["photos"] == 1


def test_the_frozen_verdicts_are_those_that_the_server_holds(day: Stage) -> None:
    frozen = frozen_of(day.built())
    (position,) = frozen["judged"]["positions"]
    held = JudgedPosition.objects.get(pk=day.position.pk)
    assert position["inputs_hash"] == held.inputs_hash
    assert position["measurements"] == held.measurements
    judgements = day.get(f"positions/{day.position.pk}/verdicts").json()["judgements"]
    key = lambda one: (one["requirement"], one["port"])  # noqa: E731
    assert sorted(position["judgements"], key=key) == sorted(judgements, key=key)


def test_every_record_is_in_it_to_the_byte_with_who_superseded_it(day: Stage) -> None:
    frozen = frozen_of(day.built())
    raws = frozen["judging"]["envelopes"] + [one["raw"] for one in frozen["set_aside"]]
    hashes = {hashlib.sha256(raw.encode()).hexdigest() for raw in raws}
    assert hashes == {one["sha256"] for one in frozen["manifest"]}
    by_id = {one["id"]: one for one in frozen["manifest"]}
    typo, good, odd = (str(uuid.uuid5(envelopes.NAMESPACE, name)) for name in ("typo", "good", "odd unit"))
    assert by_id[typo]["superseded"] == [{"by": good, "reason": "a digit was lost"}]
    assert (by_id[odd]["held"], by_id[good]["held"]) == ("set_aside", "judging")
    assert by_id[good]["observed_by"] == "own technician"
    assert by_id[good]["observed_at"] == "2026-05-14T09:00:00-06:00"


def test_the_issue_is_in_it_with_its_story_and_no_draft_is(day: Stage) -> None:
    day.add_unit("ERV-9")
    day.submit(
        "another low", position=day.cast.things["position"].__class__.objects.get(tag="ERV-9"), flows={"return": 500}
    )
    runner.drain()
    frozen = frozen_of(day.built())
    assert [(one["number"], one["state"]) for one in frozen["issues"]] == [(1, "closed")]
    assert [one["act"] for one in frozen["issues"][0]["story"]] == [
        "draft", "merge", "release", "answer_ready", "evidence_passes", "close",
    ]  # fmt: skip
    draft = next(one for one in frozen["units"] if one["tag"] == "ERV-9")
    assert draft["standing"]["sentence"] == "A finding waits for the firm to decide what follows from it."


def test_who_asks_again_for_the_same_gets_the_same_bytes(day: Stage) -> None:
    first, second = day.built(), day.built(who="owner")
    assert (first.input_hash, first.document_id) == (second.input_hash, second.document_id)
    assert frozen_of(first)["asked"]["by"] != frozen_of(second)["asked"]["by"]
    drawn = [render(read_blob(str(one.frozen_id)), None, freeze(one).photos).pdf for one in (first, second)]
    assert drawn[0] == drawn[1] == pdf_of(first)


def test_new_evidence_makes_another_binder_and_leaves_the_first_as_it_is(day: Stage) -> None:
    first = day.built()
    before = pdf_of(first)
    day.submit("later", session="AL-3", at="2026-05-20T09:00:00-06:00", flows={"supply": 1040})
    runner.drain()
    second = day.built()
    assert second.input_hash != first.input_hash
    queue.want("binder", [first.pk])
    runner.drain()
    first.refresh_from_db()
    assert pdf_of(first) == before


def test_a_damaged_file_is_not_handed_out_again(day: Stage) -> None:
    first = day.built()
    path = path_of(str(first.document_id))
    path.write_bytes(path.read_bytes()[:-1] + b"?")
    second = day.built()
    assert second.document_id == first.document_id
    assert verify(pdf_of(second)).is_same  # drawn anew: its bytes mended the kept file


def test_burning_and_judging_again_gives_the_same_binder(day: Stage) -> None:
    from django.core.management import call_command

    before = freeze(day.built()).input_hash
    call_command("burn_derived")
    runner.drain()
    assert freeze(Binder.objects.get()).input_hash == before


@pytest.mark.parametrize("step", ["freeze", "render", "keep", "finish"])
def test_a_worker_that_dies_in_the_middle_leaves_nothing_and_another_builds_it(
    day: Stage, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    asked = day.ask()

    class Killed(BaseException):
        pass

    def die(*args: Any, **kwargs: Any) -> Any:
        raise Killed

    where: Any = queue if step == "finish" else build
    with monkeypatch.context() as patched:
        patched.setattr(where, step, die)
        with pytest.raises(Killed):
            runner.drain(["binder"])
    binder = Binder.objects.get(pk=asked["id"])
    assert (binder.document_id, binder.frozen_id, binder.input_hash) == (None, None, "")
    assert runner.drain(["binder"]) == 0  # the lease still holds
    Job.objects.filter(kind="binder").update(lease_until=timezone.now() - timedelta(seconds=1))
    assert runner.drain(["binder"]) == 1
    binder.refresh_from_db()
    assert verify(pdf_of(binder)).is_same
    assert AuditEvent.objects.filter(verb="binder.built").count() == 1


def test_a_worker_that_slept_past_its_lease_changes_nothing(day: Stage, monkeypatch: pytest.MonkeyPatch) -> None:
    day.ask()
    (slow,) = queue.claim("binder")
    Job.objects.filter(kind="binder").update(lease_until=timezone.now() - timedelta(seconds=1))
    runner.drain(["binder"])
    binder = Binder.objects.get()
    built_at = binder.built_at
    Binder.objects.update(document=None)  # as the slow one saw it
    build.build(slow)
    binder.refresh_from_db()
    assert (binder.document_id, binder.built_at) == (None, built_at)
    assert AuditEvent.objects.filter(verb="binder.built").count() == 1


def test_whose_role_has_ended_gets_no_binder_though_it_was_asked_for_in_time(day: Stage) -> None:
    asked = day.ask(who="owner")
    Membership.objects.filter(person=day.cast.person("own", "owner")).update(until=timezone.now())
    runner.drain()
    Job.objects.filter(kind="binder").update(not_before=None)
    runner.drain()
    Job.objects.filter(kind="binder").update(not_before=None)
    runner.drain()
    told = day.get(f"binders/{asked['id']}").json()
    assert told["state"] == "failed"
    assert told["error"] == "Who asked for this binder no longer sees every unit in it."
    assert Binder.objects.get().document_id is None


def test_units_that_one_does_not_see_are_not_found(stage: Stage) -> None:
    near = stage.cast.things["other_position"]
    stage.ask(status=404, positions=[str(stage.position.pk), str(near.pk)])
    stage.ask(status=404, building=str(stage.cast.things["other_building"].pk))
    stage.ask(status=400, positions=[], title="none")
    stage.ask(who="technician", status=403)
    assert not Binder.objects.exists()


def test_a_binder_is_hidden_from_who_does_not_see_all_of_it(day: Stage) -> None:
    other = day.cast.things["near_building"]
    both = day.ask(buildings=[str(day.building.pk), str(other.pk)])
    only = day.ask(positions=[str(day.position.pk)])
    near = day.cast.actor("near", "lead")
    assert near.call("GET", f"binders/{both['id']}").status_code == 404
    assert near.call("GET", f"binders/{only['id']}").status_code == 404
    assert near.call("GET", f"projects/{day.project.pk}/binders").json()["results"] == []


def test_freezing_takes_the_same_number_of_queries_for_any_number_of_units(
    day: Stage, count_queries: Callable[[Callable[[], Any]], int]
) -> None:
    small = day.built()
    for number in range(8):
        unit = day.add_unit(f"ERV-{number + 20}")
        day.submit(f"more {number}", position=unit)
    runner.drain()
    large = day.built()
    assert large.positions.count() == small.positions.count() + 8
    assert count_queries(lambda: freeze(large)) == count_queries(lambda: freeze(small))


def test_a_record_moved_to_another_building_brings_what_supersedes_it(day: Stage) -> None:
    other = day.cast.things["near_position"]
    wrong = str(uuid.uuid5(envelopes.NAMESPACE, "good"))
    day.submit("moved", position=other, supersedes=[{"id": wrong, "reason": "saved on the wrong unit"}])
    runner.drain()
    binder = day.built()
    frozen = frozen_of(binder)
    assert str(uuid.uuid5(envelopes.NAMESPACE, "moved")) in {one["id"] for one in frozen["manifest"]}
    assert frozen["judged"]["positions"][0]["inputs_hash"] == JudgedPosition.objects.get(pk=day.position.pk).inputs_hash
    assert verify(pdf_of(binder)).is_same


def test_a_supersession_that_was_not_granted_has_no_effect_in_the_binder_either(day: Stage) -> None:
    """A technician of one building cannot take out a record of another, and a binder of both says the same."""
    other, named = day.cast.things["near_position"], str(uuid.uuid5(envelopes.NAMESPACE, "good"))
    given = envelopes.envelope(
        "claims too much",
        position=other.pk,
        person=day.cast.person("near", "technician").pk,
        instrument=day.cast.things["instrument"].pk,
        flows={"supply": 500},
        supersedes=[{"id": named, "reason": "not mine to say"}],
    )
    answer = day.cast.actor("near", "technician").call("POST", "submissions", envelopes.raw(given))
    assert answer.status_code == 201
    runner.drain()
    binder = day.built(buildings=[str(day.building.pk), str(day.cast.things["near_building"].pk)])
    frozen = frozen_of(binder)
    assert frozen["withheld"] == [{"envelope": given["id"], "names": named}]
    for position in frozen["judged"]["positions"]:
        assert position["inputs_hash"] == JudgedPosition.objects.get(pk=position["id"]).inputs_hash
    assert verify(pdf_of(binder)).is_same


def test_the_document_inside_is_a_judging_document_that_anyone_can_judge(day: Stage) -> None:
    frozen = frozen_of(day.built())
    assert judging.judge_document(frozen["judging"])["positions"] == frozen["judged"]["positions"]
