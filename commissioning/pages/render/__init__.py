"""Blocks as HTML: one function per block, held complete by a test. Everything that is text is escaped here."""

from collections.abc import Callable, Iterable
from typing import Any

from django.utils.html import format_html_join
from django.utils.safestring import SafeString

from commissioning.blocks import Band, Block, Caution, Photo, Plot, Sentence, Table, TimePlot, Working
from commissioning.pages.render.band import band_alone
from commissioning.pages.render.plot import plot
from commissioning.pages.render.text import caution, photo, sentence, table, working
from commissioning.pages.render.time_plot import time_plot

RENDERERS: dict[type[Block], Callable[[Any], SafeString]] = {
    Sentence: sentence,
    Caution: caution,
    Table: table,
    Band: band_alone,
    Plot: plot,
    TimePlot: time_plot,
    Working: working,
    Photo: photo,
}


def render(block: Block) -> SafeString:
    return RENDERERS[type(block)](block)


def render_all(blocks: Iterable[Block]) -> SafeString:
    return format_html_join("\n", "{}", ((render(block),) for block in blocks))
