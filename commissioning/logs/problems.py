"""What is said of a log: what stands in the way, and what was put right, each with its line and a sentence."""

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Remark:
    """`line` is the first line of the file that it is about, 0 where it is about the whole; `count` how many are.

    `point` is the name of the one point that it is about, else ''.
    """

    code: str
    line: int
    sentence: str
    count: int = 1
    point: str = ""

    def to_json(self) -> dict[str, Any]:
        return asdict(self)

    def __str__(self) -> str:
        where = f"Line {self.line}: " if self.line else ""
        return f"{where}{self.sentence}"


class CannotRead(Exception):
    """The log cannot be read as a whole: nothing of it is taken."""

    def __init__(self, code: str, sentence: str, *, line: int = 0, point: str = "") -> None:
        super().__init__(sentence)
        self.remark = Remark(code, line, sentence, point=point)


def told(remarks: Iterable[Remark]) -> list[dict[str, Any]]:
    return [one.to_json() for one in remarks]
