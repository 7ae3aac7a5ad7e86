"""The mark of an outcome and its word: a filled dot between two bars, a dot outside of them, a hollow dot across a
bar, a dash. The word always stands beside the mark."""

from django.utils.html import format_html
from django.utils.safestring import SafeString

from portfolio.dashboards.words import outcome_in_words

_BARS = '<path class="bars" d="M{a} 3v12M{b} 3v12"/>'
_DRAWN = {
    "conforms": _BARS.format(a=5, b=19) + '<circle class="dot good" cx="12" cy="9" r="4"/>',
    "does_not_conform": _BARS.format(a=2, b=12) + '<circle class="dot bad" cx="19" cy="9" r="4"/>',
    "inconclusive": _BARS.format(a=3, b=15) + '<circle class="dot open" cx="15" cy="9" r="4"/>',
    "accepted": _BARS.format(a=2, b=12) + '<circle class="dot taken" cx="19" cy="9" r="4"/>',
}
_DASH = '<path class="dash" d="M6 9h12"/>'


def mark(outcome: str) -> SafeString:
    return format_html(
        '<svg class="mark" aria-hidden="true" width="24" height="18" viewBox="0 0 24 18">{}</svg>',
        SafeString(_DRAWN.get(outcome, _DASH)),
    )


def outcome(code: str, *, number: int | None = None, after: str = "", taken: bool = False) -> SafeString:
    """Mark and word, such as the mark of failing and *does not conform*; `number` counts those that have it.

    What is `taken`, accepted as it is, keeps its word and raises no alarm."""
    kind = {"does_not_conform": "bad", "inconclusive": "open", "recheck": "open", "disputed": "open"}.get(code, "plain")
    drawn = "accepted" if taken and code == "does_not_conform" else code
    return format_html(
        '<span class="outcome {}">{}{}{}{}</span>',
        "plain" if drawn == "accepted" else kind,
        mark(drawn),
        "" if number is None else f"{number:,} ",
        outcome_in_words(code, many=number is not None and number != 1),
        after,
    )
