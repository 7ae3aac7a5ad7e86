"""TOML that is handed in, held to what strict_json asks of JSON: by itself it lets NUL, NaN and any depth through."""

import json
import tomllib
from typing import Any

from commissioning.dossier import strict_json


def parse(text: str) -> dict[str, Any]:
    """What it says, dates as text; tomllib.TOMLDecodeError where it is no TOML, strict_json.StrictError else.

    >>> parse("since = 2026-05-04")
    {'since': '2026-05-04'}
    """
    try:
        raw = json.dumps(tomllib.loads(text), default=str, ensure_ascii=False).encode()
    except RecursionError:
        told = f"Nested deeper than {strict_json.MOST_DEPTH}."
        raise strict_json.StrictError("", "", told, "Send it flatter.") from None
    except tomllib.TOMLDecodeError:
        raise
    except ValueError:  # int() takes no more than some thousand digits
        told = f"A number of more than {strict_json.MOST_DIGITS} characters."
        raise strict_json.StrictError("", "", told, "Round it.") from None
    found: dict[str, Any] = strict_json.parse(raw, most_bytes=16 * strict_json.MOST_BYTES)
    return found
