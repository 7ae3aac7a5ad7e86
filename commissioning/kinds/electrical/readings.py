"""From what a meter showed to figures: voltage and its unbalance, current and its unbalance, speed, frequency.

One meter's error is common to the legs that it read: in an unbalance it cancels as far as it is proportional.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from commissioning.dossier.figures import Figure, measured
from commissioning.dossier.given import FanDesign, Instrument
from commissioning.dossier.instrument_error import of_instrument
from commissioning.dossier.motor import Motor
from commissioning.dossier.quantities import si, si_values
from commissioning.engineering.motors import unbalance
from commissioning.engineering.uncertainty import Component
from commissioning.kinds.electrical import uncertainty_terms as terms
from commissioning.kinds.electrical.payload import CurrentReading, FanElectrical, VoltageReading

NEMA_UNBALANCE = "NEMA MG 1, 12.45 and 14.36 (from memory)"
_BEHIND = "the drive makes the voltage behind it; read the three before it"
_CANCELLED = 1e-12  # what is left of an error that cancels: bits of the machine
_NO_SIDE = "the design has a drive; on which side of it was the meter?"
_INPUT = "a clamp before a drive reads the drive's current, not the motor's"


@dataclass(frozen=True, slots=True)
class Setting:
    """What a fan's readings are evaluated with."""

    fan: FanElectrical
    motor: Motor
    design: FanDesign | None
    not_applicable: Mapping[str, str]
    tools: Mapping[str, Instrument]
    coverage_probability: float

    def tool(self, instrument: Any) -> Instrument | None:
        return self.tools.get(str(instrument)) if instrument is not None else None

    def figure(self, name: str, value: float, unit: str, parts: Sequence[Component], **told: Any) -> Figure:
        return measured(
            name, value, unit, parts, coverage_probability=self.coverage_probability, at=self.fan.fan, **told
        )

    @property
    def to_lines(self) -> float:
        """What carries the voltages that were read to those between lines, as if they were balanced."""
        given = self.fan.voltage
        if given is None or given.between == "lines":
            return 1.0
        phases = self.motor.phases or len(given.readings.values)
        return math.sqrt(3.0) if phases == 3 else 1.0

    @property
    def side_unknown(self) -> tuple[str, ...]:
        return (_NO_SIDE,) if self.motor.has_drive and self.fan.read_at == "motor" else ()


def listed(values: Sequence[float], unit: str) -> str:
    return f"{', '.join(f'{v:g}' for v in values)} {unit}".strip()


def voltage(setting: Setting) -> Iterator[Figure]:
    given = setting.fan.voltage
    if given is None:
        return
    values, tool = np.asarray(si_values(given.readings)), setting.tool(given.instrument)
    scale = setting.to_lines
    slopes = np.full(len(values), scale / len(values))
    root = " √3" if scale > 1.0 else ""
    yield setting.figure(
        "voltage",
        float(np.dot(slopes, values)),
        "V",
        [*of_instrument(tool, list(values), slopes, "voltage"), _wander(values, slopes, terms.VOLTAGE_WANDER)],
        equation=f"V = mean(V_i){root}" + (", between lines, as if balanced" if root else ""),
        inputs=_voltages(given),
        doubts=setting.side_unknown,
    )
    yield from _voltage_unbalance(setting, given, values, tool)


def _voltage_unbalance(
    setting: Setting, given: VoltageReading, values: Any, tool: Instrument | None
) -> Iterator[Figure]:
    if len(values) != 3 or "voltage_unbalance" in setting.not_applicable or not np.any(values):
        return
    doubts = [*setting.side_unknown]
    if setting.motor.kind is None:
        doubts.append("nobody has stated what kind of motor it is")
    if given.between == "line_and_neutral":
        doubts.append("the unbalance is that of the voltages between lines; these are to neutral")
    if setting.fan.read_at == "drive_output":
        doubts.append(_BEHIND)
    yield _unbalance(
        setting,
        "voltage_unbalance",
        values,
        [tool, "voltage", terms.VOLTAGE_WANDER],
        equation="u = max|V_i − mean| / mean",
        source=NEMA_UNBALANCE,
        inputs=_voltages(given),
        doubts=tuple(doubts),
    )


def current(setting: Setting) -> Iterator[Figure]:
    """The highest leg of the motor's own current, from the drive's display where there is one."""
    given, fan = setting.fan.current, setting.fan
    if fan.drive is not None and fan.drive.current is not None:
        shown = fan.drive.current
        value = si(shown)
        parts = [Component("drive's display", terms.DRIVE_DISPLAY * value, source=terms.SOURCE)]
        inputs = (("shown by the drive", f"{shown.value:g} {shown.unit}"),)
        yield setting.figure("current", value, "A", parts, equation="I as the drive shows its output", inputs=inputs)
    elif given is not None:
        yield _highest_leg(setting, given)
    if given is not None:
        yield from _current_unbalance(setting, given)


def _highest_leg(setting: Setting, given: CurrentReading) -> Figure:
    values = np.asarray(si_values(given.readings))
    highest = int(np.argmax(values))
    slopes = np.zeros(len(values))
    slopes[highest] = 1.0
    tool = setting.tool(given.instrument)
    parts = [*of_instrument(tool, list(values), slopes, "current"), _wander(values, slopes, terms.CURRENT_WANDER)]
    doubts = setting.side_unknown
    if setting.fan.read_at == "drive_output":
        parts.append(Component("meter behind a drive", terms.BEHIND_DRIVE * values[highest], source=terms.SOURCE))
    elif setting.fan.read_at == "drive_input":
        doubts = (_INPUT,)
    return setting.figure(
        "current",
        float(values[highest]),
        "A",
        parts,
        equation="I = the highest leg" if len(values) > 1 else "I as read",
        inputs=_currents(setting, given),
        doubts=doubts,
    )


def _current_unbalance(setting: Setting, given: CurrentReading) -> Iterator[Figure]:
    values = np.asarray(si_values(given.readings))
    if len(values) != 3 or "current_unbalance" in setting.not_applicable or not np.any(values):
        return
    doubts = [*setting.side_unknown]
    if setting.motor.kind is None:
        doubts.append("nobody has stated what kind of motor it is")
    if setting.fan.read_at == "drive_input":
        doubts.append(_INPUT)
    yield _unbalance(
        setting,
        "current_unbalance",
        values,
        [setting.tool(given.instrument), "current", terms.CURRENT_WANDER],
        equation="u = max|I_i − mean| / mean",
        source="as for voltages: " + NEMA_UNBALANCE,
        inputs=_currents(setting, given),
        doubts=tuple(doubts),
    )


def _unbalance(setting: Setting, name: str, values: Any, read_with: Sequence[Any], **told: Any) -> Figure:
    tool, quantity, wander = read_with
    slopes = _slopes_of_unbalance(values)
    parts = [*of_instrument(tool, list(values), slopes, quantity), _wander(values, slopes, wander)]
    parts = [replace(one, standard_uncertainty=0.0) if abs(one.contribution) < _CANCELLED else one for one in parts]
    return setting.figure(name, float(unbalance(legs=values)), "1", parts, **told)


def _slopes_of_unbalance(values: Any) -> Any:
    """∂u/∂x_i of u = s (x_k / mean − 1), x_k the worst and s its sign."""
    mean = float(np.mean(values))
    worst = int(np.argmax(np.abs(values - mean)))
    sign = 1.0 if values[worst] >= mean else -1.0
    slopes = np.full(len(values), -sign * values[worst] / (len(values) * mean**2))
    slopes[worst] += sign / mean
    return slopes


def speed(setting: Setting) -> Iterator[Figure]:
    given = setting.fan.speed
    if given is None:
        return
    value = si(given.speed)
    parts = [
        *of_instrument(setting.tool(given.instrument), [value], [1.0], "rotational speed"),
        _wander(np.array([value]), np.array([1.0]), terms.SPEED_WANDER),
    ]
    if given.by in ("drive_display", "controller"):
        parts.append(Component("display", terms.DRIVE_DISPLAY * value, source=terms.SOURCE))
    told = (("of", given.of), ("by", given.by.replace("_", " ")), ("speed", f"{given.speed.value:g} rpm"))
    yield setting.figure("speed", value, "rpm", parts, equation="N as read", inputs=told)


def seen(setting: Setting) -> Iterator[Figure]:
    """What was read off a dial or a display and carries no uncertainty of ours."""
    fan = setting.fan
    if fan.overload is not None and fan.overload.setting is not None:
        told = (("set at the", fan.overload.protection),)
        value = si(fan.overload.setting)
        yield Figure("overload_setting", fan.fan, value, "A", equation="as it is set", inputs=told)
    if fan.frequency is not None:
        yield Figure("frequency", fan.fan, si(fan.frequency), "Hz", equation="of the mains, as read")
    if fan.drive is not None and fan.drive.frequency is not None:
        value = si(fan.drive.frequency)
        yield Figure("drive_frequency", fan.fan, value, "Hz", equation="as the drive shows its output")


def _wander(values: Any, slopes: Any, relative: float) -> Component:
    size = float(np.linalg.norm(np.asarray(slopes) * np.asarray(values))) * relative
    return Component("between readings", size, source=terms.SOURCE)


def _voltages(given: VoltageReading) -> tuple[tuple[str, str], ...]:
    return (
        (f"voltages between {given.between.replace('_', ' ')}", listed(given.readings.values, given.readings.unit)),
    )


def _currents(setting: Setting, given: CurrentReading) -> tuple[tuple[str, str], ...]:
    where = setting.fan.read_at.replace("_", " ")
    return ((f"legs, at the {where}", listed(given.readings.values, given.readings.unit)),)
