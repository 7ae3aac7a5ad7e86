"""TOML that is handed in is held to what JSON is held to."""

import tomllib

import pytest

from commissioning.dossier.strict_json import StrictError
from commissioning.dossier.strict_toml import parse

BROKEN = {
    "lists in lists": ("x = " + "[" * 5000 + "]" * 5000, "", "Nested deeper than 32."),
    "tables in tables": (f"[{'.'.join('a' * 5000)}]", "", "Nested deeper than 32."),
    "a number of thousands of digits": (f"x = {'9' * 5000}", "", "A number of more than 64 characters."),
    "a number of a hundred digits": (f"x = {'9' * 100}", "/x", "A number of more than 64 characters."),
    "no number": ("[a]\nx = [1, nan]", "/a/x/1", "This is no finite number."),
    "an infinite number": ("x = -inf", "/x", "This is no finite number."),
    "NUL in a text": ('x = "a\\u0000"', "/x", "NUL or half a character in a text."),
}


@pytest.mark.parametrize(("text", "pointer", "reason"), BROKEN.values(), ids=BROKEN)
def test_it_is_refused_with_where_and_why(text: str, pointer: str, reason: str) -> None:
    with pytest.raises(StrictError) as error:
        parse(text)
    assert (error.value.pointer, error.value.reason) == (pointer, reason)


def test_what_is_no_toml_is_told_by_its_place() -> None:
    with pytest.raises(tomllib.TOMLDecodeError, match="line 1, column 9"):
        parse('x = "a" b')
