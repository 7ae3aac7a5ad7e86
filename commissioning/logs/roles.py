"""What a logged point can be on a unit, by our own neutral names. From `roles.toml`."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

STATE = "state"
MODE = "mode"


@dataclass(frozen=True, slots=True)
class Role:
    """`quantity` is a quantity of the units' table, or "state" (0 or 1), or "mode" (words, numbered as they come).

    `limits` are the least and the most that a reading in SI can be; None where none are stated.
    """

    code: str
    title: str
    quantity: str
    limits: tuple[float, float] | None = None


def read(text: str) -> Mapping[str, Role]:
    """From the text of the file. A field too many or too few is refused by its name."""
    held = tomllib.loads(text)
    return {code: _role(code, **one) for code, one in held["roles"].items()}


def _role(code: str, title: str, quantity: str, limits: tuple[float, float] | None = None) -> Role:
    return Role(code, title, quantity, (limits[0], limits[1]) if limits is not None else None)


@cache
def roles() -> Mapping[str, Role]:
    """Every role, in the order of the file."""
    return read(Path(__file__).with_name("roles.toml").read_text("utf-8"))


def words_of(role: Role) -> Mapping[str, float]:
    """Words that mean something else at this role than elsewhere: a switch that says closed, an alarm that says OK."""
    if role.code.endswith("_closed"):
        return {"closed": 1.0, "open": 0.0}
    return {"ok": 0.0} if role.quantity == STATE and role.code.endswith(("_alarm", "_trip", "_state")) else {}
