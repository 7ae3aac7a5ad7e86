"""What the exchanger did: flows, effectiveness, closure of energy; each with the reasons why it is not judged."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from commissioning.dossier.figures import Figure, measured
from commissioning.engineering.exchanger import (
    effectiveness,
    energy_closure,
    outdoor_air_correction_factor,
    temperature_ratio,
)
from commissioning.engineering.guards import OutOfRange
from commissioning.kinds.exchanger.doubts import Doubts
from commissioning.kinds.exchanger.model import Air
from commissioning.kinds.exchanger.propagation import Propagation, Result

_ASHRAE_84 = "ASHRAE 84 (from memory)"
PARTS = {  # name: key of the air, symbol, what it is
    "sensible": ("t", "t", "temperature"),
    "latent": ("w", "W", "humidity ratio"),
    "total": ("h", "h", "enthalpy"),
}
_NO_FLOWS = "the airflow of both streams was not read with the air of each"
_LEAST_SPAN = 2.0  # standard uncertainties; of a smaller difference no ratio can be made


@dataclass
class Work:
    """What was computed, and why the rest was not."""

    figures: list[Figure] = field(default_factory=list)
    not_computed: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Bench:
    """The propagation with what every figure needs."""

    spread: Propagation
    coverage_probability: float
    work: Work

    def figure(self, name: str, unit: str, result: Result, **told: Any) -> Figure | None:
        """A figure, or the reason why there is none."""
        try:
            value, parts = self.spread.value(result), self.spread.components(result)
        except OutOfRange as error:
            self.work.not_computed[name] = str(error)
            return None
        made = measured(name, value, unit, parts, coverage_probability=self.coverage_probability, **told)
        self.work.figures.append(made)
        return made


def performance(bench: Bench, doubts: Doubts) -> None:
    spread = bench.spread
    _flows(bench)
    streams = stream_flows(spread)
    _closures(bench, doubts, streams)
    for part in PARTS:
        _effectiveness(bench, doubts, part, streams)


def stream_flows(spread: Propagation) -> tuple[str, str] | None:
    """The flow of each stream where it is defined, leaving supply and entering exhaust; else at its other end."""
    supply = next((key for key in ("m supply", "m outdoor") if spread.has(key)), None)
    exhaust = next((key for key in ("m return", "m exhaust") if spread.has(key)), None)
    return (supply, exhaust) if supply and exhaust else None


def _flows(bench: Bench) -> None:
    for port in ("supply", "return", "outdoor", "exhaust"):
        if bench.spread.has(f"m {port}"):
            told = {"at": port, "source": "conservation of mass", "inputs": bench.spread.model.told_of_flow(port)}
            bench.figure("mass_flow", "kg/s", _key(f"m {port}"), equation="m = q ρ / (1 + W)", **told)
            bench.figure("standard_airflow", "m3/s", _key(f"standard {port}"), equation="q_s = q ρ / ρ_s", **told)
    if bench.spread.has("m outdoor", "m supply"):

        def factor(air: Air) -> Any:
            return outdoor_air_correction_factor(
                outdoor_mass_flow_kg_s=air["m outdoor"], supply_mass_flow_kg_s=air["m supply"]
            )

        bench.figure("outdoor_air_correction_factor", "1", factor, equation="OACF = m₁ / m₂", source=_ASHRAE_84)


def _closures(bench: Bench, doubts: Doubts, streams: tuple[str, str] | None) -> None:
    if streams is None:
        bench.work.not_computed |= dict.fromkeys(("sensible_closure", "total_closure"), _NO_FLOWS)
        return
    supply, exhaust = streams
    for part in ("sensible", "total"):
        key, symbol, _ = PARTS[part]
        name = f"{part}_closure"
        lacking = bench.spread.lacking(key, ("outdoor", "supply", "return", "exhaust"))
        if lacking:
            bench.work.not_computed[name] = lacking
            continue

        def closure(air: Air, key: str = key) -> Any:
            return energy_closure(
                supply_mass_flow_kg_s=air[supply],
                exhaust_mass_flow_kg_s=air[exhaust],
                outdoor=air[f"{key} outdoor"],
                supply=air[f"{key} supply"],
                return_=air[f"{key} return"],
                exhaust=air[f"{key} exhaust"],
            )

        if bench.spread.is_blurred(key, "supply", "outdoor", _LEAST_SPAN):
            bench.work.not_computed[name] = "the supply air hardly changes: of that no share can be made"
            continue
        made = bench.figure(
            name,
            "1",
            closure,
            equation=f"d = (m_e ({symbol}₃ − {symbol}₄) − m_s ({symbol}₂ − {symbol}₁)) / (m_s ({symbol}₂ − {symbol}₁))",
            source="conservation of energy",
            inputs=_faces(bench.spread, key, ("outdoor", "supply", "return", "exhaust"), (supply, exhaust)),
            doubts=doubts.of_closure(),
        )
        if made is not None:
            doubts.closed(part, made)


def _effectiveness(bench: Bench, doubts: Doubts, part: str, streams: tuple[str, str] | None) -> None:
    key, symbol, what = PARTS[part]
    name, roles = f"{part}_effectiveness", ("outdoor", "supply", "return")
    lacking = bench.spread.lacking(key, roles)
    if not lacking and bench.spread.is_blurred(key, "outdoor", "return", _LEAST_SPAN):
        lacking = f"outdoor and return air do not differ in {what} by more than their uncertainty"
    if lacking:
        bench.work.not_computed[name] = lacking
        return

    def ratio(air: Air) -> Any:
        return temperature_ratio(
            outdoor=air[f"{key} outdoor"], supply=air[f"{key} supply"], return_=air[f"{key} return"]
        )

    if part == "sensible":
        bench.figure(
            "temperature_ratio",
            "1",
            ratio,
            equation="η = (t₂ − t₁) / (t₃ − t₁), which is no effectiveness where the flows differ",
            source="EN 308 (from memory)",
            inputs=_faces(bench.spread, key, roles, ()),
            doubts=doubts.of_effectiveness(part),
        )
    if streams is None:
        bench.work.not_computed[name] = _NO_FLOWS
        return
    made = bench.figure(
        name,
        "1",
        of_part(part, streams),
        equation=f"ε = m_s ({symbol}₁ − {symbol}₂) / (min(m_s, m_e) ({symbol}₁ − {symbol}₃))",
        source=_ASHRAE_84,
        inputs=_faces(bench.spread, key, roles, streams),
        doubts=doubts.of_effectiveness(part),
    )

    if made is not None and (impossible := _impossible(made)):
        bench.work.figures[-1] = replace(made, doubts=(*made.doubts, impossible))


def of_part(part: str, streams: tuple[str, str]) -> Result:
    """The effectiveness of a part, from the air at the faces and the flows of both streams."""
    key, (supply, exhaust) = PARTS[part][0], streams

    def result(air: Air) -> Any:
        return effectiveness(
            supply_mass_flow_kg_s=air[supply],
            exhaust_mass_flow_kg_s=air[exhaust],
            outdoor=air[f"{key} outdoor"],
            supply=air[f"{key} supply"],
            return_=air[f"{key} return"],
        )

    return result


def _impossible(made: Figure) -> str:
    wide = made.expanded_uncertainty or 0.0
    if made.value - wide <= 1.0 and made.value + wide >= 0.0:
        return ""
    return f"{made.value:.0%} is more than an exchanger can do, or the wrong way, beyond all uncertainty: read again"


def _key(name: str) -> Result:
    return lambda air: air[name]


_DIGITS = {"t": ("°C", 1.0), "w": ("g/kg", 1e3), "h": ("kJ/kg", 1e-3)}


def _faces(spread: Propagation, key: str, roles: Sequence[str], flows: Sequence[str]) -> tuple[tuple[str, str], ...]:
    """What went in, at the exchanger's faces."""
    unit, factor = _DIGITS[key]
    air = [(f"{role} air", f"{spread.value(_key(f'{key} {role}')) * factor:.6g} {unit}") for role in roles]
    names = {"m supply": "supply flow", "m outdoor": "supply flow, read at the outdoor air"}
    names |= {"m return": "exhaust flow", "m exhaust": "exhaust flow, read at the exhaust air"}
    mass = [(names[flow], f"{spread.value(_key(flow)):.6g} kg/s of dry air") for flow in flows]
    return (*air, *mass)
