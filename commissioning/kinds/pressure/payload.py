"""What a technician sends about pressures: profiles along a stream, differences across parts, controlled duct static
pressure, and the pressure of spaces. A tap reads against the air outside the duct, negative on a fan's inlet side.
"""

from typing import Annotated, Literal

from pydantic import Field, StringConstraints, model_validator

from commissioning.dossier import quantities as q
from commissioning.dossier.envelope import Id
from commissioning.dossier.field_record import FieldRecord, Line

Stream = Literal["supply", "exhaust"]
At = Literal[
    "outside",
    "unit_inlet",
    "before_filter",
    "after_filter",
    "before_core",
    "after_core",
    "before_coil",
    "after_coil",
    "before_fan",
    "after_fan",
    "unit_outlet",
]
Condition = Literal["clean", "loaded", "wet", "not_seen"]
Name = Annotated[str, StringConstraints(min_length=1, max_length=200)]
ORDERED = (("unit_inlet", "unit_outlet"), *((f"before_{x}", f"after_{x}") for x in ("filter", "core", "coil", "fan")))


class Read(q.Closed):
    """Readings of one instrument at one place; `zeroed`: its zero was set or checked before."""

    readings: q.PressureSeries
    instrument: Id | None = None
    zeroed: bool


class Tap(Read):
    at: At
    velocity_pressure: q.VelocityPressure | None = None


class Profile(q.Closed):
    """Static pressures along one stream, in the order in which the air passes; how the parts between looked."""

    stream: Stream
    taps: Annotated[list[Tap], Field(min_length=1, max_length=12)]
    filter: Condition = "not_seen"
    core: Condition = "not_seen"
    coil: Condition = "not_seen"

    @model_validator(mode="after")
    def _in_the_order_of_the_air(self) -> "Profile":
        places = [tap.at for tap in self.taps]
        if len(places) != len(set(places)):
            raise ValueError("a tap stands twice in one stream; give its readings together")
        for first, later in ORDERED:
            if first in places and later in places and places.index(first) > places.index(later):
                raise ValueError(f"taps stand in the order of the air: {_words(first)}, then {_words(later)}")
        return self


class Difference(Read):
    """Read across one part with both hoses: the drop of a filter, core or coil, the rise of a fan, or the whole unit.

    Across the unit: outlet less inlet, which is the external static pressure.
    """

    stream: Stream
    across: Literal["unit", "filter", "core", "coil", "fan"]
    condition: Condition = "not_seen"


class Controlled(Read):
    """The duct static pressure that a fan holds, and the setpoint that it had just then."""

    fan: Stream
    demand: Literal["design", "minimum"]
    setpoint: q.Setpoint
    stabilised_in: q.Duration | None = None


class Space(Read):
    """The pressure of a space, positive above what it is read against. Each reading is an average."""

    space: Name
    against: Literal["outdoors", "neighbour"]
    neighbour: Line | None = None
    averaged_over: q.Duration
    door: Literal["closed", "open", "none", "not_seen"] = "not_seen"
    wind: q.WindSpeed | None = None
    reference_shielded: bool | None = None


class PressurePayload(FieldRecord):
    profiles: Annotated[list[Profile], Field(max_length=2)] = []
    differences: Annotated[list[Difference], Field(max_length=10)] = []
    controlled: Annotated[list[Controlled], Field(max_length=4)] = []
    reset_by_zones: bool | None = None  # zones ask for the setpoint, which then has to fall with the demand
    spaces: Annotated[list[Space], Field(max_length=60)] = []

    @model_validator(mode="after")
    def _each_once_and_named(self) -> "PressurePayload":
        held: dict[str, list[str]] = {
            "profile": [p.stream for p in self.profiles],
            "difference": [f"{d.stream} {d.across}" for d in self.differences],
            "controlled pressure": [f"{c.fan} {c.demand}" for c in self.controlled],
            "space": [s.space.strip().lower() for s in self.spaces],
        }
        if not any(held.values()):
            raise ValueError("there is no pressure in it; give a profile, a difference, a setpoint held or a space")
        for what, keys in held.items():
            if len(keys) != len(set(keys)):
                raise ValueError(f"a {what} stands twice; send the second reading as an envelope of its own")
        if self.grade in ("measured", "witnessed") and any(one.instrument is None for one in reads(self)):
            raise ValueError(
                "name the instrument of each reading; only what is transcribed or off a controller has none"
            )
        return self


def reads(payload: PressurePayload) -> list[Read]:
    """All that was read, in the order of the payload."""
    taps = [tap for profile in payload.profiles for tap in profile.taps]
    return [*taps, *payload.differences, *payload.controlled, *payload.spaces]


def _words(name: str) -> str:
    return name.replace("_", " ")
