"""A page as a reader meets it: its text, without tags, and what a test looks for in its structure."""

import html
import re
from typing import Any


def text(response: Any) -> str:
    """The words of the page's main part, spaces made one."""
    body = response.content.decode()
    main = re.search(r"<main.*</main>", body, re.DOTALL)
    assert main is not None, body[:500]
    return words(main.group())


def words(markup: str) -> str:
    bare = re.sub(r"<title>.*?</title>", " ", markup, flags=re.DOTALL)
    return (
        re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", bare))).replace(" .", ".").replace(" ,", ",").strip()
    )


def titles(response: Any) -> list[str]:
    """The text alternatives of the pictures in it."""
    return [html.unescape(one) for one in re.findall(r"<svg[^>]*><title>(.*?)</title>", response.content.decode())]
