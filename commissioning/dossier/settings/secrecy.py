"""What may never be kept: passwords, codes of entry and keys. Evidence is for ever, so they are refused at the door."""

import re

from commissioning.dossier.settings.catalogue import NotASetting

REMEDY = "Leave it out; secrets are handed over by another way. If it was sent before, have it changed."


class Secret(NotASetting):
    """What holds it is not kept at all."""


_WORDS = re.compile(
    r"pass(word|phrase|code|wd)|pwd|\bpw\b|\bpin\b|\bpins\b|secret|credential|log_?in|access_?(code|level)|\bpsk\b"
    r"|(security|service|installer|unlock|engineer)_?(code|key)|api_?key|private_?key|token|community",
    re.IGNORECASE,
)
_IN_TEXT = re.compile(
    r"\b(pass(word|phrase|code|wd)|pwd|pw|pin|psk|secret|access code|security code)\b"
    r"\s*(is|was|[:=])?\s*[\w!@#$%^&*+-]*\d",
    re.IGNORECASE,
)
_KEY = re.compile(
    r"^(?=.*[A-Z])(?=.*[a-z])(?=.*\d)[A-Za-z0-9+/_=-]{20,}$|-----BEGIN|^[0-9a-fA-F]{32,}$|://[^/\s:]+:[^/\s@]+@"
)


def refuse_name(name: str) -> None:
    """Raise NotASetting for the name of what looks like a secret.

    >>> refuse_name("frost_limit")
    >>> refuse_name("service_pin")
    Traceback (most recent call last):
    commissioning.dossier.settings.secrecy.Secret: by its name this is a password, a code of entry or a key
    """
    words = re.sub(r"[^a-z0-9]+", " ", re.sub(r"(?<=[a-z])(?=[A-Z])", "_", name).lower())
    if _WORDS.search(words) or _WORDS.search(words.replace(" ", "_")):
        raise Secret("by its name this is a password, a code of entry or a key", REMEDY)


def refuse_text(text: str) -> None:
    """Raise NotASetting for a text in which a secret seems to stand.

    >>> refuse_text("Left with the owner, who has the keys of the plant room")
    >>> refuse_text("to get in: pin 4711")
    Traceback (most recent call last):
    commissioning.dossier.settings.secrecy.Secret: a password, a code of entry or a key seems to be in it
    """
    if _IN_TEXT.search(text) or _KEY.search(text.strip()):
        raise Secret("a password, a code of entry or a key seems to be in it", REMEDY)
