"""Whether another fan speed would bring a port to its design, and what that would do to the motor.

A speed is the last remedy: only where the table of diagnosis leaves no other cause standing. Under a control the
setpoint changes and not the speed. The fan laws reach 20 % of speed; each further reading on the unchanged system
refines the prediction.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from commissioning.dossier import printing
from commissioning.dossier.diagnosis import listed
from commissioning.dossier.given import FanDesign
from commissioning.dossier.motor import motor_of
from commissioning.dossier.results import Measurement
from commissioning.dossier.stream import STREAM_OF, mixes, snapshot, stream_of
from commissioning.dossier.view import View
from commissioning.engineering.diagnosis import Cause
from commissioning.engineering.diagnosis_table import Quantity
from commissioning.engineering.fan_system import NextSetting, next_setting
from commissioning.engineering.fans import FanPoint, motor_load_fraction, predicted_current_a
from commissioning.engineering.guards import OutOfRange

SAME_SYSTEM = 0.10  # of pressure over airflow squared: further apart, something was moved in between


@dataclass(frozen=True, slots=True)
class Remedy:
    """What would bring the port to its design: `kind` is speed, setpoint, refused or look_first."""

    kind: str
    text: str
    data: dict[str, Any]


def remedy(view: View, final: Measurement, target_m3_s: float, causes: Sequence[Cause]) -> Remedy | None:
    """Whether another fan speed would bring this final to its target, and what that would do to the motor."""
    fan = STREAM_OF[final.port]
    reading = next((one for one in final.fans if one["fan"] == fan), None)
    if reading is None or final.airflow_m3_s <= 0.0:
        return None
    control = reading["control"]
    told = {"fan": fan, "control": control}
    if final.port == stream_of(final.port).inlet and mixes(view, final.port):
        text = "No speed is predicted: other air joins before the fan, so the dampers share out what this port gets."
        return Remedy("look_first", text, told)
    if control == "pressure":
        text = f"The {fan} fan holds a pressure: change its setpoint, not its speed, once the steps above are done."
        return Remedy("setpoint", text, told)
    if control in ("constant_airflow", "follows"):
        held = "holds an airflow" if control == "constant_airflow" else "follows the other fan"
        text = f"The {fan} fan {held}: change that setpoint, not its speed, once the steps above are done."
        return Remedy("setpoint", text, told)
    missing = _missing(final, reading) or _other_causes(causes)
    if missing:
        return Remedy("look_first", f"No speed is predicted: {missing}.", told)
    return _by_speed(view, final, target_m3_s, reading)


def _missing(final: Measurement, reading: dict[str, Any]) -> str:
    if reading["control"] != "constant_speed":
        return "how the fan is controlled was not seen"
    if not reading["speed_rpm"]:
        return "the fan speed was not read"
    if final.unseen:
        return f"nobody looked at {listed(list(final.unseen))}"
    if final.state.get("filters") == "loaded":
        return "the filters are loaded; change them and read again"
    return ""


def _other_causes(causes: Sequence[Cause]) -> str:
    standing = [cause for cause in causes if cause.stands]
    others = [cause for cause in standing if not cause.leaves_speed]
    if others:
        named = " ".join(cause.sentence for cause in others[:3])
        return f"the readings leave other causes standing ({named.rstrip('.')})"
    if not standing:
        return "the readings do not tell the causes apart; take the static profile, speed and current"
    return ""


def _by_speed(view: View, final: Measurement, target_m3_s: float, reading: dict[str, Any]) -> Remedy:
    fan, speed = reading["fan"], float(reading["speed_rpm"])
    design, display = view.place.fans.get(fan), view.conventions.display
    data: dict[str, Any] = {"fan": fan, "control": reading["control"], "speed_rpm": speed, "target_m3_s": target_m3_s}
    try:
        setting = _setting(view, final, target_m3_s, speed)
    except OutOfRange:
        return Remedy(
            "refused",
            f"Design is more than 20 % of speed away from {speed:.0f} rpm: the fan laws do not reach there. "
            "Find what else is wrong.",
            data,
        )
    wanted = setting.speed_rpm
    data |= {"predicted_speed_rpm": wanted, "predicted_airflow_m3_s": target_m3_s, "points": setting.points}
    if setting.pressure_pa is not None:
        data["predicted_static_pa"] = setting.pressure_pa
    if design is not None and design.maximum_speed_rpm is not None and wanted > design.maximum_speed_rpm:
        data["maximum_speed_rpm"] = design.maximum_speed_rpm
        text = f"Design would take {wanted:.0f} rpm, above the largest allowed of {design.maximum_speed_rpm:.0f} rpm."
        return Remedy("refused", text, data)
    flow = f"{printing.airflow(target_m3_s, display)} {printing.airflow_unit(display)}"
    by = f", by the {setting.points} readings on it," if setting.points > 1 else ""
    text = f"On the unchanged system{by} about {wanted:.0f} rpm (now {speed:.0f} rpm) would move {flow}"
    return _with_motor(text, wanted / speed, reading, design, data)


def _setting(view: View, final: Measurement, target_m3_s: float, speed_rpm: float) -> NextSetting:
    """From this reading and the earlier ones on the same system, in their order."""
    points = [point for one in view.of(final.port) if (point := _point(view, one, final)) is not None]
    here = snapshot(view, final).get(Quantity.DISCHARGE)
    points.append(FanPoint(speed_rpm, airflow_m3_s=final.airflow_m3_s, pressure_pa=here[0] if here else None))
    uncertainty = min(max(final.standard_uncertainty_m3_s / final.airflow_m3_s, 0.001), 0.3)
    return next_setting(points=points, required_airflow_m3_s=target_m3_s, relative_uncertainty=uncertainty)


def _point(view: View, one: Measurement, final: Measurement) -> FanPoint | None:
    """An earlier reading as a point of the system, if what was read shows that the system is still the same."""
    if one.when >= final.when or one.mode != final.mode or one.state != final.state or one.airflow_m3_s <= 0.0:
        return None
    now, then = snapshot(view, final), snapshot(view, one)
    speed, p_now, p_then = then.get(Quantity.SPEED), now.get(Quantity.DISCHARGE), then.get(Quantity.DISCHARGE)
    if speed is None or p_now is None or p_then is None:
        return None
    apart = (p_then[0] / one.airflow_m3_s**2) / (p_now[0] / final.airflow_m3_s**2) - 1.0
    if abs(apart) > SAME_SYSTEM:
        return None
    return FanPoint(speed[0], airflow_m3_s=one.airflow_m3_s, pressure_pa=p_then[0])


def _with_motor(
    text: str, ratio: float, reading: dict[str, Any], design: FanDesign | None, data: dict[str, Any]
) -> Remedy:
    currents = reading["current_a"]
    if not currents or design is None or not design.nameplate_current_a:
        return Remedy("speed", f"{text}; the motor's current or its nameplate is missing: read both first.", data)
    now = sum(currents) / len(currents)
    nameplate = design.nameplate_current_a
    service_factor = motor_of(design, {}, drive_seen=False)[0].counted_service_factor
    predicted = float(predicted_current_a(current_a=now, speed_ratio=ratio))
    share = float(motor_load_fraction(current_a=predicted, full_load_current_a=nameplate))
    data |= {
        "current_a": now,
        "predicted_current_a": predicted,
        "nameplate_current_a": nameplate,
        "share_of_nameplate": share,
        "service_factor": service_factor,
    }
    load = f"about {predicted:.3g} A, {printing.percent(share)} of the nameplate's {nameplate:g} A"
    if share > service_factor:
        return Remedy("refused", f"{text}, but at {load}: more than the motor may carry.", data)
    return Remedy("speed", f"{text}, at {load}. Read the current again after the change.", data)
