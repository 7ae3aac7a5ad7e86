"""Files that nothing names are listed and removed after a time; what anything names stays, however old it is."""

import hashlib
import os
from datetime import UTC, datetime, timedelta
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command
from django.db import models
from django.utils import timezone

from commissioning.evidence.unnamed_files import TEXTS
from commissioning.models import Binder
from portfolio.blobs import removal
from portfolio.blobs.store import damaged, keep, path_of, read_blob
from portfolio.models import Blob
from tests import envelopes
from tests.cast import Cast

OLD = timezone.now() - timedelta(days=200)
NO_FILES = {
    "portfolio.AuditEvent.detail", "portfolio.ProjectConventions.agreed", "portfolio.DesignEntry.fields",
    "portfolio.DesignImport.choices", "portfolio.DesignImport.understanding", "portfolio.Instrument.accuracy",
    "portfolio.Instrument.resolution", "portfolio.Job.error", "commissioning.OwnChecks.text",
    "commissioning.OwnChecks.document", "commissioning.OwnProcedures.text", "commissioning.OwnProcedures.document",
    "commissioning.Submission.receipt", "commissioning.IssueEvent.text",
    "commissioning.Sample.plan", "commissioning.MappingVersion.raw", "commissioning.Signature.statement",
    "commissioning.TrendAnalysis.found", "commissioning.LogMappingVersion.document", "commissioning.TrendUpload.seen",
    "commissioning.TrendUpload.result", "commissioning.TrendUpload.fault",
    # made from evidence, and named there
    "portfolio.Standing.band", "commissioning.Record.problems", "commissioning.SettingsNow.values",
    "commissioning.JudgedPosition.measurements", "commissioning.JudgedPosition.problems",
    "commissioning.JudgedPosition.band", "commissioning.Judgement.result",
}  # fmt: skip


def old(data: bytes) -> Blob:
    blob = keep(data, "image/jpeg")
    Blob.objects.filter(pk=blob.pk).update(kept_at=OLD)
    os.utime(path_of(blob.pk), (OLD.timestamp(), OLD.timestamp()))
    return blob


def told(*options: str) -> str:
    said = StringIO()
    call_command("unnamed_files", *options, stdout=said)
    return said.getvalue()


def test_every_text_that_is_kept_is_looked_into_or_known_to_name_no_file() -> None:
    kinds = (models.JSONField, models.BinaryField, models.TextField)
    held = {
        f"{model._meta.label}.{field.name}"
        for model in apps.get_models()
        if model._meta.app_label in ("portfolio", "commissioning")
        for field in model._meta.concrete_fields
        if isinstance(field, kinds)
    }
    assert held == NO_FILES | set(TEXTS)


@pytest.mark.django_db
def test_only_what_nothing_names_and_is_old_goes(cast: Cast, own_blobs: Path) -> None:
    by_key, in_evidence, alone, fresh = old(b"a binder"), old(b"a photo"), old(b"nobody's"), keep(b"new", "text/plain")
    Binder.objects.create(
        project=cast.things["project"], title="Closeout", asked_by=cast.person("own", "lead"), document=by_key
    )
    envelope = envelopes.envelope(
        "with a photo",
        position=cast.things["position"].pk,
        person=cast.person("own", "technician").pk,
        instrument=cast.things["instrument"].pk,
        flows={"supply": 1000.0},
    )
    in_text = old(b"a controller's file")
    envelope["payload"]["note"] = f"read from the file {in_text.pk}"
    envelope["photos"] = [{"sha256": in_evidence.pk, "caption": ""}]
    assert cast.actor("own", "technician").call("POST", "submissions", envelopes.raw(envelope)).status_code == 201
    without_row = hashlib.sha256(b"crashed").hexdigest()
    path_of(without_row).parent.mkdir(exist_ok=True)
    path_of(without_row).write_bytes(b"crashed")
    os.utime(path_of(without_row), (OLD.timestamp(), OLD.timestamp()))

    named = {by_key.pk, in_evidence.pk, in_text.pk, fresh.pk}
    listed = told()
    assert {line.split()[0] for line in listed.splitlines()[:-1]} == {alone.pk, without_row}
    assert Blob.objects.filter(pk=alone.pk).exists()
    assert "2 removed, and 0 left over" in told("--delete")
    assert set(Blob.objects.values_list("pk", flat=True)) == named
    assert sorted(removal.on_disk()) == sorted(named)
    with pytest.raises(CommandError, match="1 at least"):
        told("--days", "0")


@pytest.mark.django_db
def test_what_is_kept_again_or_needed_after_the_list_was_made_stays(cast: Cast, own_blobs: Path) -> None:
    again, needed = old(b"again"), old(b"needed")
    keep(b"again", "image/jpeg")
    Binder.objects.create(
        project=cast.things["project"], title="Closeout", asked_by=cast.person("own", "lead"), document=needed
    )
    before = datetime.now(UTC) - timedelta(days=90)
    assert [removal.remove(one.pk, before=before) for one in (again, needed)] == [False, False]
    assert (read_blob(again.pk), read_blob(needed.pk), list(damaged())) == (b"again", b"needed", [])


@pytest.mark.django_db
def test_bytes_that_are_kept_while_their_row_goes_are_there_afterwards(
    own_blobs: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    blob = old(b"twice")
    real = models.QuerySet.delete

    def meanwhile(rows: Any) -> Any:
        keep(b"twice", "image/jpeg")  # finds the row, and it goes the next moment
        return real(rows)

    monkeypatch.setattr(models.QuerySet, "delete", meanwhile)
    assert removal.remove(blob.pk, before=datetime.now(UTC) - timedelta(days=90)) is False
    assert (read_blob(blob.pk), Blob.objects.filter(pk=blob.pk).count()) == (b"twice", 1)


@pytest.mark.django_db
def test_what_a_crash_left_aside_comes_back_if_it_has_its_row(own_blobs: Path) -> None:
    blob = old(b"half removed")
    os.replace(path_of(blob.pk), own_blobs / f"leaving-{blob.pk}")
    half = own_blobs / "incoming-x"
    half.write_bytes(b"half written")
    os.utime(half, (OLD.timestamp(), OLD.timestamp()))
    assert removal.tidy(before=datetime.now(UTC) - timedelta(days=90)) == 1
    assert read_blob(blob.pk) == b"half removed"
    assert not half.exists()
