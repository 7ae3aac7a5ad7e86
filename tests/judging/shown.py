"""How anything that was judged has to show itself: blocks that go there and back, in words of the trade."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any

from commissioning import blocks, judging
from tests.judging.builder import Result

CODE = re.compile(r"[a-z]{2,}_(?!wc\b)[a-z0-9]{2,}")  # a word of the machine's, as not_seen; in_wc is how it was sent


def pages(result: Result, display: str) -> Iterator[tuple[str, tuple[blocks.Block, ...]]]:
    """Every judgement and measurement of a result, from what is kept alone."""
    kept = json.loads(json.dumps(result.json["positions"][0]))
    for one in kept["judgements"]:
        yield f"{one['requirement']} {one['port']}", judging.show_judgement(one, kept["measurements"], display)
    for one in kept["measurements"]:
        yield f"measured {one['kind']} {one['port']}", judging.show_measurement(one, display)


def check(name: str, page: tuple[blocks.Block, ...]) -> None:
    assert page, name
    assert isinstance(page[0], blocks.Sentence | blocks.Caution), name
    assert any(isinstance(block, blocks.Sentence) for block in page), name
    for block in page:
        assert blocks.from_json(json.loads(json.dumps(blocks.to_json(block)))) == block, name
        for text in texts(blocks.to_json(block)):
            assert "None" not in text, (name, text)
            assert "nan" not in text.lower().split(), (name, text)
            assert "  " not in text, (name, text)
            assert not CODE.search(text), (name, text)


def texts(value: Any) -> Iterator[str]:
    """Every text of a block that is read: not the name of its type, nor the outcome that gives a band its mark."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for key, inner in value.items():
            if key not in ("block", "outcome"):
                yield from texts(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from texts(inner)
