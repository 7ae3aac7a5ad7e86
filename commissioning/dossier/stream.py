"""What was read along one fan's stream, against an earlier good reading of the same unit or against the design.

An earlier reading is a reference when it was taken in another session, in the same mode, in a state that allows a
verdict, and came within 10 % of the design: then everything that was read both times is compared. Else the design is
the reference, with wider uncertainties: a schedule's static pressure and speed are what somebody expected.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeAlias

from commissioning.dossier import pressure_parts, sisters
from commissioning.dossier.figures import Figures
from commissioning.dossier.results import Absence, Measurement
from commissioning.dossier.sisters import Sister
from commissioning.dossier.view import View
from commissioning.engineering.diagnosis import Change, Symptoms, relative_change
from commissioning.engineering.diagnosis_table import Quantity

Q = Quantity
Reading: TypeAlias = tuple[float, float]  # value in SI, relative standard uncertainty
Snapshot: TypeAlias = dict[Quantity, Reading]

NEAR_DESIGN = 0.10
MIXES = 0.25  # inlet and outlet designed further apart than this: other air joins in between
PRESSURE_RELATIVE, PRESSURE_PA = 0.03, 2.0
SPEED_RELATIVE, CURRENT_RELATIVE = 0.005, 0.02
LEAST_PRESSURE_PA = 5.0
USUAL_LOAD = 0.75  # of the nameplate's current; the next larger motor is the rule
BY_DESIGN = {Q.DISCHARGE: 0.20, Q.FILTER: 0.15, Q.CORE: 0.15, Q.SPEED: 0.05, Q.CURRENT: 0.25}


@dataclass(frozen=True, slots=True)
class Stream:
    """The ports of a stream, where its static pressures are recorded, and which parts of the state are its own."""

    fan: str
    inlet: str
    outlet: str
    inlet_static: str
    after_filter: tuple[str, ...]
    outlet_static: str
    dampers: Mapping[str, str]


STREAMS = {
    "supply": Stream(
        "supply",
        "outdoor",
        "supply",
        "outdoor_inlet",
        ("after_filter", "before_core"),
        "supply_outlet",
        {"outdoor_damper": "inlet_damper"},
    ),
    "exhaust": Stream(
        "exhaust", "return", "exhaust", "return_inlet", (), "exhaust_outlet", {"exhaust_damper": "outlet_damper"}
    ),
}
STREAM_OF = {"supply": "supply", "outdoor": "supply", "return": "exhaust", "exhaust": "exhaust"}
_SHARED_STATE = ("filters", "bypass", "doors", "others_on_riser", "wheel")


def stream_of(port: str) -> Stream:
    return STREAMS[STREAM_OF[port]]


def mixes(view: View, port: str) -> bool:
    """Whether other air joins between the two ports of the stream, as in an air handler that returns some."""
    stream = stream_of(port)
    designed = [
        view.place.ports[name].airflow_m3_s for name in (stream.inlet, stream.outlet) if name in view.place.ports
    ]
    if len(designed) < 2 or not all(designed):
        return False
    return abs(math.log((designed[0] or 1.0) / (designed[1] or 1.0))) > MIXES


def symptoms_of(view: View, final: Measurement, target_m3_s: float) -> Symptoms:
    """What changed along the stream of a port; nothing where the port's own air is not the fan's."""
    stream = stream_of(final.port)
    judged = Q.OUTLET_FLOW if final.port == stream.outlet else Q.INLET_FLOW
    if judged is Q.INLET_FLOW and mixes(view, final.port):
        return Symptoms({}, judged)
    now = snapshot(view, final)
    earlier = _good_before(view, final, target_m3_s)
    reference = snapshot(view, earlier) if earlier else _designed(view, final, target_m3_s)
    changes: dict[Quantity, Change] = {}
    for quantity, (value, u) in now.items():
        if quantity in reference:
            before, u_before = reference[quantity]
            changes[quantity] = relative_change(
                now=value, reference=before, relative_uncertainty=min(max(math.hypot(u, u_before), 0.001), 2.0)
            )
    seen = _seen(view, final, stream)
    if sister_whose(view, final, target_m3_s) is not None:
        seen["sister"] = ("matches",)
    return Symptoms(changes, judged, seen)


def sister_whose(view: View, final: Measurement, target_m3_s: float) -> Sister | None:
    """The sister whose readings these look like, by all finals that stand in the mode of this one."""
    if not view.place.sisters:
        return None
    standing = {port: view.final(port, (final.mode,)) for port in view.ports}
    readings = {port: one.airflow_m3_s for port, one in standing.items() if not isinstance(one, Absence)}
    return sisters.whose(view.place.sisters, final.port, readings, target_m3_s)


def snapshot(view: View, final: Measurement) -> Snapshot:
    """Everything that was read of the stream in the session and mode of one airflow reading."""
    stream = stream_of(final.port)
    found = {
        **_statics(final, stream),
        **_of_records(view, final, stream),
        **_fan(final, stream),
    }
    ports = {stream.inlet: Q.INLET_FLOW, stream.outlet: Q.OUTLET_FLOW}
    for port, quantity in ports.items():
        one = final if port == final.port else _beside(view, final, port)
        if one is not None and (port == final.port or not mixes(view, port)):
            found[quantity] = (one.airflow_m3_s, _relative(one.standard_uncertainty_m3_s, one.airflow_m3_s))
    return found


def _beside(view: View, final: Measurement, port: str) -> Measurement | None:
    """The reading of another port that belongs with this one: of the same record, else of the same session."""
    among = [
        one
        for one in view.of(port)
        if (one.session, one.mode, one.stage, one.purpose) == (final.session, final.mode, final.stage, final.purpose)
    ]
    same = [one for one in among if one.envelope == final.envelope]
    held = same or among
    return held[-1] if held else None


def _statics(final: Measurement, stream: Stream) -> Snapshot:
    at = dict(final.static_pressures)
    inlet, outlet = at.get(stream.inlet_static), at.get(stream.outlet_static)
    after = next((at[name] for name in stream.after_filter if name in at), None)
    found: Snapshot = {}
    if inlet is not None:
        found[Q.INTAKE] = _pressure(-inlet)
    if inlet is not None and after is not None:
        found[Q.FILTER] = _pressure(inlet - after)
    if outlet is not None:
        found[Q.DISCHARGE] = _pressure(outlet)
    return _worth_comparing(found)


def _fan(final: Measurement, stream: Stream) -> Snapshot:
    read = next((one for one in final.fans if one["fan"] == stream.fan), None)
    found: Snapshot = {}
    if read and read["speed_rpm"]:
        found[Q.SPEED] = (float(read["speed_rpm"]), SPEED_RELATIVE)
    if read and read["current_a"] and sum(read["current_a"]) > 0.0:
        found[Q.CURRENT] = (sum(read["current_a"]) / len(read["current_a"]), CURRENT_RELATIVE)
    return found


_FIGURES: dict[str, tuple[str, Quantity, float]] = {  # kind, quantity, sign
    "filter_drop": ("pressure", Q.FILTER, 1.0),
    "core_drop": ("pressure", Q.CORE, 1.0),
    "fan_static_rise": ("pressure", Q.RISE, 1.0),
    "port_sum": ("outlets", Q.OUTLETS, 1.0),
    "current": ("electrical", Q.CURRENT, 1.0),
}


def _of_records(view: View, final: Measurement, stream: Stream) -> Snapshot:
    """What other kinds of record say of the stream in the same session; the newest stands."""
    found: Snapshot = {}
    for record in _beside_it(view, final):
        found |= _of_record(record, stream)
    return found


def _of_record(record: Figures, stream: Stream) -> Snapshot:
    found: Snapshot = {}
    for figure in record.figures:
        kind, quantity, sign = _FIGURES.get(figure.name, ("", Q.RISE, 1.0))
        place = stream.outlet if quantity is Q.OUTLETS else stream.fan
        if figure.name == "static_pressure" and record.kind == "pressure":
            kind, quantity, sign = _tap(figure.at, stream)
            place = figure.at
        if kind == record.kind and figure.at == place and not figure.doubts and figure.standard_uncertainty:
            value = sign * figure.value
            found[quantity] = (value, _relative(figure.standard_uncertainty, value))
    return _worth_comparing(found)


def _tap(at: str, stream: Stream) -> tuple[str, Quantity, float]:
    taps = {
        f"{stream.fan} unit_inlet": (Q.INTAKE, -1.0),
        f"{stream.fan} before_filter": (Q.INTAKE, -1.0),
        f"{stream.fan} unit_outlet": (Q.DISCHARGE, 1.0),
        f"{stream.fan} after_fan": (Q.DISCHARGE, 1.0),
    }
    quantity, sign = taps.get(at, (Q.RISE, 0.0))
    return ("pressure" if sign else "", quantity, sign)


def _pressure(value: float) -> Reading:
    return value, math.hypot(PRESSURE_RELATIVE, PRESSURE_PA / max(abs(value), LEAST_PRESSURE_PA))


def _worth_comparing(found: Snapshot) -> Snapshot:
    """Without what is as good as no pressure: its ratio to anything says nothing."""
    no_pressure = (Q.OUTLETS, Q.CURRENT)
    return {name: one for name, one in found.items() if name in no_pressure or one[0] >= LEAST_PRESSURE_PA}


def _relative(uncertainty: float, value: float) -> float:
    return uncertainty / abs(value) if value else 1.0


def _good_before(view: View, final: Measurement, target_m3_s: float) -> Measurement | None:
    good = [
        one
        for one in view.of(final.port)
        if one.when < final.when
        and one.session != final.session
        and one.mode == final.mode
        and view.doubt(one) is None
        and abs(one.airflow_m3_s / target_m3_s - 1.0) <= NEAR_DESIGN
        and one.grade != "transcribed"
    ]
    return good[-1] if good else None


def _designed(view: View, final: Measurement, target_m3_s: float) -> Snapshot:
    place, stream = view.place, stream_of(final.port)
    found: Snapshot = {}
    for port, quantity in ((stream.inlet, Q.INLET_FLOW), (stream.outlet, Q.OUTLET_FLOW)):
        design = place.ports.get(port)
        flow = target_m3_s if port == final.port else design.airflow_m3_s if design else None
        if flow:
            found[quantity] = (flow, 0.0)
    if Q.OUTLET_FLOW in found:
        found[Q.OUTLETS] = found[Q.OUTLET_FLOW]
    names = {Q.DISCHARGE: "external_static", Q.FILTER: "filter_drop", Q.CORE: "core_drop"}
    for quantity, name in names.items():
        held = pressure_parts.design_of(place, name, stream.fan, inch_of_water_pa=view.conventions.inch_of_water_pa)
        if held.pressure_pa and held.airflow_m3_s is None and held.pressure_pa >= LEAST_PRESSURE_PA:
            found[quantity] = (held.pressure_pa, BY_DESIGN[quantity])
    if stream.outlet == "exhaust" and "others_on_riser" in final.state:
        found.pop(Q.DISCHARGE, None)  # the riser's pressure is made by all of its units, not by this fan's speed
    fan = place.fans.get(stream.fan)
    if fan and fan.speed_rpm:
        found[Q.SPEED] = (fan.speed_rpm, BY_DESIGN[Q.SPEED])
    if fan and fan.nameplate_current_a:
        found[Q.CURRENT] = (USUAL_LOAD * fan.nameplate_current_a, BY_DESIGN[Q.CURRENT])
    return found


def _seen(view: View, final: Measurement, stream: Stream) -> dict[str, tuple[str, ...]]:
    state = final.state
    seen: dict[str, tuple[str, ...]] = {name: (state[name],) for name in _SHARED_STATE if name in state}
    seen |= {told: (state[name],) for name, told in stream.dampers.items() if name in state}
    if "others on riser" in final.unseen:
        seen["others_on_riser"] = ("not_seen",)
    fan = view.place.fans.get(stream.fan)
    if fan and fan.motor:
        seen["motor"] = (fan.motor,)
    for record in _beside_it(view, final):
        turned = (record.facts.get("fans") or {}).get(stream.fan, {}).get("rotation")
        if turned in ("correct", "reversed"):
            seen["rotation"] = (turned,)
    both = all(name in view.place.ports for name in ("supply", "exhaust")) or "return" in view.place.ports
    return seen | {"method": (final.method,), "streams": ("two" if both else "one",)}


def _beside_it(view: View, final: Measurement) -> list[Figures]:
    """Records of other kinds in the same session and mode."""
    same = (final.session, final.mode, final.purpose)
    return [one for one in view.records if (one.session, one.mode, one.purpose) == same]
