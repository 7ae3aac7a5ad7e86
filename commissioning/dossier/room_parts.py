"""What each unit gives to a room or takes from it: a room served by several units is judged by the sum of all.

A unit's own parts stand in what is kept of its `room_airflow`; those of the other units of its building come with the
judging document. A part tells its errors by name and by what they are shared through, so that one hood at two units is
one error.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import Field, StringConstraints, model_validator

from commissioning.dossier import outlet_design
from commissioning.dossier import quantities as q
from commissioning.dossier.figures import AS_GOOD_AS_INFINITE
from commissioning.dossier.outlet_readings import OutletReading
from commissioning.dossier.outlets_standing import Standing
from commissioning.dossier.results import Absence
from commissioning.dossier.room_totals import of_room, rooms_read, sum_of, why_incomplete
from commissioning.dossier.view import View
from commissioning.engineering.budget import Component

MOST = 400
PORTS = ("supply", "return", "outdoor", "exhaust")
Name = Annotated[str, StringConstraints(min_length=1, max_length=200)]


class PartErrorModel(q.Closed):
    """One contribution to a part's uncertainty; those of one name and group are one error wherever they stand."""

    name: Name
    standard_uncertainty: q.Airflow
    group: Name | None = None
    degrees_of_freedom: Annotated[q.Number, Field(ge=1.0)] | None = None  # none: as good as infinite


class RoomPartModel(q.Closed):
    """What another unit of the building gives to a room of this one at a port; `why` says why that is not known."""

    tag: Name
    room: Name
    port: Literal["supply", "return", "outdoor", "exhaust"]
    outlets: Annotated[list[Name], Field(max_length=500)]
    airflow: q.Airflow | None = None
    design: q.Airflow | None = None
    basis: Literal["standard", "actual"] | None = None
    errors: Annotated[list[PartErrorModel], Field(max_length=60)] = []
    provisional: bool = False
    why: Annotated[str, StringConstraints(max_length=1000)] = ""

    @model_validator(mode="after")
    def _known_or_why(self) -> "RoomPartModel":
        if not self.why and (self.airflow is None or self.basis is None or not self.errors):
            raise ValueError("a part has its airflow with basis and errors, or says why it is not known")
        return self


@dataclass(frozen=True, slots=True)
class RoomPart:
    tag: str
    room: str
    port: str
    outlets: tuple[str, ...]
    airflow_m3_s: float | None
    design_m3_s: float | None
    basis: str | None
    errors: tuple[Component, ...]
    provisional: bool
    why: str

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "RoomPart":
        airflow, design = (None if data.get(name) is None else q.si(data[name]) for name in ("airflow", "design"))
        return cls(
            tag=data["tag"],
            room=data["room"],
            port=data["port"],
            outlets=tuple(data["outlets"]),
            airflow_m3_s=airflow,
            design_m3_s=design,
            basis=data.get("basis"),
            errors=tuple(_component(one) for one in data.get("errors", ())),
            provisional=data.get("provisional", False),
            why=data.get("why", ""),
        )

    @property
    def reading(self) -> OutletReading:
        """The part as one outlet more of the room."""
        return OutletReading(
            name=f"{self.tag}: {', '.join(self.outlets)}",
            port=self.port,
            branch="",
            room=self.room,
            device="",
            basis=self.basis or "",
            state="read",
            reason="",
            instrument="",
            design_m3_s=self.design_m3_s,
            airflow_m3_s=self.airflow_m3_s,
            expanded_uncertainty_m3_s=0.0,
            standard_uncertainty_m3_s=0.0,
            components=self.errors,
            envelope="",
        )

    def told(self) -> dict[str, Any]:
        """For the row of a room."""
        known = {"airflow_m3_s": self.airflow_m3_s, "why": self.why, "provisional": self.provisional}
        return {"tag": self.tag, "outlets": list(self.outlets), **known}


def _component(data: Mapping[str, Any]) -> Component:
    freedom = data.get("degrees_of_freedom")
    return Component(
        data["name"],
        q.si(data["standard_uncertainty"]),
        degrees_of_freedom=float("inf") if freedom is None else freedom,
        group=data.get("group"),
    )


def of_others(view: View, room: str, ports: Iterable[str]) -> list[RoomPart]:
    wanted = set(ports)
    return [RoomPart.from_json(one) for one in view.place.shared_rooms if one["room"] == room and one["port"] in wanted]


def missing(others: Sequence[RoomPart]) -> str:
    """Whose part of a room is not known, and why."""
    lacking = next((one for one in others if one.why or one.airflow_m3_s is None), None)
    return "" if lacking is None else f"the part of {lacking.tag} is not known: {lacking.why or 'not read yet'}"


def own(view: View, standing: Standing | Absence) -> list[dict[str, Any]]:
    """The unit's own parts, plain and in SI, for what is kept of it: of each room with an outlet designed or read."""
    design = outlet_design.outlets_of(view.place)
    named = {one.room for one in design.values() if one.room}
    if isinstance(standing, Standing):
        named |= set(rooms_read(standing))
    found = (_own(view, standing, room, port) for room in sorted(named) for port in PORTS)
    return [one for one in found if one is not None]


def _own(view: View, standing: Standing | Absence, room: str, port: str) -> dict[str, Any] | None:
    design = outlet_design.outlets_of(view.place)
    designed = {name for name, one in design.items() if one.room == room and one.port == port}
    held = of_room(standing, room, (port,)) if isinstance(standing, Standing) else []
    outlets = sorted(designed | {one.name for one in held})
    if not outlets:
        return None
    told: dict[str, Any] = {"room": room, "port": port, "outlets": outlets}
    why = standing.text if isinstance(standing, Absence) else why_incomplete(standing, room, (port,), held)
    if why or not isinstance(standing, Standing):
        return told | {"why": why}
    whole = sum_of(held, view.conventions.coverage_probability)
    if len(whole.bases) != 1 or whole.airflow_m3_s < 0.0:
        return told | {"why": "its outlets are designed on different air bases"}
    return told | {
        "why": "",
        "airflow_m3_s": whole.airflow_m3_s,
        "design_m3_s": whole.design_m3_s,
        "basis": next(iter(whole.bases)),
        "provisional": view.is_provisional(*standing.finals(held)),
        "errors": [_error(one) for one in whole.components],
    }


def _error(one: Component) -> list[Any]:
    """Name, size, what it is shared through, degrees of freedom."""
    freedom = one.degrees_of_freedom if one.degrees_of_freedom < AS_GOOD_AS_INFINITE else None
    return [one.name, abs(one.contribution), one.group, freedom]
