"""The envelope: the frame around any kind's payload. The frame tells who, where, when; the kind tells what."""

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Any, Literal
from uuid import UUID

from pydantic import AwareDatetime, BaseModel, Field

from commissioning.dossier.problem import Problem
from commissioning.dossier.quantities import Closed

SCHEMA = "ventfolio/envelope/1"

Id = Annotated[UUID, Field(strict=False)]
Moment = Annotated[AwareDatetime, Field(strict=False)]


class SupersedesModel(Closed):
    id: Id
    reason: Annotated[str, Field(min_length=3, max_length=400)]


class PhotoModel(Closed):
    sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    caption: Annotated[str, Field(max_length=400)] = ""


class Frame(Closed):
    schema_: Annotated[Literal["ventfolio/envelope/1"], Field(alias="schema")]
    id: Id
    kind: Annotated[str, Field(pattern=r"^[a-z_]{2,40}$")]
    position: Id
    observed_at: Moment
    observed_by: Id
    supersedes: Annotated[list[SupersedesModel], Field(max_length=50)] = []
    photos: Annotated[list[PhotoModel], Field(max_length=50)] = []
    payload: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Supersedes:
    id: UUID
    reason: str


@dataclass(frozen=True, slots=True)
class Photo:
    """A photo that a record names, by the hash of its bytes."""

    sha256: str
    caption: str


@dataclass(frozen=True, slots=True)
class Envelope:
    """An envelope whose frame could be read. With `problems` it is kept and never evaluated."""

    id: UUID
    kind: str
    position: UUID
    observed_at: datetime
    observed_by: UUID
    supersedes: tuple[Supersedes, ...]
    photos: tuple[Photo, ...]
    payload: BaseModel | None
    is_final: bool = False
    session: str = ""
    problems: tuple[Problem, ...] = ()
