"""From a pressure payload to figures: pressures, what lies between two of them, setpoints held, pressures of spaces."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, cast

from commissioning.dossier.envelope import Envelope
from commissioning.dossier.figures import Figure, Figures, figures_of, measured
from commissioning.dossier.given import Conventions, Instrument, Place
from commissioning.dossier.instrument_error import COMMON_PRACTICE, papers_fit
from commissioning.dossier.quantities import Series, si, si_values
from commissioning.engineering import static_pressure, uncertainty
from commissioning.engineering.uncertainty import Component
from commissioning.kinds.pressure import signals as s
from commissioning.kinds.pressure.payload import Controlled, Difference, PressurePayload, Profile, Read, Space, reads

VERSION = 3
FIGURE_OF = {"unit": "external_static", "fan": "fan_static_rise"} | {
    part: f"{part}_drop" for part in ("filter", "core", "coil")
}
LEAST_AVERAGE_S, MOST_WIND_M_S = 60.0, 3.0
DIFFERENCE = "Δp, read across with both hoses"


@dataclass(frozen=True, slots=True)
class Setting:
    """What measuring needs beside the readings."""

    payload: PressurePayload
    conventions: Conventions
    tools: Mapping[str, Instrument]

    @property
    def inch_pa(self) -> float:
        return self.conventions.inch_of_water_pa

    def signal(self, read: Read, label: str, slope: float = 1.0) -> s.Signal:
        tool_id = str(read.instrument) if read.instrument else ""
        return s.Signal(
            label=label,
            values=tuple(si_values(read.readings, inch_of_water_pa=self.inch_pa)),
            slope=slope,
            tool_id=tool_id,
            tool=self.tools.get(tool_id),
            zeroed=read.zeroed,
            text=_listed(read.readings),
        )

    def figure(
        self,
        name: str,
        at: str,
        signals: Sequence[s.Signal],
        *,
        in_duct: bool = True,
        more: Sequence[Component] = (),
        **told: Any,
    ) -> Figure:
        off = self.payload.grade == "controller"
        parts = s.components(signals, inch_of_water_pa=self.inch_pa, off_controller=off, in_duct=in_duct)
        told["inputs"] = (*((one.label, one.text) for one in signals), *told.pop("inputs", ()))
        return measured(
            name,
            told.pop("value", s.value_of(signals)),
            "Pa",
            [*parts, *more],
            coverage_probability=self.conventions.coverage_probability,
            at=at,
            **told,
        )


def instruments(payload: PressurePayload) -> frozenset[str]:
    return frozenset(str(one.instrument) for one in reads(payload) if one.instrument is not None)


def measure(
    envelope: Envelope, place: Place, conventions: Conventions, tools: Mapping[str, Instrument]
) -> list[Figures]:
    payload = cast(PressurePayload, envelope.payload)
    setting = Setting(payload, conventions, tools)
    between, differing = _differences(setting)
    found = [
        *(figure for profile in payload.profiles for figure in _taps(setting, profile)),
        *between,
        *(_controlled(setting, one) for one in payload.controlled),
        *(_space(setting, one) for one in payload.spaces),
    ]
    used = sorted(instruments(payload))
    remarks = [*differing, *(text for id in used for text in papers_fit(tools.get(id), "pressure"))]
    if any(not one.zeroed for one in reads(payload)):
        remarks.append("A zero was not set before reading: ±2 Pa are counted for it.")
    return [
        figures_of(
            envelope,
            place,
            found,
            method="pressure_readings",
            tools=[(id, tools.get(id)) for id in used],
            remarks=remarks,
            facts=_facts(setting),
        )
    ]


def _taps(setting: Setting, profile: Profile) -> Iterator[Figure]:
    for tap in profile.taps:
        label = f"{profile.stream} {_words(tap.at)}"
        yield setting.figure(
            "static_pressure", f"{profile.stream} {tap.at}", [setting.signal(tap, label)], equation="p = mean(readings)"
        )


def _differences(setting: Setting) -> tuple[list[Figure], list[str]]:
    """What was read across a part stands; where two taps of the profile tell it too, they have to agree."""
    found: dict[tuple[str, str], Figure] = {}
    for profile in setting.payload.profiles:
        found |= {(one.name, one.at): one for one in _between_taps(setting, profile)}
    remarks = []
    for read in setting.payload.differences:
        figure = _across(setting, read)
        told = found.get((figure.name, figure.at))
        if told is not None and _apart(figure, told):
            remarks.append(
                f"{_words(figure.name).capitalize()} of the {figure.at} stream: read across {figure.value:.4g} Pa, by "
                f"the taps {told.value:.4g} Pa; they differ by more than both uncertainties. The former stands."
            )
        found[figure.name, figure.at] = figure
    return list(found.values()), remarks


def _between_taps(setting: Setting, profile: Profile) -> Iterator[Figure]:
    taps = {tap.at: tap for tap in profile.taps}
    for part in ("filter", "core", "coil", "fan"):
        first, later = _ends(profile, part)
        if first is None or later is None:
            continue
        rises = part == "fan"
        signals = [
            setting.signal(taps[first], _words(first), -1.0 if rises else 1.0),  # type: ignore[index]
            setting.signal(taps[later], _words(later), 1.0 if rises else -1.0),  # type: ignore[index]
        ]
        equation = "Δp = p_after - p_before" if rises else "Δp = p_before - p_after"
        yield _doubted(setting.figure(FIGURE_OF[part], profile.stream, signals, equation=equation))
    if "unit_inlet" in taps and "unit_outlet" in taps:
        signals = [
            setting.signal(taps["unit_outlet"], "unit outlet"),
            setting.signal(taps["unit_inlet"], "unit inlet", -1.0),
        ]
        yield _doubted(
            setting.figure("external_static", profile.stream, signals, equation="p_ext = p_outlet - p_inlet")
        )
    yield from _total_rise(setting, profile)


def _ends(profile: Profile, part: str) -> tuple[str | None, str | None]:
    """The taps on both sides of a part: that before it by name, else the one that the air passed last, if it can be."""
    places = [str(tap.at) for tap in profile.taps]
    later = f"after_{part}"
    if later not in places:
        return None, None
    named = f"before_{part}"
    if named in places:
        return named, later
    last = places[places.index(later) - 1] if places.index(later) else None
    fits = last is not None and (last in ("outside", "unit_inlet") if part == "filter" else last.startswith("after_"))
    return (last if fits else None), later


def _total_rise(setting: Setting, profile: Profile) -> Iterator[Figure]:
    taps = {tap.at: tap for tap in profile.taps}
    first, later = taps.get("before_fan"), taps.get("after_fan")
    if first is None or later is None or first.velocity_pressure is None or later.velocity_pressure is None:
        return
    signals = [setting.signal(later, "after fan"), setting.signal(first, "before fan", -1.0)]
    speeds = [si(one.velocity_pressure, inch_of_water_pa=setting.inch_pa) for one in (later, first)]
    rise = static_pressure.fan_total_rise_pa(
        outlet_static_pa=signals[0].mean,
        outlet_velocity_pressure_pa=speeds[0],
        inlet_static_pa=signals[1].mean,
        inlet_velocity_pressure_pa=speeds[1],
    )
    yield setting.figure(
        "fan_total_rise",
        profile.stream,
        signals,
        value=float(rise),
        more=[Component("velocity pressures", 0.1 * (speeds[0] ** 2 + speeds[1] ** 2) ** 0.5, source=COMMON_PRACTICE)],
        equation="p_tF = (p_s2 + p_v2) - (p_s1 + p_v1)",
        source="AMCA 203 (from memory)",
        inputs=(("velocity pressures after and before", f"{speeds[0]:.4g} and {speeds[1]:.4g} Pa"),),
    )


def _across(setting: Setting, read: Difference) -> Figure:
    label = f"across the {read.across}"
    return _doubted(
        setting.figure(FIGURE_OF[read.across], read.stream, [setting.signal(read, label)], equation=DIFFERENCE)
    )


def _doubted(figure: Figure) -> Figure:
    if figure.value >= 0.0:
        return figure
    word = "rise" if "rise" in figure.name or "external" in figure.name else "drop"
    return _with_doubts(figure, [f"the {word} is negative: are the hoses or the taps swapped?"])


def _controlled(setting: Setting, read: Controlled) -> Figure:
    setpoint = si(read.setpoint, inch_of_water_pa=setting.inch_pa)
    inputs = (("setpoint at the time", f"{read.setpoint.value:g} {read.setpoint.unit} = {setpoint:.6g} Pa"),)
    return setting.figure(
        "controlled_static",
        f"{read.fan} {read.demand}",
        [setting.signal(read, f"controlled pressure at {read.demand} demand")],
        equation="p = mean(readings)",
        inputs=inputs,
    )


def _space(setting: Setting, read: Space) -> Figure:
    more = [Component("space", s.SPACE_PA, source=f"seldom better than ±1 Pa (k = 2); {COMMON_PRACTICE}")]
    inputs = [("each averaged over", f"{si(read.averaged_over):g} s"), ("against", _against(read))]
    wind = None if read.wind is None else si(read.wind)
    if read.against == "outdoors" and wind:
        half = s.WIND_SHARE * float(static_pressure.wind_pressure_pa(wind_m_s=wind))
        source = f"±{s.WIND_SHARE:g} of ρv²/2 at {wind:.2g} m/s; {COMMON_PRACTICE}"
        more.append(Component("wind", float(uncertainty.rectangular(half)), source=source))
        inputs.append(("wind, estimated", f"{wind:.2g} m/s"))
    figure = setting.figure(
        "space_pressure",
        read.space,
        [setting.signal(read, "averages")],
        in_duct=False,
        more=more,
        equation="p = mean(averages), above what it is read against",
        inputs=tuple(inputs),
    )
    return _with_doubts(figure, list(_space_doubts(read, wind)))


def _space_doubts(read: Space, wind: float | None) -> Iterator[str]:
    """What the reading of a space asks for, as far as it is not there. Common practice, no source."""
    if si(read.averaged_over) < LEAST_AVERAGE_S - 1e-9:
        yield f"averaged over {si(read.averaged_over):g} s; take an average over {LEAST_AVERAGE_S:g} s or longer"
    if read.door in ("open", "not_seen"):
        yield "the door was open" if read.door == "open" else "nobody noted whether the door was closed"
    if not read.zeroed:
        yield "the instrument's zero was not set, and these are pressures of a few Pa"
    if read.against != "outdoors":
        return
    if wind is None:
        yield "nobody estimated the wind"
    elif wind >= MOST_WIND_M_S:
        yield f"the wind was about {wind:.2g} m/s; wait until it is below {MOST_WIND_M_S:g} m/s"
    if not read.reference_shielded:
        yield "the tap outdoors was not shielded, or nobody noted that it was"


def _with_doubts(figure: Figure, doubts: Sequence[str]) -> Figure:
    values = {name: getattr(figure, name) for name in Figure.__slots__}
    return Figure(**{**values, "doubts": (*figure.doubts, *doubts)})


def _apart(one: Figure, other: Figure) -> bool:
    wide = [figure.expanded_uncertainty or 0.0 for figure in (one, other)]
    return abs(one.value - other.value) > math.hypot(*wide)


def _facts(setting: Setting) -> dict[str, Any]:
    """What was seen and is no figure: order of the taps, state of the parts, setpoints, how spaces were read."""
    payload = setting.payload
    filters = payload.state.filters if payload.state.filters in ("clean", "loaded") else "not_seen"
    conditions = {}
    for profile in payload.profiles:
        for part in ("filter", "core", "coil"):
            seen = getattr(profile, part)
            conditions[f"{part} {profile.stream}"] = filters if part == "filter" and seen == "not_seen" else seen
    for one in payload.differences:
        if one.across in ("filter", "core", "coil"):
            fallback = filters if one.across == "filter" else conditions.get(f"{one.across} {one.stream}", "not_seen")
            conditions[f"{one.across} {one.stream}"] = fallback if one.condition == "not_seen" else one.condition
    return {
        "profiles": {p.stream: [tap.at for tap in p.taps] for p in payload.profiles},
        "conditions": conditions,
        "controlled": [
            {
                "at": f"{one.fan} {one.demand}",
                "setpoint_pa": si(one.setpoint, inch_of_water_pa=setting.inch_pa),
                "stabilised_s": None if one.stabilised_in is None else si(one.stabilised_in),
            }
            for one in payload.controlled
        ],
        "reset_by_zones": payload.reset_by_zones,
        "spaces": {one.space: _against(one) for one in payload.spaces},
        "readings": {one.space: len(one.readings.values) for one in payload.spaces},
    }


def _against(read: Space) -> str:
    return "outdoors" if read.against == "outdoors" else read.neighbour or "its neighbour"


def _listed(series: Series) -> str:
    return ", ".join(f"{value:g}" for value in series.values) + f" {series.unit}"


def _words(name: str) -> str:
    return name.replace("_", " ")
