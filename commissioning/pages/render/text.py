"""Sentences, cautions, tables, workings and photos as HTML."""

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from commissioning.blocks import Caution, Photo, Sentence, Table, Working, WorkingLine

_WEIGHTS = {"lead": "lead", "plain": "said", "aside": "aside"}
_ALIGNS = {"left": "left", "right": "figures", "centre": "centre"}


def sentence(block: Sentence) -> SafeString:
    return format_html('<p class="{}">{}</p>', _WEIGHTS[block.weight], block.text)


def caution(block: Caution) -> SafeString:
    """Stands before the step that it guards; the word says it, not only the colour."""
    what = f"Caution: {block.hazard}." if block.hazard else "Caution."
    return format_html('<div class="caution" role="note"><strong>{}</strong> {}</div>', what, block.text)


def table(block: Table) -> SafeString:
    caption = format_html("<caption>{}</caption>", block.caption) if block.caption else ""
    if not block.rows:
        return format_html('<p class="aside">{}</p>', block.empty or "There is nothing to show yet.")
    heads = format_html_join(
        "",
        '<th scope="col" class="{}">{}{}</th>',
        ((_ALIGNS[c.align], c.title, _unit(c.unit)) for c in block.columns),
    )
    classes = [_ALIGNS[c.align] for c in block.columns]
    body = format_html_join("", "<tr>{}</tr>", ((_row(row, classes),) for row in block.rows))
    return format_html(
        '<div class="wide" tabindex="0" role="region" aria-label="{}"><table>{}<thead><tr>{}</tr></thead>'
        "<tbody>{}</tbody></table></div>",
        block.caption or "Table",
        caption,
        heads,
        body,
    )


def _unit(unit: str) -> SafeString:
    return format_html(' <span class="unit">{}</span>', unit) if unit else SafeString("")


def _row(cells: tuple[str, ...], classes: list[str]) -> SafeString:
    return format_html_join("", '<td class="{}">{}</td>', zip(classes, cells, strict=False))


def working(block: Working) -> SafeString:
    """Lines of arithmetic as a list of terms; on a phone each line stands by itself."""
    title = format_html("<h4>{}</h4>", block.title) if block.title else ""
    lines = format_html_join("", "{}", ((_line(line),) for line in block.lines))
    return format_html('<div class="working">{}<dl>{}</dl></div>', title, lines)


def _line(line: WorkingLine) -> SafeString:
    expression = format_html('<span class="expression">{}</span> ', line.expression) if line.expression else ""
    equals = SafeString('<span aria-hidden="true">= </span>') if line.expression and line.value else ""
    source = format_html('<span class="source">{}</span>', line.source) if line.source else ""
    return format_html(
        "<div><dt>{}</dt><dd>{}{}<b>{}</b> {}</dd></div>", line.label, expression, equals, line.value, source
    )


def photo(block: Photo) -> SafeString:
    """The picture is fetched from where its hash is served, with the permission of what shows it."""
    if len(block.sha256) != 64 or not set(block.sha256) <= set("0123456789abcdef"):
        return format_html('<p class="aside">{}</p>', block.caption or "A photo that cannot be shown.")
    return format_html(
        '<figure class="photo"><img src="/photos/{}" alt="{}" loading="lazy"><figcaption>{}</figcaption></figure>',
        block.sha256,
        block.caption or "Photo without a caption",
        block.caption,
    )
