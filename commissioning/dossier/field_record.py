"""What every record of a unit says beside its readings: stage, session, grade, air, operating state.

The payload of a kind is a `FieldRecord` with its own readings added.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

from pydantic import StringConstraints, model_validator

from commissioning.dossier import quantities as q

Line = Annotated[str, StringConstraints(max_length=200)]
Text = Annotated[str, StringConstraints(max_length=4000)]


class Session(q.Closed):
    """`as_left`: the state the unit is left in. `verification`: a repeat that touched nothing."""

    id: Annotated[str, StringConstraints(min_length=1, max_length=100)]
    purpose: Literal["as_left", "verification"]


class Air(q.Closed):
    """The air at the plane, by dry bulb and at most one reading of humidity; pressure is station pressure."""

    dry_bulb: q.Temperature
    wet_bulb: q.Temperature | None = None
    relative_humidity: q.RelativeHumidity | None = None
    dew_point: q.Temperature | None = None
    humidity_ratio: q.HumidityRatio | None = None
    pressure: q.StationPressure | None = None

    @model_validator(mode="after")
    def _one_humidity(self) -> "Air":
        given = [self.wet_bulb, self.relative_humidity, self.dew_point, self.humidity_ratio]
        if sum(value is not None for value in given) > 1:
            raise ValueError("give one of wet bulb, relative humidity, dew point and humidity ratio")
        for name, moist in (("wet bulb", self.wet_bulb), ("dew point", self.dew_point)):
            if moist is not None and q.si(moist) > q.si(self.dry_bulb) + 1e-9:
                raise ValueError(f"the {name} lies above the dry bulb")
        return self


class State(q.Closed):
    """The operating state in which the readings were taken; what nobody looked at is `not_seen`."""

    outdoor_damper: Literal["open", "closed", "modulating", "none", "not_seen"] = "not_seen"
    exhaust_damper: Literal["open", "closed", "modulating", "none", "not_seen"] = "not_seen"
    bypass: Literal["closed", "open", "none", "not_seen"] = "not_seen"
    wheel: Literal["running", "stopped", "none", "not_seen"] = "not_seen"
    filters: Literal["clean", "loaded", "construction", "missing", "not_seen"] = "not_seen"
    served_air_handler: Literal["on", "off", "none", "not_seen"] = "not_seen"
    others_on_riser: Literal["on", "off", "none", "not_seen"] = "not_seen"
    doors: Literal["closed", "open", "not_seen"] = "not_seen"
    mode: Literal["design_maximum", "minimum", "other"] = "design_maximum"


@dataclass(frozen=True, slots=True)
class Claim:
    """A field of a record that a contractor may send for a company of that trade, and in that company's name alone."""

    pointer: str
    value: str
    trade: str
    company: str = ""


class FieldRecord(q.Closed):
    """The frame of a kind's payload. `air` is common to all readings unless one gives its own."""

    submitted_by: ClassVar[str] = "submit_evidence"  # what the sender has to be allowed; another verb lets others in

    stage: Literal["preliminary", "final"]
    session: Session
    grade: Literal["measured", "witnessed", "transcribed", "controller"]
    serial_seen: Line | None = None
    air: Air | None = None
    state: State = State()
    note: Text = ""

    @property
    def verbs(self) -> dict[str, str]:
        """What the sender has to be allowed beside submitting, by the pointer of the field that asks for it."""
        return {}

    @property
    def on_behalf_of(self) -> str:
        """The contractor's company whose word it is; empty for what those see who commission."""
        return ""

    @property
    def claims(self) -> Sequence[Claim]:
        """What a contractor says only of its own trade."""
        return ()


def facts(payload: FieldRecord) -> tuple[bool, str]:
    """Whether it is final, and its session: what lists show without opening the payload."""
    return payload.stage == "final", payload.session.id
