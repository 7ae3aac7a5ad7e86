"""What is sent of one trend log for one unit: the file by its hash, how it was read, which point is what.

The samples are not in it. They are derived from the file through the mapping, both named here by their hash, and are
kept as Parquet (docs/trends.md) in which a point stands under its `name`. `observed_at` is the last sample's moment.
"""

from typing import Annotated, Literal
from zoneinfo import ZoneInfo, available_timezones

from pydantic import AfterValidator, Field, StringConstraints, model_validator

from commissioning.dossier import quantities as q
from commissioning.dossier.envelope import Moment
from commissioning.dossier.field_record import FieldRecord, Session
from commissioning.engineering import units
from commissioning.logs.roles import MODE, STATE, roles

Said = Annotated[str, StringConstraints(min_length=1, max_length=400)]
Sha256 = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]


def _role(code: str) -> str:
    if code not in roles():
        raise ValueError(f"no logged point is called {code}; the names stand in docs/trends.md")
    return code


def _zone(name: str) -> str:
    if name not in available_timezones():
        raise ValueError(f"no time zone is called {name}; write it like America/Chicago")
    ZoneInfo(name)
    return name


Role = Annotated[str, AfterValidator(_role), Field(json_schema_extra={"enum": list(roles())})]
Zone = Annotated[str, StringConstraints(max_length=64), AfterValidator(_zone)]


class ThroughMapping(q.Closed):
    """The version of its source's mapping through which the file was read."""

    source: Said
    version: Annotated[int, Field(ge=1)]
    sha256: Sha256


class LoggedPoint(q.Closed):
    """`name` is the point's name in the file and in the Parquet; `unit` is the unit in the file, '' for words.

    `by_change`: logged at a change of value, else about every `interval`. `samples` counts those with a value,
    `without_value` those logged as none. `words` are the numbers that stand for words of the file.
    """

    role: Role
    name: Said
    unit: Annotated[str, StringConstraints(max_length=40)] = ""
    by_change: bool
    interval: q.Quantity | None = None
    samples: Annotated[int, Field(ge=0)]
    without_value: Annotated[int, Field(ge=0)] = 0
    longest_gap: q.Quantity | None = None
    words: Annotated[dict[Said, q.Number], Field(max_length=100)] = {}

    @model_validator(mode="after")
    def _unit_fits(self) -> "LoggedPoint":
        quantity = roles()[self.role].quantity
        if quantity in (STATE, MODE):
            return self
        if self.unit not in units.codes_of(quantity):
            raise ValueError(f"{self.role} is given in one of {', '.join(units.codes_of(quantity))}")
        return self


class Repair(q.Closed):
    """What was put right while the file was read; `line` is the first line of it, 0 where it is of the whole file."""

    code: Annotated[str, StringConstraints(pattern=r"^[a-z_]{2,40}$")]
    line: Annotated[int, Field(ge=0)]
    count: Annotated[int, Field(ge=1)] = 1
    sentence: Said


class TrendPayload(FieldRecord):
    """Points of one unit from one file. A file that serves several units gives one record for each."""

    stage: Literal["preliminary", "final"] = "final"
    session: Session = Session(id="trend logs", purpose="verification")
    grade: Literal["measured", "witnessed", "transcribed", "controller"] = "controller"
    file: Said
    sha256: Sha256
    bytes: Annotated[int, Field(ge=1)]
    mapping: ThroughMapping
    zone: Zone
    first: Moment
    last: Moment
    points: Annotated[list[LoggedPoint], Field(min_length=1, max_length=400)]
    repairs: Annotated[list[Repair], Field(max_length=200)] = []

    @model_validator(mode="after")
    def _in_order(self) -> "TrendPayload":
        if self.last < self.first:
            raise ValueError("the last sample stands before the first")
        names = [point.role for point in self.points]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f"{', '.join(twice)} is given by two points; say which of them it is")
        return self
