"""Files: whole or not there, never served when damaged, photos shown without where and by what they were taken."""

import hashlib
import os
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.http import HttpResponseBase
from PIL import Image

from portfolio.blobs.photos import PhotoRefused, accept_photo, view_copy
from portfolio.blobs.store import BlobUnusable, damaged, keep, open_blob, path_of, read_blob
from portfolio.door.files import serve
from portfolio.door.problems import Problem
from portfolio.models import Blob
from tests.cast import Cast
from tests.portfolio.photographs import jpeg, noisy, png

pytestmark = pytest.mark.django_db


def release(response: HttpResponseBase) -> None:
    """What `close` does, but for telling Django that the request is over: that would close the test's connection."""
    for closer in response._resource_closers:  # type: ignore[attr-defined]
        closer()


def test_the_same_bytes_are_one_blob(own_blobs: Path) -> None:
    first, second = keep(b"evidence", "text/plain"), keep(BytesIO(b"evidence"), "text/plain")
    assert first.pk == second.pk == hashlib.sha256(b"evidence").hexdigest()
    assert first.size == 8
    assert read_blob(first.sha256) == b"evidence"
    assert [p.name for p in own_blobs.rglob("*") if p.is_file()] == [first.sha256[2:]]


def test_file_and_directory_are_synced_before_the_row_is_there(monkeypatch: pytest.MonkeyPatch) -> None:
    done: list[str] = []
    real_sync, real_replace = os.fsync, os.replace

    def sync(handle: int) -> None:
        done.append("directory" if os.path.isdir(f"/proc/self/fd/{handle}") else "file")
        assert not Blob.objects.exists()
        real_sync(handle)

    def replace(source: Any, target: Any) -> None:
        done.append("rename")
        real_replace(source, target)

    monkeypatch.setattr("os.fsync", sync)
    monkeypatch.setattr("os.replace", replace)
    keep(b"evidence", "text/plain")
    assert done[0] == "file"
    assert done[-2:] == ["rename", "directory"]


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_a_fault_at_any_step_leaves_neither_file_nor_row(
    own_blobs: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    def fail(*_: Any) -> None:
        raise OSError("disk full")

    monkeypatch.setattr(f"os.{step}", fail)
    with pytest.raises(OSError, match="disk full"):
        keep(b"evidence", "text/plain")
    assert not Blob.objects.exists()
    assert [p for p in own_blobs.rglob("*") if p.is_file()] == []


@pytest.mark.parametrize("harm", ["flip", "truncate", "delete", "swap"])
def test_what_is_damaged_is_found_and_never_served(harm: str) -> None:
    blob, other = keep(b"evidence", "image/png"), keep(b"something else", "image/png")
    path = path_of(blob.sha256)
    if harm == "flip":
        path.write_bytes(b"evidencf")
    elif harm == "truncate":
        path.write_bytes(b"evid")
    elif harm == "delete":
        path.unlink()
    else:
        path.write_bytes(read_blob(other.sha256))
    with pytest.raises(BlobUnusable):
        open_blob(blob.sha256)
    assert [fault.sha256 for fault in damaged()] == [blob.sha256]
    with pytest.raises(Problem) as refused:
        serve(blob, name="x.png", inline=True)
    assert (refused.value.status, refused.value.code) == (500, "file_damaged")
    keep(b"evidence", "image/png")
    assert list(damaged()) == []


@pytest.mark.parametrize("name", ["../../etc/passwd", "a" * 63, "A" * 64, "g" * 64, ""])
def test_only_a_hash_can_be_asked_for(name: str) -> None:
    with pytest.raises(ValueError, match="not a SHA-256"):
        path_of(name)


def test_served_files_cannot_run_or_be_kept_between() -> None:
    page = serve(keep(b"<script>", "text/html"), name='a"\r\nX: y/../b.html', inline=True)
    assert page["Content-Disposition"].startswith("attachment")
    assert "\n" not in page["Content-Disposition"]
    assert page["X-Content-Type-Options"] == "nosniff"
    assert "sandbox" in page["Content-Security-Policy"]
    assert page["Cache-Control"] == "no-store"
    release(page)
    picture = serve(accept_photo(png()), name="roof.png", inline=True)
    assert picture["Content-Disposition"] == 'inline; filename="roof.png"'
    assert b"".join(picture) == png()
    release(picture)


def test_the_original_keeps_its_bytes_and_the_shown_copy_tells_nothing() -> None:
    sent = jpeg(400, 300, with_place=True)
    original = accept_photo(sent)
    assert read_blob(original.sha256) == sent
    copy = view_copy(original)
    shown = Image.open(BytesIO(read_blob(copy.sha256)))
    assert not shown.getexif()
    assert b"Secret maker" in sent
    assert b"Secret maker" not in read_blob(copy.sha256)
    assert view_copy(Blob.objects.get(pk=original.pk)).pk == copy.pk


def test_a_large_photo_is_shown_smaller() -> None:
    copy = view_copy(accept_photo(jpeg(3000, 1500)))
    assert Image.open(BytesIO(read_blob(copy.sha256))).size == (2000, 1000)


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "not_a_photo"),
        (b"GIF89a" + b"\0" * 50, "not_a_photo"),
        (b"", "not_a_photo"),
        (b"\xff\xd8\xff" + b"<html><script>", "not_a_photo"),
        (jpeg()[:-200], "not_a_photo"),
        (noisy("JPEG")[:-2000], "not_a_photo"),
        (noisy("PNG")[:-2000], "not_a_photo"),
        (png()[:40], "not_a_photo"),
        (b"\x89PNG\r\n\x1a\n" + b"\0" * 100, "not_a_photo"),
        (b"\xff\xd8\xff" + b"\0" * (15 * 1024 * 1024), "too_large"),
    ],
)
def test_what_is_no_whole_photo_is_refused(data: bytes, code: str) -> None:
    with pytest.raises(PhotoRefused) as refused:
        accept_photo(data)
    assert refused.value.code == code
    assert not Blob.objects.exists()


@pytest.mark.parametrize("side", [7_100, 13_000, 14_000])
def test_a_small_file_of_many_pixels_is_refused_before_it_is_unpacked(side: int) -> None:
    out = BytesIO()
    Image.new("1", (side, side)).save(out, "PNG")
    assert len(out.getvalue()) < 60_000
    with pytest.raises(PhotoRefused) as refused:
        accept_photo(out.getvalue())
    assert refused.value.code == "too_many_pixels"


def test_a_photo_comes_under_its_hash(cast: Cast) -> None:
    data, actor = jpeg(), cast.actor("own", "contractor")
    sha256 = hashlib.sha256(data).hexdigest()
    for _ in range(2):
        response = actor.call("PUT", f"photos/{sha256}", data)
        assert response.status_code == 200
        assert response.json() == {"sha256": sha256, "size": len(data)}
    assert actor.call("PUT", f"photos/{'0' * 64}", data).json()["code"] == "digest_mismatch"
    svg = b"<svg/>"
    refused = actor.call("PUT", f"photos/{hashlib.sha256(svg).hexdigest()}", svg)
    assert (refused.status_code, refused.json()["code"]) == (400, "not_a_photo")
    assert cast.actor("revoked", "contractor").call("PUT", f"photos/{sha256}", data).status_code == 403
