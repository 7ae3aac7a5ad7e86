"""What other parsers change in silence is refused here, and the refusal says where it stands."""

import contextlib
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commissioning.dossier.strict_json import MOST_BYTES, StrictError, parse

BROKEN = {
    "not UTF-8": (b'{"a": "\xff"}', "", "This is not UTF-8."),
    "a surrogate spelt in UTF-8": (b'{"a": "\xed\xa0\x80"}', "", "This is not UTF-8."),
    "a byte order mark": (b'\xef\xbb\xbf{"a": 1}', "", "This is not JSON"),
    "cut off": (b'{"a": [1, 2', "", "This is not JSON"),
    "nothing": (b"", "", "This is not JSON"),
    "two values": (b"{} {}", "", "This is not JSON"),
    "a comment": (b'{"a": 1 /* one */}', "", "This is not JSON"),
    "a bare tab in a text": (b'{"a": "x\ty"}', "", "This is not JSON"),
    "a leading zero": (b'{"a": 01}', "", "This is not JSON"),
    "a leading plus": (b'{"a": +1}', "", "This is not JSON"),
    "a key twice": (b'{"a": {"b": 1, "b": 1}}', "/a/b", "This key stands twice."),
    "a key twice, spelt differently": (b'{"a": 1, "\\u0061": 2}', "/a", "This key stands twice."),
    "a key twice in a list": (b'[{}, {"x": 1, "x": 2}]', "/1/x", "This key stands twice."),
    "NaN": (b'{"a": [1, NaN]}', "/a/1", "This is no finite number."),
    "Infinity": (b'{"a": Infinity}', "/a", "This is no finite number."),
    "minus infinity": (b'{"a": -Infinity}', "/a", "This is no finite number."),
    "overflow": (b'{"a": 1e400}', "/a", "This is no finite number."),
    "negative overflow": (b'{"a": {"b": -1e999}}', "/a/b", "This is no finite number."),
    "a whole number beyond 2^53": (b'{"a": 9007199254740993}', "/a", "A whole number beyond"),
    "65 digits": (b'{"a": 0.' + b"1" * 63 + b"}", "/a", "A number of more than 64 characters."),
    "thousands of digits": (b'{"a": ' + b"9" * 5000 + b"}", "/a", "A number of more than 64 characters."),
    "NUL": (b'{"a": {"b": "x\\u0000"}}', "/a/b", "NUL or half a character"),
    "NUL in a key": (b'{"a\\u0000": 1}', "/a\x00", "NUL or half a character"),
    "half a character": (b'{"a": ["\\ud800"]}', "/a/0", "NUL or half a character"),
    "half a character in a key": (b'{"a": {"\\ud800": 1}}', "/a/\\ud800", "NUL or half a character"),
    "half a character in a key twice": (b'{"\\udfff": 1, "\\udfff": 2}', "/\\udfff", "This key stands twice."),
    "a fault before the end of sense": (b'{"a": NaN, "b": }', "", "This is not JSON"),
    "a text without end": (b'"' + b'\\"' * 500_000, "", "This is not JSON"),
    "too deep": (b"[" * 33 + b"]" * 33, "", "Nested deeper than 32."),
    "far too deep": (b'{"a":' * 100_000, "", "Nested deeper than 32."),
    "too large": (b'"' + b"x" * MOST_BYTES + b'"', "", "More than 1048576 bytes."),
    "a pointer that needs escaping": (b'{"a/b": {"c~d": NaN}}', "/a~1b/c~0d", "This is no finite number."),
}


@pytest.mark.parametrize(("raw", "pointer", "reason"), BROKEN.values(), ids=BROKEN)
def test_it_is_refused_with_where_and_why(raw: bytes, pointer: str, reason: str) -> None:
    with pytest.raises(StrictError) as error:
        parse(raw)
    assert error.value.pointer == pointer
    assert error.value.reason.startswith(reason)
    assert error.value.remedy.endswith(".")
    assert len(error.value.value) <= 80


@pytest.mark.parametrize(
    "raw",
    [
        b'{"a": "[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[["}',
        b'{"a": "\\"' + b"{" * 40 + b'"}',
        b"[" * 32 + b"]" * 32,
        b'{"a": 9007199254740992, "b": -9007199254740992}',
        b'{"a": 0.' + b"1" * 62 + b"}",
        b'{"a": "\\ud83d\\ude00", "b": "\xf0\x9f\x98\x80"}',
        b' \r\n\t{"a": 1e-400} ',
        '{"a": "Cafe\u0301 \u00b0F"}'.encode(),
    ],
)
def test_what_is_only_unusual_is_read_as_it_stands(raw: bytes) -> None:
    assert parse(raw) == json.loads(raw)


JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53), 2**53)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00")),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text("abc/~", max_size=4), inner, max_size=4),
    max_leaves=20,
)


@given(JSON)
def test_everything_else_comes_through_unchanged(value: object) -> None:
    assert parse(json.dumps(value).encode()) == value


@given(st.binary(max_size=200) | st.text('{}[]":,\\\\u0d8NaInfity1e9. ', max_size=40).map(str.encode))
def test_no_bytes_crash_it(raw: bytes) -> None:
    with contextlib.suppress(StrictError):
        parse(raw)
