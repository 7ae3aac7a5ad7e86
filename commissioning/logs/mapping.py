"""What a person says of a source's logs: how its files are written, and which of its points is what on which unit.

It names columns and points by their names, never by their place, so that it serves the next file of the same source.
What is left empty is found in each file anew.
"""

import hashlib
import json
from typing import Annotated, Literal
from zoneinfo import available_timezones

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints, model_validator

from commissioning.engineering import units
from commissioning.logs.roles import MODE, STATE, roles

Name = Annotated[str, StringConstraints(min_length=1, max_length=400, strip_whitespace=True)]
Column = Annotated[str, StringConstraints(max_length=400, strip_whitespace=True)]
MOST_POINTS = 400


def _zone(name: str) -> str:
    if name not in available_timezones():
        raise ValueError(f"no time zone is called {name}; write it like America/Chicago")
    return name


def _role(code: str) -> str:
    if code not in roles():
        raise ValueError(f"no role is called {code}; the names stand in docs/trends.md")
    return code


class _Closed(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class MappedPoint(_Closed):
    """One point of the source. `name` is its heading or its name in the file; `tag` the unit's, '' where there is one.

    `unit` is what its numbers are in, '' for states and modes. `words` give the number of a word of the file.
    """

    name: Name
    role: Annotated[str, AfterValidator(_role)]
    tag: Annotated[str, StringConstraints(max_length=100, strip_whitespace=True)] = ""
    unit: Annotated[str, StringConstraints(max_length=40)] = ""
    words: dict[Name, Annotated[float, Field(allow_inf_nan=False)]] = {}
    by_change: bool | None = None

    @model_validator(mode="after")
    def _unit_fits(self) -> "MappedPoint":
        quantity = roles()[self.role].quantity
        if quantity in (STATE, MODE):
            return self
        if self.unit not in units.codes_of(quantity):
            said = ", ".join(units.codes_of(quantity))
            raise ValueError(f"the unit of {self.name!r} is not known; a {quantity} is given in one of {said}")
        return self


class LogMapping(_Closed):
    """`repeated_hour`: what local times mean that occur twice when clocks go back, where their order does not tell.

    `missing_hour`: what is done with local times that do not occur when clocks go forward: read as if the clock had
    not been put on, or left out. `duplicates`: which of two samples of a point at one moment counts.
    """

    source: Name
    zone: Annotated[str, StringConstraints(max_length=64), AfterValidator(_zone)]
    delimiter: Literal["", ",", ";", "\t", "|"] = ""
    decimal: Literal["", ".", ","] = ""
    sheet: Column = ""
    form: Literal["", "wide", "long"] = ""
    time_columns: Annotated[list[Column], Field(max_length=2)] = []
    time_format: Annotated[str, StringConstraints(max_length=80)] = ""
    name_column: Column = ""
    value_column: Column = ""
    unit_column: Column = ""
    repeated_hour: Literal["first", "second", "refuse"] = "first"
    missing_hour: Literal["shift", "drop", "refuse"] = "shift"
    duplicates: Literal["last", "first", "refuse"] = "last"
    no_value: Annotated[list[Column], Field(max_length=50)] = []
    points: Annotated[list[MappedPoint], Field(max_length=MOST_POINTS)] = []

    @model_validator(mode="after")
    def _each_once(self) -> "LogMapping":
        names = [one.name for one in self.points]
        twice = sorted({one for one in names if names.count(one) > 1})
        if twice:
            raise ValueError(f"{', '.join(twice)} is mapped twice; a point is one thing")
        places = [(one.tag, one.role) for one in self.points]
        for place in places:
            if places.count(place) > 1:
                given = " and ".join(one.name for one in self.points if (one.tag, one.role) == place)
                raise ValueError(f"{given} are both mapped to {place[1]} of {place[0] or 'the unit'}; choose one")
        return self

    @property
    def raw(self) -> bytes:
        """The one way in which it is written down: what is hashed and kept."""
        return json.dumps(self.model_dump(), sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()

    @property
    def sha256(self) -> str:
        return hashlib.sha256(self.raw).hexdigest()
