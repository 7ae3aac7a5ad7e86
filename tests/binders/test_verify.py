"""A binder says what it is: untouched it verifies, and one changed byte anywhere is found and named."""

import copy
import json
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import suppress
from io import BytesIO
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from commissioning.binders import document, pages
from commissioning.binders import verify as verifying
from commissioning.binders.render import Rendered, render
from commissioning.binders.verify import verify
from commissioning.dossier.canonical import canonical_json, sha256_hex
from tests.binders import examples
from tests.portfolio.photographs import jpeg

ROOT = Path(__file__).resolve().parents[2]
PHOTO = jpeg()
Held = dict[str, Any]


def whole() -> Held:
    """Two units with all that a binder can hold."""
    held = examples.frozen(2, issues=2)
    good = held["manifest"][-1]
    frame = json.loads(held["judging"]["envelopes"][-1])
    raw = json.dumps(
        {**frame, "id": "00000000-0000-4000-8000-000000000001", "supersedes": [], "payload": {"odd": True}}
    )
    line = {
        **good,
        "id": "00000000-0000-4000-8000-000000000001",
        "session": "",
        "is_final": False,
        "sha256": document.raw_hash(raw),
        "held": "set_aside",
        "superseded": [],
    }
    held["manifest"].append(line)
    problem = {"pointer": "/payload", "value": "", "reason": "It cannot be read.", "remedy": ""}
    held["set_aside"] = [{"id": line["id"], "raw": raw, "problems": [problem]}]
    photo = {"sha256": "0" * 64, "view": sha256_hex(PHOTO), "missing": "", "caption": "the damper"}
    held["photos"] = [{**photo, "belongs_to": "issue 1"}]
    return held


@pytest.fixture(scope="module")
def held() -> Held:
    return whole()


@pytest.fixture(scope="module")
def pdf(held: Held) -> bytes:
    return render(canonical_json(held), photos={sha256_hex(PHOTO): PHOTO}).pdf


@pytest.fixture(autouse=True, scope="module")
def drawn_once(held: Held, pdf: bytes) -> Iterator[None]:
    """Where only the file was changed, its document gives the same bytes again (test_render.py): so once for all."""
    untouched = document.handed_over(held)
    made = render(untouched, photos={sha256_hex(PHOTO): PHOTO})

    def draw(frozen: bytes, progress: Any = None, photos: Any = None) -> Rendered:
        is_same = frozen == untouched and photos == {sha256_hex(PHOTO): PHOTO}
        return made if is_same else render(frozen, progress, photos)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(verifying, "render", draw)
        yield


def with_attachment(pdf: bytes, name: str, data: bytes) -> bytes:
    """The same file with another attachment of that name: its pages are as they were."""
    with pikepdf.open(BytesIO(pdf)) as opened:
        opened.attachments[name] = pikepdf.AttachedFileSpec(opened, data, filename=name)
        out = BytesIO()
        opened.save(out)
    return out.getvalue()


def items(pdf: bytes) -> list[str]:
    return [one.item for one in verify(pdf).differences]


def test_untouched_it_is_the_same(pdf: bytes) -> None:
    report = verify(pdf)
    assert report.differences == []
    assert report.counted["judgements"] > 10


def test_the_changes_are_fifty_at_least() -> None:
    assert len(IN_DOCUMENT) + len(IN_PAGES) + len(AROUND) + len(FLIPS) >= 50


# --- one character in the frozen document ------------------------------------------------------------------------
def put(*path: Any, to: Any = None) -> Callable[[Held], None]:
    """Change what stands at this path: one character of a text, one step of a number, or to what is named."""

    def change(held: Any) -> None:
        here = held
        for step in path[:-1]:
            here = here[step]
        value = here[path[-1]]
        here[path[-1]] = to if to is not None else _other(value)

    return change


def _other(value: Any) -> Any:
    if isinstance(value, bool):
        return not value
    if isinstance(value, int):
        return value + 1
    if isinstance(value, float):
        return value * (1 + 1e-12)
    last = value[-1]
    return value[:-1] + ("1" if last != "1" else "2" if last.isdigit() else "x")


def in_raw(index: int, before: str, after: str) -> Callable[[Held], None]:
    def change(held: Held) -> None:
        raws = held["judging"]["envelopes"]
        assert before in raws[index]
        raws[index] = raws[index].replace(before, after, 1)

    return change


POSITION, MANIFEST = ("judged", "positions", 0), ("manifest", 0)
FIRST = "evidence "
IN_DOCUMENT: dict[str, tuple[Callable[[Held], None], str]] = {
    "title": (put("title"), "page 1"),
    "as of": (put("as_of", to="2026-06-12T16:41:00-05:00"), "page 1"),
    "project": (put("project", "name"), "page 1"),
    "code": (put("project", "code"), "page 1"),
    "owner": (put("owner", "name"), "page 1"),
    "firm": (put("firm", "name"), "page 1"),
    "building": (put("buildings", 1, "name"), "page 1"),
    "address": (put("buildings", 0, "site", "address"), "page 1"),
    "tag": (put("units", 0, "tag"), "unit ERV-2"),
    "location": (put("units", 0, "location"), "page 5"),
    "serial": (put("units", 0, "machines", 0, "serial"), "page 5"),
    "since": (put("units", 0, "machines", 0, "since", to="2026-04-07"), "page 5"),
    "serves": (put("units", 0, "serves", 0), "page 5"),
    "standing": (put("units", 0, "standing", "sentence"), "page 5"),
    "issue title": (put("issues", 0, "title"), "bookmarks"),
    "issue company": (put("issues", 0, "company"), "binder.json"),
    "issue state": (put("issues", 0, "state_in_words"), "binder.json"),
    "issue story": (put("issues", 0, "story", 1, "text"), "binder.json"),
    "issue story, who": (put("issues", 1, "story", 1, "who"), "binder.json"),
    "issue cause": (put("issues", 0, "root_cause"), "binder.json"),
    "issue check": (put("issues", 0, "checks", 0, "outcome", to="inconclusive"), "issue 1, check"),
    "set aside, why": (put("set_aside", 0, "problems", 0, "reason"), "binder.json"),
    "manifest hash": (put(*MANIFEST, "sha256"), FIRST),
    "manifest id": (put(*MANIFEST, "id"), FIRST),
    "manifest position": (put(*MANIFEST, "position", to="nowhere"), FIRST),
    "manifest observed": (put(*MANIFEST, "observed_at", to="2026-05-12T14:00:01-05:00"), FIRST),
    "manifest received": (put(*MANIFEST, "received_at", to="2026-05-12T14:01:00-05:00"), "binder.json"),
    "manifest observer": (put(*MANIFEST, "observed_by"), "binder.json"),
    "manifest session": (put(*MANIFEST, "session"), FIRST),
    "manifest final": (put(*MANIFEST, "is_final"), FIRST),
    "manifest superseded": (put(*MANIFEST, "superseded", to=[{"by": "x", "reason": "none"}]), FIRST),
    "manifest held": (put(*MANIFEST, "held", to="set_aside"), "manifest"),
    "raw reading": (in_raw(0, '"values":[', '"values":[1'), FIRST),
    "raw space": (in_raw(0, '{"', '{ "'), FIRST),
    "raw grade": (in_raw(1, '"measured"', '"witnessed"'), FIRST),
    "raw session": (in_raw(1, '"AL-1"', '"AL-2"'), FIRST),
    "raw position": (in_raw(2, '"position":"', '"position":"f'), FIRST),
    "raw cut": (in_raw(0, "}", ""), FIRST),
    "raw set aside": (put("set_aside", 0, "raw"), "evidence 00000000"),
    "set aside id": (put("set_aside", 0, "id"), "evidence 00000000"),
    "verdict": (put(*POSITION, "judgements", 0, "verdict", to="inconclusive"), "judgement ERV-1 design_airflow supply"),
    "margin": (put(*POSITION, "judgements", 0, "margin"), "judgement ERV-1 design_airflow supply"),
    "limit": (put(*POSITION, "judgements", 1, "low"), "judgement ERV-1 design_airflow return"),
    "clause": (put(*POSITION, "judgements", 1, "clause"), "judgement ERV-1 design_airflow return"),
    "probability": (put(*POSITION, "judgements", 2, "conformance_probability"), "judgement ERV-1 design"),
    "fact": (put(*POSITION, "judgements", 0, "facts", "design_m3_s"), "judgement ERV-1 design_airflow supply"),
    "inputs hash": (put(*POSITION, "inputs_hash"), "unit ERV-1"),
    "airflow": (put(*POSITION, "measurements", 0, "airflow_m3_s"), "measurement ERV-1"),
    "uncertainty": (put(*POSITION, "measurements", 1, "expanded_uncertainty_m3_s"), "measurement ERV-1"),
    "budget": (put(*POSITION, "measurements", 0, "budget", 0, "share"), "measurement ERV-1"),
    "method": (put(*POSITION, "measurements", 0, "method", to="hood"), "measurement ERV-1"),
    "judgement lost": (lambda held: held["judged"]["positions"][0]["judgements"].pop(), "judgement ERV-1"),
    "design": (put("judging", "positions", 0, "design", "ports", "supply", "airflow", "value"), "judgement ERV-1"),
    "elevation": (put("judging", "positions", 1, "elevation", "value", to=900.0), "measurement ERV-2"),
    "rule": (put("judging", "conventions", "decision_rule", to="guarded_acceptance"), "judgement ERV-1"),
    "tolerance": (put("judging", "conventions", "mass_balance_allowance", to=0.2), "judgement ERV-1 mass_balance"),
    "accuracy": (put("judging", "instruments", 0, "accuracy", "relative"), "measurement"),
    "photo": (put("photos", 0, "view"), "photo-"),
    "caption": (put("photos", 0, "caption"), "binder.json"),
    "rule version": (put("made_with", "rules", "mass_balance"), "binder.json"),
}  # fmt: skip


@pytest.mark.parametrize("name", IN_DOCUMENT)
def test_a_change_in_the_document_is_found_and_named(held: Held, pdf: bytes, name: str) -> None:
    change, item = IN_DOCUMENT[name]
    other = copy.deepcopy(held)
    change(other)
    other.pop("asked")
    assert canonical_json(other) != document.handed_over(held)
    found = items(with_attachment(pdf, "binder.json", canonical_json(other)))
    assert any(one.startswith(item) for one in found), found
    assert "binder.json" in found  # its hash is not the one on the cover


@pytest.mark.parametrize("before", [b'"title":', b'"schema":"ventfolio/binder/1"', b'"manifest":', b"{"])
def test_a_document_that_cannot_be_read_says_where(pdf: bytes, before: bytes) -> None:
    frozen = pages.read(pdf).attachments["binder.json"]
    with pytest.raises((document.Unreadable, pages.NoBinder)):
        verify(with_attachment(pdf, "binder.json", frozen.replace(before, before[:-1] + b"#", 1)))


def test_another_way_of_writing_the_same_document_is_found(pdf: bytes) -> None:
    frozen = pages.read(pdf).attachments["binder.json"]
    spaced = json.dumps(json.loads(frozen), ensure_ascii=False).encode()
    assert "binder.json" in items(with_attachment(pdf, "binder.json", spaced))


# --- one byte on a page, or around the pages ---------------------------------------------------------------------
def on_page(number: int, before: bytes, after: bytes) -> Callable[[bytes], bytes]:
    def change(data: bytes) -> bytes:
        with pikepdf.open(BytesIO(data)) as opened:
            page = opened.pages[number - 1]
            content = page.Contents.read_bytes()
            assert before in content
            page.Contents = opened.make_stream(content.replace(before, after, 1))
            out = BytesIO()
            opened.save(out)
        return out.getvalue()

    return change


IN_PAGES: dict[str, tuple[Callable[[bytes], bytes], str]] = {
    "a word on the cover": (on_page(1, b"Closeout", b"Closeouz"), "page 1"),
    "a word of the contents": (on_page(2, b"Summary", b"Summarz"), "page 2"),
    "a heading": (on_page(3, b"How to", b"How so"), "page 3"),
    "a number": (on_page(5, b"600", b"608"), "page 5"),
    "a verdict": (on_page(5, b"conforms", b"confirms"), "page 5"),
    "a bar of a band": (on_page(5, b" l S", b" l s"), "page 5"),
    "an ink": (on_page(5, b".88 .88 .88 rg", b".98 .88 .88 rg"), "page 5"),
    "a unit in the summary": (on_page(4, b"ERV-1", b"ERV-8"), "page 4"),
}


@pytest.mark.parametrize("name", IN_PAGES)
def test_a_change_on_a_page_is_found_and_the_page_named(pdf: bytes, name: str) -> None:
    change, item = IN_PAGES[name]
    assert items(change(pdf)) == [item]


def bookmark(data: bytes) -> bytes:
    with pikepdf.open(BytesIO(data)) as opened:
        with opened.open_outline() as outline:
            outline.root[2].title = "Summarz"
        out = BytesIO()
        opened.save(out)
    return out.getvalue()


def without_a_page(data: bytes) -> bytes:
    with pikepdf.open(BytesIO(data)) as opened:
        del opened.pages[6]
        out = BytesIO()
        opened.save(out)
    return out.getvalue()


def another_author(data: bytes) -> bytes:
    with pikepdf.open(BytesIO(data)) as opened:
        opened.docinfo["/Author"] = "Somebody"
        out = BytesIO()
        opened.save(out)
    return out.getvalue()


AROUND: dict[str, tuple[Callable[[bytes], bytes], str]] = {
    "bookmark": (bookmark, "bookmarks"),
    "page": (without_a_page, "pages"),
    "author": (another_author, "file"),
    "photo": (
        lambda data: with_attachment(data, f"photo-{sha256_hex(PHOTO)}.jpg", PHOTO[:-3] + b"x" + PHOTO[-2:]),
        "photo-",
    ),
    "another attachment": (lambda data: with_attachment(data, "more.txt", b"x"), "more.txt"),
    "the end of the file": (lambda data: data + b"\n", "file"),
}


@pytest.mark.parametrize("name", AROUND)
def test_a_change_around_the_pages_is_found_and_named(pdf: bytes, name: str) -> None:
    change, item = AROUND[name]
    found = items(change(pdf))
    assert any(one.startswith(item) for one in found), found


FLIPS = range(1, 21)


@pytest.mark.parametrize("part", FLIPS)
def test_a_byte_flipped_anywhere_in_the_file_is_found(pdf: bytes, part: int) -> None:
    where = len(pdf) * part // 21
    flipped = pdf[:where] + bytes([pdf[where] ^ 0x15]) + pdf[where + 1 :]
    with suppress(document.Unreadable, pages.NoBinder):  # found too: it is no binder any more
        assert verify(flipped).differences


# --- the command -------------------------------------------------------------------------------------------------
def command(*arguments: str) -> subprocess.CompletedProcess[str]:
    script = (
        "import os, socket, sys; os.environ['DJANGO_SETTINGS_MODULE'] = 'portfolio.settings';"
        "os.environ['DATABASE_URL'] = 'sqlite:////nowhere/at/all.sqlite3';"
        "socket.socket.connect = None;"
        "from django.core.management import execute_from_command_line as run; run(['manage.py', *sys.argv[1:]])"
    )
    given = [sys.executable, "-c", script, "verify_binder", *arguments]
    return subprocess.run(given, cwd=ROOT, capture_output=True, text=True, check=False)


def test_the_command_needs_neither_database_nor_network(pdf: bytes, tmp_path: Path) -> None:
    file = tmp_path / "binder.pdf"
    file.write_bytes(pdf)
    told = command(str(file))
    assert (told.returncode, told.stderr) == (0, "")
    assert told.stdout.startswith("The same: ")


def test_the_command_names_what_differs(pdf: bytes, tmp_path: Path) -> None:
    file = tmp_path / "binder.pdf"
    file.write_bytes(IN_PAGES["a number"][0](pdf))
    told = command(str(file), "--json")
    assert told.returncode == 1
    report = json.loads(told.stdout)
    assert [one["item"] for one in report["differences"]] == ["page 5"]


@pytest.mark.parametrize("data", [b"", b"no PDF", b"%PDF-1.4\n%%EOF\n"])
def test_the_command_says_when_it_cannot_read(data: bytes, tmp_path: Path) -> None:
    file = tmp_path / "binder.pdf"
    file.write_bytes(data)
    assert command(str(file)).returncode == 3


def test_a_call_that_cannot_be_understood_verifies_nothing() -> None:
    assert command().returncode == 3
    assert command("nowhere.pdf").returncode == 3
