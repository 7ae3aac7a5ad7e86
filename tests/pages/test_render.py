"""Blocks as HTML: every block has its function, everything is escaped, and a verdict is told by shape and word."""

import html
import re
from dataclasses import fields, is_dataclass
from html.parser import HTMLParser
from typing import Any

import pytest
from django.conf import settings

from commissioning.blocks import (
    BLOCKS,
    Axis,
    Band,
    Block,
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
    WorkingLine,
)
from commissioning.pages.render import RENDERERS, render, render_all
from commissioning.pages.render.band import band_in_table, no_band, scale_of_stack
from commissioning.pages.render.marks import outcome
from tests.pages.reading import words

EVIL = "\"'><script>alert(1)</script><img src=x onerror=alert(2)>&amp;{{ 7 }}\u202e"


def band(**changes: Any) -> Band:
    held: dict[str, Any] = {
        "label": "Supply air measured at 79 % of design.", "low": 90.0, "high": 110.0, "minimum": None,
        "measured": 79.0, "uncertainty": 4.0, "outcome": "does_not_conform",
    }  # fmt: skip
    return Band(**held | changes)


def test_every_block_has_its_function() -> None:
    assert set(RENDERERS) == set(BLOCKS)


ONE_OF_EACH: list[Block] = [
    Sentence(EVIL, "lead"),
    Caution(EVIL, EVIL),
    Table((Column(EVIL, EVIL, "right"), Column("b")), ((EVIL, "x"),), EVIL, EVIL),
    Table((Column("a"),), (), "", EVIL),
    band(label=EVIL),
    Plot(EVIL, Axis(EVIL, EVIL), Axis(EVIL), (Series(EVIL, (0.0, 1.0), (2.0, 3.0), True),)),
    Plot(EVIL, Axis("x"), Axis("y"), ()),
    TimePlot(
        EVIL,
        60.0,
        (Tick(0.0, EVIL),),
        (
            Panel(EVIL, EVIL, (TimeLine(EVIL, (0.0, 9.0), (1.0, 2.0)),), (Limit(EVIL, 3.0),)),
            Panel(EVIL, EVIL, (TimeLine(EVIL, (0.0, 9.0), (1.0, None), True),), (), True),
        ),
        (Mark(EVIL, 1.0, 2.0, True),),
    ),
    Working((WorkingLine(EVIL, EVIL, EVIL, EVIL),), EVIL),
    Photo("a" * 64, EVIL),
    Photo(EVIL, EVIL),
]


class Seen(HTMLParser):
    """What a browser would make of it."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs


@pytest.mark.parametrize("block", ONE_OF_EACH, ids=lambda b: type(b).__name__)
def test_text_is_never_markup(block: Block) -> None:
    seen = Seen()
    seen.feed(render(block))
    assert "script" not in seen.tags
    assert [name for name, _ in seen.attributes if name.startswith("on") or name == "style"] == []
    assert all(value == f"/photos/{'a' * 64}" for name, value in seen.attributes if name in ("src", "href"))


def test_what_is_not_shown_of_a_block_would_be_missed() -> None:
    """Every text of every block reaches the page."""
    for block in ONE_OF_EACH:
        if isinstance(block, Photo) or (isinstance(block, Plot) and not block.series):
            continue
        said = html.unescape(render(block))
        for value in _texts(block):
            if isinstance(block, Table) and (value == block.empty if block.rows else value == "a"):
                continue
            assert value in said, (block, value)


def _texts(value: Any, name: str = "") -> list[str]:
    if isinstance(value, str):
        return [value] if value and name not in ("weight", "align", "outcome") else []
    if isinstance(value, tuple):
        return [text for item in value for text in _texts(item)]
    if is_dataclass(value):
        return [text for field in fields(value) for text in _texts(getattr(value, field.name), field.name)]
    return []


def test_a_sentence_knows_its_weight() -> None:
    assert render_all([Sentence("It conforms.", "lead"), Sentence("Aside.", "aside")]) == (
        '<p class="lead">It conforms.</p>\n<p class="aside">Aside.</p>'
    )


def test_a_table_has_headed_columns_with_the_unit_once() -> None:
    made = render(Table((Column("Port"), Column("Airflow", "cfm", "right")), (("Supply", "1,000"),), "Four totals"))
    assert made.count("cfm") == 1
    assert '<th scope="col" class="figures">Airflow <span class="unit">cfm</span></th>' in made
    assert '<td class="figures">1,000</td>' in made


# --- the band ----------------------------------------------------------------------------------------------------
def shapes(markup: str, name: str) -> list[dict[str, float]]:
    """Attributes of the shapes of one class, as numbers."""
    found = re.findall(rf'<(?:line|circle|rect|text|path) class="{name}"([^>]*)/?>', markup)
    return [{k: float(v) for k, v in re.findall(r'(\w+)="(-?[\d.]+)"', one)} for one in found]


def test_a_band_is_drawn_on_a_scale_of_thirty_per_cent() -> None:
    made = band_in_table(band())
    assert 'height="24"' in made
    (dot,) = shapes(made, "dot bad")
    (tolerance,) = shapes(made, "tolerance")
    assert dot["cx"] == pytest.approx(10 + 9 * 3)  # 3 pixels a per cent from 70 on
    assert (tolerance["x"], tolerance["width"]) == (70.0, 60.0)
    low, high = sorted(line["x1"] for line in shapes(made, "whisker") if line["x1"] == line["x2"])
    assert (low, high) == (25.0, 49.0)


def test_the_alternative_of_a_band_is_its_sentence() -> None:
    for made in (render(band()), band_in_table(band())):
        assert 'role="img"' in made
        assert "<title>Supply air measured at 79 % of design.</title>" in made


def test_an_open_side_has_no_bar() -> None:
    assert len(shapes(band_in_table(band(high=None)), "side")) == 1
    assert shapes(band_in_table(band(low=None, high=None)), "tolerance") == []


def test_what_is_beyond_is_drawn_at_the_edge_with_its_value() -> None:
    made = band_in_table(band(measured=46.0))
    assert "arrow bad" in made
    assert words(made) == "−54 %"
    assert shapes(made, "dot bad") == []
    assert "+45 %" in words(band_in_table(band(measured=145.0)))


def test_the_minimum_is_a_notch_and_earlier_readings_are_ticks() -> None:
    made = band_in_table(band(minimum=85.0, earlier=(75.0, 82.0, 12.0)))
    assert [line["x1"] for line in shapes(made, "minimum")] == [55.0]
    assert [line["x1"] for line in shapes(made, "earlier")] == [25.0, 46.0]


def test_a_minimum_beyond_the_scale_points_to_where_it_lies() -> None:
    made = band_in_table(band(minimum=56.0))
    assert shapes(made, "minimum") == []
    assert 'class="notch" d="M8 1v8l-5 -4z"' in made
    assert "minimum −44 %" in words(render(band(minimum=56.0)))


@pytest.mark.parametrize(
    ("code", "shape"),
    [("conforms", "dot good"), ("does_not_conform", "dot bad"), ("inconclusive", "dot open"), ("disputed", "dash")],
)
def test_outcomes_differ_in_shape_in_the_band(code: str, shape: str) -> None:
    assert f'class="{shape}"' in band_in_table(band(outcome=code, measured=95.0))


def test_the_lines_of_a_plot_differ_without_colour() -> None:
    """Marker and dash by their class, which pages.css fills or dashes; the legend has the same before each name."""
    series = tuple(Series(name, (1.0, 2.0), (301.4, -272.3), True) for name in ("Supply", "Exhaust"))
    made = render(Plot("Along the air.", Axis("tap"), Axis("static pressure", "Pa"), series))
    for name in ("s0", "s1"):
        assert made.count(f'<polyline class="{name}"') == 2  # in the plot and in the legend
        assert made.count(f'<circle class="{name}"') == 2 + 1
    css = (settings.BASE_DIR / "portfolio" / "static" / "portfolio" / "pages.css").read_text()
    assert ".plot polyline.s1 { stroke-dasharray: 7 4; }" in css
    assert ".plot circle.s1, .plot rect.s3 { fill: var(--paper); }" in css
    assert words(made).startswith("1 2 −272 301 tap static pressure, Pa")


def test_what_is_accepted_as_it_is_raises_no_alarm_in_the_band() -> None:
    made = band_in_table(band(outcome="accepted"))
    assert 'class="dot taken"' in made
    assert "bad" not in made


def test_a_band_by_itself_is_sixty_pixels_with_its_scale() -> None:
    made = render(band(minimum=85.0, low=95.0, high=112.5))
    assert 'height="60"' in made
    assert words(made) == "design −5 % +12.5 % minimum"


def test_bands_without_a_value_say_why() -> None:
    assert words(no_band("not measured")) == "– not measured"
    assert "design" in words(scale_of_stack())


# --- marks -------------------------------------------------------------------------------------------------------
def test_an_outcome_is_mark_and_word() -> None:
    drawn = {code: outcome(code) for code in ("conforms", "does_not_conform", "inconclusive", "not_due")}
    marks = {code: made[: made.index("</svg>")].partition("<svg")[2] for code, made in drawn.items()}
    assert len(set(marks.values())) == 4
    assert [words(made) for made in drawn.values()] == [
        "conforms", "does not conform", "inconclusive", "not due yet",
    ]  # fmt: skip
    assert words(outcome("conforms", number=18)) == "18 conform"
    assert words(outcome("does_not_conform", number=1)) == "1 does not conform"
