"""One way to write JSON, so that equal data have equal bytes and equal hashes."""

import hashlib
import json
from typing import Any


def canonical_json(data: Any) -> bytes:
    """Keys sorted, no spaces, text as it is, numbers by their shortest exact form; no NaN.

    >>> canonical_json({"b": 1.0, "a": ["°C"]}).decode()
    '{"a":["°C"],"b":1.0}'
    """
    return json.dumps(data, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False).encode()


def sha256_hex(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
