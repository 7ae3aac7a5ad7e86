"""What the unit's sisters read: units of the same building, system and kind, held beside a port that is off its design.

A sister tells apart what is this unit's own from what all of them share, and whether the readings are hers. Nothing is
judged by her: the port's verdict is the same with her and without.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import Field, StringConstraints, model_validator

from commissioning.dossier import printing
from commissioning.dossier import quantities as q
from commissioning.dossier.results import Measurement

MOST, MOST_TOLD = 20, 3
NEAR_DESIGN = 0.10  # as for an earlier reading of the unit itself
SAME_READING = 0.01  # at two ports and more: closer than two units come by chance; common practice, no source
OTHER_DESIGN = 0.10
SAME_DESIGN = 0.005  # as far as a per cent is printed


@dataclass(frozen=True, slots=True)
class SisterPort:
    """Her newest final that stands, on her design's basis."""

    airflow_m3_s: float
    expanded_uncertainty_m3_s: float
    design_m3_s: float

    @property
    def deviation(self) -> float:
        return self.airflow_m3_s / self.design_m3_s - 1.0

    @property
    def relative_uncertainty(self) -> float:
        return self.expanded_uncertainty_m3_s / self.design_m3_s

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "SisterPort":
        return cls(*(q.si(data[name]) for name in ("airflow", "expanded_uncertainty", "design")))


@dataclass(frozen=True, slots=True)
class Sister:
    tag: str
    ports: Mapping[str, SisterPort]

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "Sister":
        return cls(data["tag"], {name: SisterPort.from_json(port) for name, port in data["ports"].items()})


class SisterPortModel(q.Closed):
    airflow: q.Airflow
    expanded_uncertainty: q.Airflow
    design: q.Airflow

    @model_validator(mode="after")
    def _is_designed(self) -> "SisterPortModel":
        if not q.si(self.design) > 0.0:
            raise ValueError("a sister's port is held against its design, which is above 0")
        return self


class SisterModel(q.Closed):
    """Another unit of the same building, system and kind with finals that stand, as a judging document names it."""

    tag: Annotated[str, StringConstraints(min_length=1, max_length=200)]
    ports: dict[Literal["supply", "return", "outdoor", "exhaust"], SisterPortModel] = Field(min_length=1)


def whose(sisters: Sequence[Sister], port: str, readings: Mapping[str, float], design_m3_s: float) -> Sister | None:
    """The sister of another design whose own readings these are, at every port that both have and at two or more."""
    for one in sisters:
        hers = one.ports.get(port)
        shared = one.ports.keys() & readings.keys()
        if hers is None or len(shared) < 2 or port not in shared or not _is_hers(hers, design_m3_s):
            continue
        if all(_is_same(readings[name], one.ports[name].airflow_m3_s) for name in shared):
            return one
    return None


def _is_same(one_m3_s: float, other_m3_s: float) -> bool:
    return abs(one_m3_s - other_m3_s) <= SAME_READING * abs(other_m3_s)


def _is_hers(port: SisterPort, design_m3_s: float) -> bool:
    """Whether she is in order, and asked for something else: else the same cause may give the same readings."""
    other = abs(port.design_m3_s / design_m3_s - 1.0) > OTHER_DESIGN
    return other and abs(port.deviation) <= NEAR_DESIGN


def in_words(
    sisters: Sequence[Sister], final: Measurement, design_m3_s: float, owner: Sister | None
) -> tuple[str, ...]:
    """What the nearest sisters in design read, and what that says of this port."""
    beside = [(one, one.ports[final.port]) for one in sisters if final.port in one.ports]
    beside.sort(key=lambda pair: (pair[0] is not owner, abs(math.log(pair[1].design_m3_s / design_m3_s))))
    told = beside[:MOST_TOLD]
    if not told:
        return ()
    lines = " ".join(_reads(one, port, design_m3_s) for one, port in told)
    return (f"{lines} {_says(told, final, design_m3_s, owner)}",)


def _reads(one: Sister, port: SisterPort, design_m3_s: float) -> str:
    """In per cent: whoever reads it may have chosen other units than the project's."""
    other = port.design_m3_s / design_m3_s
    same = abs(other - 1.0) <= SAME_DESIGN
    design = "its own design, the same" if same else f"its own design, {printing.percent(other)} of this one"
    wide = printing.percent_uncertainty(port.relative_uncertainty)
    return f"Its sister {one.tag} reads {printing.percent(port.deviation + 1.0)} of {design} (±{wide})."


def _says(
    told: Sequence[tuple[Sister, SisterPort]], final: Measurement, design_m3_s: float, owner: Sister | None
) -> str:
    if owner is not None:
        return f"At every port that both have, the readings here are those of {owner.tag}: was it the right unit?"
    own = final.airflow_m3_s / design_m3_s - 1.0
    alike = [one.tag for one, port in told if _is_alike(own, port, final.expanded_uncertainty_m3_s / design_m3_s)]
    if alike:
        names = alike[0] if len(alike) == 1 else f"{', '.join(alike[:-1])} and {alike[-1]}"
        return (
            f"{names} {'is' if len(alike) == 1 else 'are'} off alike: look first at what they share, the design value, "
            "the duct or riser, the instrument and its factor."
        )
    if all(abs(port.deviation) <= NEAR_DESIGN for _, port in told):
        return "What they share is in order there: look first at what is this unit's own."
    return "They are not off alike: look at each by itself."


def _is_alike(own: float, port: SisterPort, relative_uncertainty: float) -> bool:
    if abs(port.deviation) <= NEAR_DESIGN or own * port.deviation <= 0.0:
        return False
    return abs(own - port.deviation) <= math.hypot(relative_uncertainty, port.relative_uncertainty)
