"""Raw bodies: read with a limit, and compared with the digest that the sender gave (RFC 9530)."""

import base64
import binascii
import hashlib
import re

from rest_framework.request import Request

from portfolio.door.problems import Problem, too_large

_MEMBER = re.compile(r"([a-z0-9*_.-]+)\s*=\s*:([A-Za-z0-9+/=]*):")


def body_of(request: Request, *, limit_bytes: int) -> bytes:
    """The exact bytes, once; 413 beyond the limit, 400 when fewer came than announced or the digest differs."""
    announced = _announced(request)
    if announced > limit_bytes:
        raise too_large(limit_bytes)
    body = request._request.read(limit_bytes + 1)
    if len(body) > limit_bytes:
        raise too_large(limit_bytes)
    if len(body) < announced:
        raise Problem(400, "cut_short", "The body was cut short", f"{len(body)} of {announced} bytes came.")
    check_digest(request, body)
    return body


def _announced(request: Request) -> int:
    try:
        return int(request.META.get("CONTENT_LENGTH") or 0)
    except ValueError:
        raise Problem(400, "unreadable", "The request could not be read", "Content-Length is no number.") from None


def check_digest(request: Request, body: bytes) -> None:
    """Compare with `Content-Digest`; algorithms other than sha-256 are passed over, as the standard has it."""
    header = request.META.get("HTTP_CONTENT_DIGEST", "").strip()
    if not header:
        return
    members = [_MEMBER.fullmatch(part.strip()) for part in header.split(",")]
    if not all(members):
        raise Problem(400, "digest_unreadable", "Content-Digest could not be read", "Send sha-256=:base64:.")
    for member in members:
        if member and member[1] == "sha-256" and _decoded(member[2]) != hashlib.sha256(body).digest():
            raise Problem(
                400, "digest_mismatch", "The body is not what was sent", "Its SHA-256 differs. Send it again."
            )


def _decoded(text: str) -> bytes:
    try:
        return base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError):
        return b""
