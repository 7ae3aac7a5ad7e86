"""Power that a fan takes and gives to its shaft, and the load of its motor: for information, and for fan power.

The power taken is that at the mains, drive included: it is what specific fan power counts.
"""

from collections.abc import Iterator

import numpy as np

from commissioning.dossier.figures import Figure
from commissioning.dossier.instrument_error import of_instrument
from commissioning.dossier.quantities import si, si_values
from commissioning.engineering.drives import synchronous_speed_rpm
from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.motors import (
    is_load_estimate_credible,
    motor_load_fraction,
    service_factor_load,
    shaft_power_w,
    single_phase_power_w,
    slip_load_fraction,
    three_phase_power_w,
)
from commissioning.engineering.uncertainty import Component
from commissioning.kinds.electrical import uncertainty_terms as terms
from commissioning.kinds.electrical.readings import Setting, listed

_LEAST_VOLTAGE_V = 1.0
DOE = "US DOE fact sheet on motor load and efficiency"
_WEAK = "a load estimated from {} is for information"


def power(setting: Setting) -> Iterator[Figure]:
    taken = _metered(setting) or _from_volts_and_amps(setting) or _from_drive(setting)
    if taken is None:
        return
    yield taken
    shaft = _shaft(setting, taken)
    if shaft is not None:
        yield shaft
        yield from _service_factor_load(setting, shaft)


def _at_mains(setting: Setting) -> bool:
    return setting.fan.read_at != "drive_output"


def _metered(setting: Setting) -> Figure | None:
    given = setting.fan.power
    if given is None or not _at_mains(setting):
        return None
    value = si(given.power)
    parts = [
        *of_instrument(setting.tool(given.instrument), [value], [1.0], "power"),
        Component("between readings", terms.POWER_WANDER * value, source=terms.SOURCE),
    ]
    told = (("power meter", f"{given.power.value:g} {given.power.unit}"),)
    return setting.figure("electrical_power", value, "W", parts, equation="P as read", inputs=told)


def _from_volts_and_amps(setting: Setting) -> Figure | None:
    fan, phases = setting.fan, setting.motor.phases
    if fan.voltage is None or fan.current is None or fan.power_factor is None or not _at_mains(setting):
        return None
    volts, amps = np.asarray(si_values(fan.voltage.readings)), np.asarray(si_values(fan.current.readings))
    factor = np.asarray(fan.power_factor.values)
    v, i, pf = (float(np.mean(one)) for one in (volts, amps, factor))
    if v < _LEAST_VOLTAGE_V or min(i, pf) <= 0.0:
        return None
    if phases == 3:
        value = float(three_phase_power_w(voltage_v=setting.to_lines * v, current_a=amps, power_factor=factor))
        equation = "P = √3 mean(V) mean(I) mean(pf)"
    elif phases == 1 and len(volts) == len(amps) == len(factor) == 1:
        held = {"voltage_v": float(volts[0]), "current_a": float(amps[0]), "power_factor": float(factor[0])}
        value, equation = float(single_phase_power_w(**held)), "P = V I pf"
    else:
        return None
    meter, clamp = setting.tool(fan.voltage.instrument), setting.tool(fan.current.instrument)
    per_volt, per_amp = np.full(len(volts), value / v / len(volts)), np.full(len(amps), value / i / len(amps))
    parts = [
        *of_instrument(meter, list(volts), per_volt, "voltage", name="voltmeter"),
        *of_instrument(clamp, list(amps), per_amp, "current", name="ammeter"),
        Component("power factor", terms.POWER_FACTOR, value / pf, source=terms.SOURCE),
        Component("between readings", terms.POWER_WANDER * value, source=terms.SOURCE),
    ]
    told = (
        ("voltages", listed(fan.voltage.readings.values, fan.voltage.readings.unit)),
        ("legs", listed(fan.current.readings.values, fan.current.readings.unit)),
        ("power factor", listed(fan.power_factor.values, "")),
    )
    return setting.figure(
        "electrical_power", value, "W", parts, equation=equation, source=DOE, inputs=told, doubts=setting.side_unknown
    )


def _from_drive(setting: Setting) -> Figure | None:
    shown = setting.fan.drive.power if setting.fan.drive else None
    if shown is None:
        return None
    given = setting.design.drive_efficiency if setting.design else None
    efficiency = given or terms.DRIVE_EFFICIENCY
    value = si(shown) / efficiency
    parts = [
        Component("drive's display", terms.DRIVE_DISPLAY * value, source=terms.SOURCE),
        Component("drive's efficiency", terms.DRIVE_EFFICIENCY_SPREAD * value / efficiency, source=terms.SOURCE),
    ]
    source = "of the design" if given else terms.SOURCE
    told = (
        ("shown by the drive, its output", f"{shown.value:g} {shown.unit}"),
        ("drive's efficiency", f"{efficiency:g}, {source}"),
    )
    return setting.figure("electrical_power", value, "W", parts, equation="P = P_output / η_drive", inputs=told)


def _shaft(setting: Setting, taken: Figure) -> Figure | None:
    design = setting.design
    if design is None or design.motor_efficiency is None or not taken.standard_uncertainty:
        return None
    drive = (design.drive_efficiency or terms.DRIVE_EFFICIENCY) if setting.motor.has_drive else 1.0
    efficiency = drive * design.motor_efficiency
    value = float(shaft_power_w(electrical_power_w=taken.value, efficiency=efficiency))
    spread = terms.MOTOR_EFFICIENCY_SPREAD / design.motor_efficiency * value
    parts = [
        Component("electric power", taken.standard_uncertainty, efficiency, source="the budget of the power taken"),
        Component("motor's efficiency", spread, source=terms.SOURCE),
    ]
    told = (
        ("electric power", f"{taken.value:.6g} W"),
        ("motor's efficiency", f"{design.motor_efficiency:g}"),
        *((("drive's efficiency", f"{drive:g}"),) if setting.motor.has_drive else ()),
    )
    return setting.figure("shaft_power", value, "W", parts, equation="P_shaft = P η", inputs=told, doubts=taken.doubts)


def _service_factor_load(setting: Setting, shaft: Figure) -> Iterator[Figure]:
    rated = setting.motor.power_w
    if rated is None or shaft.standard_uncertainty is None:
        return
    factor = setting.motor.counted_service_factor
    value = float(service_factor_load(shaft_power_w=shaft.value, rated_power_w=rated, service_factor=factor))
    parts = [Component("shaft power", shaft.standard_uncertainty, 1.0 / (rated * factor))]
    told = (("rated power", f"{rated:g} W"), ("service factor", f"{factor:g}"))
    yield setting.figure(
        "shaft_load", value, "1", parts, equation="P_shaft / (SF P_rated)", inputs=told, doubts=shaft.doubts
    )


def load(setting: Setting) -> Iterator[Figure]:
    """The load from amps and from slip. Both are estimates, shown and never judged."""
    if setting.motor.kind in (None, "electronically_commutated"):
        return
    yield from _load_from_amps(setting)
    yield from _load_from_slip(setting)


def _load_from_amps(setting: Setting) -> Iterator[Figure]:
    fan, motor = setting.fan, setting.motor
    if not motor.current_a:
        return
    if fan.drive is not None and fan.drive.current is not None:
        amps, volts = si(fan.drive.current), None
    elif fan.current is not None and fan.read_at == "motor":
        amps = float(np.mean(si_values(fan.current.readings)))
        volts = _volts(setting) if motor.voltage_v else None
    else:
        return
    value = float(
        motor_load_fraction(
            current_a=amps,
            full_load_current_a=motor.current_a,
            voltage_v=volts,
            rated_voltage_v=motor.voltage_v if volts else None,
        )
    )
    doubts = [_WEAK.format("amps")]
    if not is_load_estimate_credible(load_fraction=value):
        doubts.append("at half load and below the magnetising current hides the load")
    told: tuple[tuple[str, str], ...] = (("mean current", f"{amps:.5g} A"), ("nameplate", f"{motor.current_a:g} A"))
    if volts:
        told = (*told, ("mean voltage", f"{volts:.5g} V of {motor.voltage_v:g} V"))
    equation = "(I / I_n) (V / V_n)" if volts else "I / I_n"
    yield Figure(
        "load_from_amps", fan.fan, value, "1", equation=equation, source=DOE, inputs=told, doubts=tuple(doubts)
    )


def _volts(setting: Setting) -> float | None:
    given = setting.fan.voltage
    if given is None:
        return None
    mean = setting.to_lines * float(np.mean(si_values(given.readings)))
    return mean if mean >= _LEAST_VOLTAGE_V else None


def _load_from_slip(setting: Setting) -> Iterator[Figure]:
    fan, motor = setting.fan, setting.motor
    told = (fan.speed is None or fan.speed.of != "motor", motor.speed_rpm is None, fan.frequency is None)
    if any(told) or "slip" in setting.not_applicable or fan.speed is None or fan.frequency is None:
        return
    rated, frequency, read = float(motor.speed_rpm or 0.0), si(fan.frequency), si(fan.speed.speed)
    try:
        poles = 2 * int(60.0 * frequency / rated)
        synchronous = float(synchronous_speed_rpm(frequency_hz=frequency, poles=poles))
        value = float(slip_load_fraction(speed_rpm=read, synchronous_speed_rpm=synchronous, rated_speed_rpm=rated))
    except OutOfRange:
        return  # faster than its field, or no induction motor's nameplate: no slip to tell a load from
    parts = [
        Component("nameplate's slip", terms.NAMEPLATE_SLIP / 3.0**0.5 * value, source=DOE),
        *of_instrument(setting.tool(fan.speed.instrument), [read], [-1.0 / (synchronous - rated)], "rotational speed"),
    ]
    inputs = (
        ("motor speed", f"{read:g} rpm"),
        ("synchronous", f"{synchronous:g} rpm, {poles} poles"),
        ("nameplate", f"{rated:g} rpm"),
    )
    yield setting.figure(
        "load_from_slip",
        value,
        "1",
        parts,
        equation="(N_s − N) / (N_s − N_n)",
        source=DOE,
        inputs=inputs,
        doubts=(_WEAK.format("slip"),),
    )
