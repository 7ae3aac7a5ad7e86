"""Two hundred strings that mean something elsewhere, in every field that a person fills: here they are text."""

import copy
import socket
from collections.abc import Callable, Iterator
from io import BytesIO
from typing import Any

import pikepdf
import pytest

from commissioning.binders import document, pages
from commissioning.binders.render import render
from commissioning.binders.render.fonts import printable
from commissioning.dossier.canonical import canonical_json
from tests.binders import examples
from tests.binders.test_render import squashed

_TAGS = (
    *("b", "i", "u", "font", "para", "img", "a", "br", "super", "sub", "script", "style", "seq", "onDraw", "index"),
    *("unichar", "greek", "strike", "nobr"),
)
_ADDRESSES = (
    *("http://127.0.0.1:9/x.png", "https://127.0.0.1:9/", "ftp://127.0.0.1/x", "file:///etc/passwd", "/etc/hostname"),
    *("javascript:app.alert(1)", "data:image/png;base64,AAAA", "mailto:a@b.example", "//127.0.0.1/share"),
)
_CALLS = (
    *("__import__('os').system('id')", "[[[getattr(pow,Attacker('__globals__'))['os']]]]", "{{7*7}}", "%(name)s"),
    *("${x}", "%s%n%x"),
)
_UNICODE = (
    *("\u202egnp.exe", "a\u200bb\ufeffc", "\u0301\u0301\u0301", "\U0001f600\U0001f9ea", "\u6e2c\u8a66"),
    *("\u05e9\u05dc\u05d5\u05dd", "\u00a0\u00a0", "\u2028line", "A\u030a", "ⅷ ½ ﬁ Å"),
)
_PDF = (
    *("(un(balanced", ") Tj ET Q", "\\) \\( \\\\ \\n \\101", "endstream endobj", "<< /S /URI /URI (x) >>"),
    *("%%EOF", "BT /F1 9 Tf", "(" * 200, "\\" * 200),
)
_ODD = (
    *("5 <!-- hidden --> 6", "a <b and c> d", "&lt;&amp;&#0;&bogus;", "<![CDATA[x]]>", "<?xml?>", "]]>", "'\"`"),
    *("<", ">", "&", "<" * 200, "word " * 70, "w" * 400, "\ttab", "two\nlines", "  spaces   kept  "),
    *("=cmd|' /C calc'!A0", "+1+1", "@SUM(1)", "-5.2"),
)


def strings() -> list[str]:
    found = list(_ODD + _PDF + _UNICODE + _CALLS)
    for tag in _TAGS:
        found += [f"<{tag}>", f"</{tag}>", f"<{tag}/>", f"x <{tag}>kept?</{tag}> y", f"<{tag} <{tag}"]
        found.append(f'<{tag} name="{"q" * 40}">')
    for address in _ADDRESSES:
        found += [f'<img src="{address}"/>', f'<a href="{address}">x</a>', f"<link destination='{address}'/>", address]
        found.append(f'<font color="{address}">x</font>')
    found += [f'<font color="{call}">x</font>' for call in _CALLS]
    return list(dict.fromkeys(found))


STRINGS = strings()
FIELDS: dict[str, Callable[[Any, str], None]] = {}


def field(put: Callable[[Any, str], None]) -> Callable[[Any, str], None]:
    FIELDS[put.__name__] = put
    return put


def _plain_fields() -> None:
    """One function per field, written as its path."""
    for path in (
        "title", "project name", "project code", "owner name", "firm name", "buildings 0 name",
        "buildings 0 site address",
        "units 0 kind", "units 0 location", "units 0 also_called 0", "units 0 serves 0", "units 0 machines 0 serial",
        "units 0 machines 0 maker", "units 0 machines 0 model", "units 0 standing sentence", "issues 0 title",
        "issues 0 root_cause", "issues 0 company", "issues 0 assignee", "issues 0 state_in_words", "issues 0 priority",
        "issues 0 checks 0 tag", "issues 0 story 0 who", "issues 0 story 0 text", "issues 0 story 0 act",
        "manifest 0 observed_by", "manifest 0 sent_by", "manifest 0 session", "photos 0 caption", "photos 0 missing",
        "set_aside 0 problems 0 reason", "not_tested 0 text", "judging conventions default_tolerance clause",
        "judging instruments 0 name", "judging instruments 0 serial", "judging instruments 0 kind",
        "judging instruments 0 calibrations 0 certificate", "judged positions 0 judgements 0 clause",
        "judged positions 0 measurements -1 session", "judged positions 0 measurements -1 remarks 0",
    ):  # fmt: skip
        FIELDS[path] = _putter(path.split())


def _putter(steps: list[str]) -> Callable[[Any, str], None]:
    def put(held: Any, text: str) -> None:
        here = held
        for step in steps[:-1]:
            here = here[int(step)] if isinstance(here, list) else here[step]
        if isinstance(here, list):
            here[:1] = [text]
        else:
            here[steps[-1]] = text

    return put


_plain_fields()


@field
def tag(held: Any, text: str) -> None:
    held["units"][0]["tag"] = held["not_tested"][0]["tag"] = held["manifest"][0]["tag"] = text


@pytest.fixture(scope="module")
def plain() -> dict[str, Any]:
    """One unit with everything that a person can have written about it."""
    held = examples.frozen(1, issues=1)
    held["buildings"] = held["buildings"][1:]
    judged = held["judged"]["positions"][0]  # two judgements of two kinds of record, and what they rest on
    first, last = judged["measurements"][0], judged["measurements"][-1]
    judged["measurements"] = [first, last]
    resting = [one for one in judged["judgements"] if last["envelope"] in one["rests_on"]]
    judged["judgements"] = [judged["judgements"][0], resting[0]]
    line = {**held["manifest"][-1], "id": "00000000-0000-4000-8000-000000000001", "held": "set_aside"}
    held["manifest"].append(line)
    problem = {"pointer": "/payload", "value": "", "reason": "unreadable", "remedy": ""}
    held["set_aside"] = [{"id": line["id"], "raw": "{}", "problems": [problem]}]
    photo = {"sha256": "0" * 64, "view": None, "missing": "it has not been received", "caption": "damper"}
    held["photos"] = [{**photo, "belongs_to": "issue 1"}]
    position = held["units"][0]["position"]
    held["not_tested"] = [
        {
            "position": position,
            "tag": "x",
            "requirement": "mass_balance",
            "port": "",
            "code": "not_due",
            "text": "later",
        }
    ]
    return held


@pytest.fixture(autouse=True)
def no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*args: Any) -> None:
        raise AssertionError("a socket was opened")

    monkeypatch.setattr(socket.socket, "connect", refuse)


def test_there_are_two_hundred_strings() -> None:
    assert len(STRINGS) >= 200


@pytest.mark.parametrize("part", range(8))
def test_every_string_in_every_field_is_printed_as_it_stands(plain: dict[str, Any], part: int) -> None:
    for given in STRINGS[part::8]:
        held, wanted = copy.deepcopy(plain), []
        for number, put in enumerate(FIELDS.values()):
            text = f"F{number}b{given}F{number}e"
            put(held, text)
            wanted.append(text)
        pdf = render(canonical_json(held)).pdf
        said = squashed("".join(_without_edges(pages.read(pdf).pages)))
        missing = [one for one in wanted if squashed("".join(map(printable, one.split("\n")))) not in said]
        assert missing == [], given
        _is_harmless(pdf)


def _without_edges(texts: list[str]) -> Iterator[str]:
    """What runs on from page to page, without head and foot between, and without the contents."""
    for text in texts:
        if not text.startswith("Contents"):
            lines = text.split("\n")
            yield "\n".join(lines[:-6] if any(line.startswith("page ") for line in lines[-4:]) else lines)


def _is_harmless(pdf: bytes) -> None:
    with pikepdf.open(BytesIO(pdf)) as opened:
        for thing in opened.objects:
            if isinstance(thing, pikepdf.Stream):
                assert thing.get("/Subtype") != "/Image"
            elif isinstance(thing, pikepdf.Dictionary):
                assert "/URI" not in thing
                assert "/A" not in thing
                assert thing.get("/S") not in ("/URI", "/JavaScript", "/Launch")
        assert list(opened.attachments) == ["binder.json"]


def test_a_text_of_a_hundred_thousand_characters_ends(plain: dict[str, Any]) -> None:
    held = copy.deepcopy(plain)
    held["issues"][0]["story"][0]["text"] = "w" * 100_000
    held["units"][0]["location"] = "two words " * 5_000
    text = "".join(pages.read(render(canonical_json(held)).pdf).pages)
    assert text.count("w") >= 100_000
    assert text.count("two words") >= 4_000


def test_the_bookmarks_and_the_title_hold_the_text_too(plain: dict[str, Any]) -> None:
    held = copy.deepcopy(plain)
    held["title"] = "(a) <b>\\ \u202e"
    FIELDS["tag"](held, "ERV <1> (x)")
    pdf = render(canonical_json(held)).pdf
    assert "ERV <1> (x)" in pages.read(pdf).bookmarks
    with pikepdf.open(BytesIO(pdf)) as opened:
        assert str(opened.docinfo["/Title"]) == "(a) <b>\\ ⟦U+202E⟧"


def test_the_document_itself_is_attached_as_it_is(plain: dict[str, Any]) -> None:
    attached = pages.read(render(canonical_json(plain)).pdf).attachments["binder.json"]
    assert attached == document.handed_over(plain)
