"""What is wrong with something that came in: where, which value, why, and what to do."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    pointer: str  # JSON pointer, RFC 6901
    value: str
    reason: str
    remedy: str

    def to_json(self) -> dict[str, str]:
        return {"pointer": self.pointer, "value": self.value, "reason": self.reason, "remedy": self.remedy}


def shown(value: object) -> str:
    """A value as a person may see it: short, on one line.

    >>> shown("x" * 100)[-3:], shown(None)
    ('xx…', 'nothing')
    """
    text = "nothing" if value is None else str(value)
    text = text.encode("utf-8", "replace").decode().replace("\n", " ").replace("\x00", "␀")
    return text if len(text) <= 80 else text[:79] + "…"


def pointer_of(path: tuple[str | int, ...]) -> str:
    """Half a character in a key is spelt out, so that every pointer can be sent.

    >>> pointer_of(("ports", 0, "a/b")), pointer_of((chr(0xD800),)).isascii()
    ('/ports/0/a~1b', True)
    """
    found = "".join("/" + str(step).replace("~", "~0").replace("/", "~1") for step in path)
    return found.encode("utf-8", "backslashreplace").decode()
