"""A fan's motor as it is known: from its nameplate where somebody read it, else from the design. What applies to it.

What cannot apply to a motor is not applicable, never missing: one phase has no unbalance, electronics have nothing to
set. Which is which stands in `engineering.drives`.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from commissioning.blocks import Caution
from commissioning.dossier.given import FanDesign
from commissioning.engineering.drives import MotorKind, allowed_service_factor, what_applies

LIVE_PARTS = Caution(
    "Voltages and currents are read on live parts, and only by a qualified person: with the site's permit and a meter "
    "and leads rated for the circuit, protected against an arc as the local code asks. A drive holds its charge after "
    "it is isolated: wait as long as its maker says, then prove that it is dead. Fans start by themselves, and "
    "windmill. Nothing here says that a panel is safe to open, or a motor safe to energise.",
    "live parts and stored charge",
)
LEAST_CURRENT_A, LEAST_VOLTAGE_V, LEAST_POWER_W = 0.01, 1.0, 1.0  # less is on no nameplate
_SAME = 0.01  # nameplate and schedule that differ by less say the same
_PHASES = {"single_phase": 1, "three_phase": 3}
_NUMBERS = {
    "current_a": ("current", " A", 1.0),
    "voltage_v": ("voltage", " V", 1.0),
    "power_w": ("power", " kW", 1000.0),
    "service_factor": ("service factor", "", 1.0),
}
_WORDS = {
    "single_phase": "single-phase",
    "three_phase": "three-phase",
    "electronically_commutated": "electronically commutated",
}


@dataclass(frozen=True, slots=True)
class Motor:
    """What is known of a motor; `sources` says of each field where it comes from."""

    kind: str | None = None  # as `MotorKind`
    phases: int | None = None
    has_drive: bool = False
    current_a: float | None = None
    voltage_v: float | None = None
    power_w: float | None = None
    speed_rpm: float | None = None  # of the motor, not of the fan
    service_factor: float = 1.0
    temperature_rise_k: float | None = None
    drive_service_factor: float | None = None
    sources: Mapping[str, str] = field(default_factory=dict)

    @property
    def words(self) -> str:
        if self.kind is None:
            return "a motor of a kind that nobody has stated"
        return f"{_WORDS[self.kind]} motor{' on a drive' if self.has_drive else ''}"

    @property
    def counted_service_factor(self) -> float:
        """1.0 on a drive or an electronic motor, unless the motor's maker allows more on a drive."""
        if self.kind is None:
            return 1.0
        on_drive = self.drive_service_factor if self.has_drive else None
        return allowed_service_factor(
            motor=MotorKind(self.kind),
            has_drive=self.has_drive,
            service_factor=on_drive or self.service_factor,
            maker_allows_on_drive=on_drive is not None,
        )

    def to_json(self) -> dict[str, Any]:
        return asdict(self)


def motor_of(design: FanDesign | None, seen: Mapping[str, Any], *, drive_seen: bool) -> tuple[Motor, tuple[str, ...]]:
    """The motor, and where its nameplate says another thing than the schedule. `seen` is the nameplate, in SI."""
    scheduled = _completed(_scheduled(design))
    seen = _completed(seen, beside=scheduled.get("kind"))
    known = {**scheduled, **seen}
    sources = {name: "nameplate as seen" if name in seen else _source(design, name) for name in known}
    has_drive = drive_seen or bool(design and design.has_drive)
    motor = Motor(**known, has_drive=has_drive, sources=sources)
    return motor, _differences(scheduled, seen)


def not_applicable(motor: Motor) -> dict[str, str]:
    """What means nothing at this motor, each with its reason."""
    if motor.kind is None:
        return {}
    found = what_applies(motor=MotorKind(motor.kind), has_drive=motor.has_drive)
    return {one.quantity.value: one.why for one in found if not one.applies}


def _completed(given: Mapping[str, Any], *, beside: str | None = None) -> dict[str, Any]:
    """Kind and phases tell one another, but for an electronic motor: it has one or three."""
    known = dict(given)
    if known.get("kind") in _PHASES:
        known["phases"] = _PHASES[known["kind"]]
    elif "kind" not in known and "phases" in known and beside != "electronically_commutated":
        known["kind"] = "three_phase" if known["phases"] == 3 else "single_phase"
    return known


def _scheduled(design: FanDesign | None) -> dict[str, Any]:
    if design is None:
        return {}
    given = {
        "kind": design.motor,
        "phases": design.phases,
        "current_a": _at_least(LEAST_CURRENT_A, design.nameplate_current_a),
        "voltage_v": _at_least(LEAST_VOLTAGE_V, design.voltage_v),
        "power_w": _at_least(LEAST_POWER_W, design.motor_power_w),
        "service_factor": design.service_factor if design.service_factor > 1.0 else None,
        "drive_service_factor": design.drive_service_factor,
    }
    return {name: value for name, value in given.items() if value is not None}


def _at_least(least: float, value: float | None) -> float | None:
    return value if value is not None and value >= least else None


_DESIGN_FIELDS = {
    "kind": "motor",
    "current_a": "nameplate_current",
    "voltage_v": "voltage",
    "power_w": "motor_power",
}


def _source(design: FanDesign | None, name: str) -> str:
    return "" if design is None else design.sources.get(_DESIGN_FIELDS.get(name, name), "")


def _differences(scheduled: Mapping[str, Any], seen: Mapping[str, Any]) -> tuple[str, ...]:
    told = []
    for name, (words, unit, size) in _NUMBERS.items():
        here, there = seen.get(name), scheduled.get(name)
        if here is not None and there is not None and abs(here - there) > _SAME * there:
            told.append(f"its {words} is {here / size:.3g}{unit}, scheduled {there / size:.3g}{unit}")
    for name in ("kind", "phases"):
        here, there = seen.get(name), scheduled.get(name)
        if here is not None and there is not None and here != there:
            told.append(f"its {name} is {_WORDS.get(str(here), here)}, scheduled {_WORDS.get(str(there), there)}")
            break  # the kind tells the phases
    return tuple(told)
