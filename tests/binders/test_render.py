"""The printed binder: the same bytes every time, found again by its contents, every text as it stands."""

import doctest
import inspect
import re
from collections.abc import Iterator
from io import BytesIO
from types import BuiltinFunctionType
from typing import Any

import pikepdf
import pytest
from reportlab.lib import rl_accel
from reportlab.pdfgen.canvas import Canvas

from commissioning.binders import pages
from commissioning.binders.render import Stopped, closing, fonts, render, words
from commissioning.binders.render.blocks import RENDERERS, Surroundings, draw
from commissioning.binders.render.fonts import INITIAL, lines_of, printable, width
from commissioning.binders.render.ink import LETTER
from commissioning.binders.render.sheet import Sheet
from commissioning.blocks import (
    BLOCKS,
    Axis,
    Band,
    Caution,
    Column,
    Limit,
    Mark,
    Panel,
    Photo,
    Plot,
    Sentence,
    Series,
    Table,
    Tick,
    TimeLine,
    TimePlot,
    Working,
)
from commissioning.blocks import WorkingLine as Line
from tests.binders import examples
from tests.portfolio.photographs import jpeg


@pytest.fixture(scope="module")
def forty() -> bytes:
    return render(examples.as_bytes(examples.frozen(40, issues=9))).pdf


@pytest.fixture(scope="module")
def read(forty: bytes) -> pages.Read:
    return pages.read(forty)


def opened(data: bytes) -> pikepdf.Pdf:
    return pikepdf.open(BytesIO(data))


def squashed(text: str) -> str:
    return re.sub(r"\s", "", text)


# --- blocks ---------------------------------------------------------------------------------------------------------
def test_every_block_can_be_drawn() -> None:
    assert set(RENDERERS) == set(BLOCKS)


EVERY_BLOCK = (
    Sentence("It conforms.", "lead"),
    Caution("Lock out the fan first.", "rotating parts"),
    Table((Column("Port"), Column("Flow", "cfm", "right")), (("Supply", "1,200"), ("Return", "1,150")), "Flows"),
    Table((Column("Port"),), (), empty="Nothing is measured yet."),
    Band("Supply at 64 %.", 90.0, None, 80.0, 64.0, 4.0, (88.0, 92.0), "does_not_conform"),
    Band("Return at 104 %.", None, 110.0, None, 104.0, None, outcome="inconclusive"),
    Plot("Flow over time.", Axis("time", "h"), Axis("flow", "cfm"), (Series("supply", (1.0, 2.0), (3.0, 4.0), True),)),
    Plot("No points.", Axis(""), Axis(""), ()),
    TimePlot(
        "Three days of EF-3, and one mark.",
        259200.0,
        (Tick(0.0, "Mon 4 May"), Tick(86400.0, "Tue 5 May")),
        (
            Panel(
                "Temperature",
                "°C",
                (TimeLine("supply air", (0.0, 60.0, 120.0), (20.0, None, 21.0)),),
                (Limit("at most 23 °C", 23.0),),
            ),
            Panel("States", "", (TimeLine("supply fan command", (0.0, 900.0), (0.0, 1.0), True),), (), True),
        ),
        (
            Mark("Mon 4 May, 06:00: the fan is started.", 21600.0, 21660.0),
            Mark("The damper stays shut.", 9.0, 99.0, True),
        ),
    ),
    Working((Line("Deviation", "d = (q − q_d) / q_d", "−4.2 %", "JCGM 106:2012"),), "From readings to verdict"),
    Photo("0" * 64, "the damper"),
)


def drawn(*blocks: Any, **around: Any) -> bytes:
    file = BytesIO()
    canvas = Canvas(file, pagesize=(LETTER.width, LETTER.height), invariant=1, **INITIAL)
    sheet = Sheet(canvas, LETTER, running="running", foot="foot")
    draw(sheet, blocks, Surroundings(**around))
    sheet.finish()
    canvas.save()
    return file.getvalue()


def test_blocks_say_on_paper_what_they_hold() -> None:
    text = squashed("".join(pages.read(drawn(*EVERY_BLOCK)).pages))
    for block in EVERY_BLOCK:
        for said in _texts(block):
            assert squashed(said) in text, (block, said)


def _texts(block: Any) -> Iterator[str]:
    if isinstance(block, str):
        if block not in ("lead", "plain", "does_not_conform", "inconclusive", "left", "right"):
            yield block
    elif isinstance(block, tuple):
        for one in block:
            yield from _texts(one)
    elif hasattr(block, "__dataclass_fields__"):
        for name in block.__dataclass_fields__:
            unseen = "empty" if isinstance(block, Table) and block.rows else "columns"
            if not (isinstance(block, Table) and name == unseen):
                yield from _texts(getattr(block, name))


def test_a_photo_is_drawn_from_its_own_bytes() -> None:
    data = drawn(Photo("a" * 64, "upright"), photos={"b" * 64: jpeg()}, views={"a" * 64: "b" * 64})
    with opened(data) as pdf:
        images = [one for one in pdf.objects if isinstance(one, pikepdf.Stream) and one.get("/Subtype") == "/Image"]
    assert len(images) == 1


def test_a_heading_never_stands_alone_at_a_foot() -> None:
    canvas = Canvas(BytesIO(), pagesize=(LETTER.width, LETTER.height), invariant=1, **INITIAL)
    for height in range(0, 700, 7):
        sheet = Sheet(canvas, LETTER, running="", foot="")
        sheet.down(height)
        sheet.heading("A heading", keep=60.0)
        assert sheet.room >= 60.0 or sheet.is_fresh


# --- text -----------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("given", "shown"),
    [
        ("× − ρ ° ± ≤ √ ν Φ ∞ “quoted” ‘so’ m³/s", "× − ρ ° ± ≤ √ ν Φ ∞ “quoted” ‘so’ m³/s"),
        ("a\u200bb", "a⟦U+200B⟧b"),
        ("abc\u202edef", "abc⟦U+202E⟧def"),
        ("\u6e2c", "⟦U+6E2C⟧"),
        ("\U0001f9ea", "⟦U+1F9EA⟧"),
        ("a\tb", "a    b"),
        ("e\u0301", "e\u0301"),
        ("<b>&amp;</b>", "<b>&amp;</b>"),
    ],
)
def test_what_cannot_be_printed_or_seen_is_shown_as_its_code(given: str, shown: str) -> None:
    assert printable(given) == shown


def test_broken_lines_lose_nothing_and_fit() -> None:
    for text in ("a b  c " * 60, "x" * 5000, "word " + "y" * 300 + " end", "é ρ " * 100, "", " ", "a\n\nb"):
        lines = lines_of(text, "Text", 9.0, 120.0)
        assert squashed("".join(lines)) == squashed(text)
        assert all(width(line, "Text", 9.0) <= 120.0 + 9.0 for line in lines)


def test_a_hundred_thousand_characters_without_a_space_are_broken_at_once() -> None:
    assert sum(map(len, lines_of("w" * 100_000, "Text", 9.0, 300.0))) == 100_000


def test_no_text_is_read_as_markup() -> None:
    """Nothing of the library that reads markup is used, so there is nothing to escape from."""
    import commissioning.binders.render as room

    sources = [inspect.getsource(module) for module in vars(room).values() if inspect.ismodule(module)]
    assert sources
    assert not any("platypus" in source or "Paragraph" in source for source in sources)


@pytest.mark.parametrize("module", [closing, fonts, words], ids=["closing", "fonts", "words"])
def test_the_examples_in_the_docstrings_hold(module: Any) -> None:
    told = doctest.testmod(module)
    assert told.attempted > 0
    assert told.failed == 0


# --- the whole ------------------------------------------------------------------------------------------------------
def test_drawn_twice_it_is_the_same_bytes_whoever_asked() -> None:
    held = examples.frozen(3)
    first = render(examples.as_bytes(held))
    again = render(examples.as_bytes({**held, "asked": {"by": "Somebody else", "at": "2030-01-01T00:00:00+00:00"}}))
    assert first.pdf == again.pdf
    assert "Somebody" not in "".join(pages.read(again.pdf).pages)


def test_it_opens_in_a_process_of_its_own_with_the_same_bytes() -> None:
    """And without the part of ReportLab in C, which an installation may lack: it draws sooner, and not otherwise."""
    import hashlib
    import subprocess
    import sys

    assert isinstance(rl_accel.escapePDF, BuiltinFunctionType)
    script = (
        "import hashlib, sys; sys.modules['_rl_accel'] = None; from commissioning.binders.render import render;"
        "print(hashlib.sha256(render(sys.stdin.buffer.read()).pdf).hexdigest(), 'django.db' in sys.modules)"
    )
    raw = examples.as_bytes(examples.frozen(2))
    child = subprocess.run([sys.executable, "-c", script], input=raw, capture_output=True, check=True)
    assert child.stdout.decode().split() == [hashlib.sha256(render(raw).pdf).hexdigest(), "False"]


def test_each_line_of_the_contents_leads_to_the_page_that_it_names(forty: bytes, read: pages.Read) -> None:
    with opened(forty) as pdf:
        numbers = {page.obj.objgen: index for index, page in enumerate(pdf.pages, start=1)}
        links = [numbers[link.Dest[0].objgen] for page in pdf.pages for link in page.obj.get("/Annots", [])]
    lines = _contents(read)
    assert links == [number for _, number in lines]
    for title, number in lines:
        start = title.rstrip("…")
        assert start in read.pages[number - 1] or start in ("Cover", "Units"), (title, number)


def _contents(read: pages.Read) -> list[tuple[str, int]]:
    """(title, page) of each line: what is not a number is a title, or a note beside it."""
    found: list[tuple[str, int]] = []
    texts = [page for page in read.pages[1:4] if page.startswith("Contents")]
    for page in texts:
        held: list[str] = []
        for line in page.split("\n")[1:]:
            if line == "Contents":  # the corner: what follows is the edge of the page
                break
            if line.isdigit():
                if held:
                    found.append((held[0], int(line)))
                held = []
            else:
                held.append(line)
    return found


def test_pages_are_numbered_from_first_to_last(read: pages.Read) -> None:
    for number, text in enumerate(read.pages[1:], start=2):
        assert f"page {number} of \n{len(read.pages)}" in text


def test_the_bookmarks_name_every_unit_and_every_issue(read: pages.Read) -> None:
    tags = [one["tag"] for one in examples.many(40)["positions"]]
    bookmarks = read.bookmarks
    assert bookmarks[:4] == ["Cover", "How to read it", "Summary", "Units"]
    assert [one for one in bookmarks if one in tags] == tags
    assert sum(one.startswith("Issue ") for one in bookmarks) == 9
    assert bookmarks[-1] == "Manifest of the evidence"


def test_the_tag_stands_at_the_corner_of_every_page_of_its_unit(read: pages.Read) -> None:
    lines = _contents(read)
    first = next(number for title, number in lines if title == "ERV-2")
    after = next(number for _, number in lines if number > first)
    assert all("ERV-2" in read.pages[number - 1].split("\n") for number in range(first, after))


def test_there_is_no_action_no_address_and_no_font_that_is_not_embedded(forty: bytes) -> None:
    with opened(forty) as pdf:
        for thing in pdf.objects:
            if isinstance(thing, pikepdf.Dictionary):
                assert "/URI" not in thing
                assert thing.get("/S") not in ("/URI", "/Launch", "/JavaScript", "/GoToR", "/SubmitForm")
                if thing.get("/Type") == "/Font":
                    assert "/FontFile2" in thing.FontDescriptor
        assert "/OpenAction" not in pdf.Root
        assert "/Names" not in pdf.Root or "/JavaScript" not in pdf.Root.Names


def test_progress_is_told_and_can_stop_it() -> None:
    told: list[tuple[int, int]] = []

    def tell(done: int, whole: int) -> bool:
        told.append((done, whole))
        return done < 2

    with pytest.raises(Stopped):
        render(examples.as_bytes(examples.frozen(3)), tell)
    assert told == [(1, 10), (2, 10)]
    told.clear()
    render(examples.as_bytes(examples.frozen(3)), lambda done, whole: not told.append((done, whole)))  # type: ignore[func-returns-value]
    assert told[-1] == (10, 10)


@pytest.mark.parametrize("project", ["ov-2601", "pw-2604"])
def test_the_paper_is_that_of_the_country_whose_units_it_prints(project: str) -> None:
    held = examples.frozen(1, project=project)
    with opened(render(examples.as_bytes(held)).pdf) as pdf:
        wide = float(pdf.pages[0].mediabox[2])
    assert wide == pytest.approx(612.0 if held["judging"]["conventions"]["display"] == "ip" else 595.28, abs=0.1)


def test_the_methods_tell_the_equations_of_every_kind_of_record(read: pages.Read) -> None:
    (told,) = (page for page in read.pages if "Methods by which air was measured" in page and "Contents" not in page)
    following = squashed(" ".join(read.pages[read.pages.index(told) :]))
    for title, equation in (
        ("Exchanger: sensible closure", "m_e"),
        ("Motors and electrical readings: current unbalance", "max|I_i"),
        ("Outlets and branches: outlet airflow", "mean(readings)"),
        ("Pressures: external static", "p_outlet"),
    ):
        assert squashed(title) in following
        assert squashed(equation) in following


def test_every_instrument_of_a_record_is_named(read: pages.Read) -> None:
    """An exchanger is read with two probes and a hygrometer."""
    text = squashed(" ".join(read.pages))
    assert re.search(squashed("Temperature probe TP-3 Q") + r"\d+," + squashed("Hygrometer HM-2 Q"), text)
