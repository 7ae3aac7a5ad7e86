"""What the exchanger does net of return air that is carried over, and what it recovers for the power that it costs."""

from typing import Any

import numpy as np

from commissioning.dossier.figures import Figure
from commissioning.engineering.exchanger import net_effectiveness, recovery_efficiency_ratio
from commissioning.engineering.moist_air import moist_air_heat_capacity_j_kg_k
from commissioning.kinds.exchanger.model import Air
from commissioning.kinds.exchanger.performance import PARTS, Bench, of_part
from commissioning.kinds.exchanger.propagation import Result

NET, RATIO = "net_effectiveness", "recovery_efficiency_ratio"
NO_TRACER = "what is carried over is not known by a tracer gas"
_RECOVERED = {"total": "h", "sensible": "t"}  # of enthalpy; where no humidity was read, of heat alone


def net_of_leakage(bench: Bench, streams: tuple[str, str] | None) -> None:
    """The net effectiveness of each part that was worked out."""
    if not bench.spread.has("EATR"):
        bench.work.not_computed[NET] = NO_TRACER
        return
    for part, gross in _worked_out(bench).items():
        assert streams is not None
        bench.figure(
            f"net_{part}_effectiveness",
            "1",
            _net(part, streams),
            equation="ε_net = (ε − EATR m_s / min(m_s, m_e)) / (1 − EATR)",
            source="AHRI 1060 (from memory)",
            inputs=(
                ("as read", f"{100.0 * gross.value:.6g} %"),
                ("carried over (EATR)", f"{100.0 * bench.spread.value(lambda air: air['EATR']):.6g} %"),
            ),
            doubts=gross.doubts,
        )


def recovered_for_power(bench: Bench, streams: tuple[str, str] | None, why_no_cost: str) -> None:
    """RER: for information; of enthalpy where humidity was read, else of heat alone."""
    held = _worked_out(bench)
    part = next((one for one in _RECOVERED if one in held), None)
    if why_no_cost or part is None or streams is None or not bench.spread.has("P"):
        bench.work.not_computed[RATIO] = why_no_cost or "what it recovers could not be worked out"
        return
    key = _RECOVERED[part]
    is_net = bench.spread.has("EATR")
    share = _net(part, streams) if is_net else of_part(part, streams)

    def recovered(air: Air) -> Any:
        span = abs(air[f"{key} outdoor"] - air[f"{key} return"])
        if key == "t":
            mean = 0.5 * (air["w outdoor"] + air["w return"])
            span = span * moist_air_heat_capacity_j_kg_k(humidity_ratio=mean)
        return share(air) * np.minimum(air[streams[0]], air[streams[1]]) * span

    def ratio(air: Air) -> Any:
        return recovery_efficiency_ratio(recovered_w=recovered(air), added_power_w=air["P"])

    said = "net of what is carried over" if is_net else f"with what is carried over in it: {NO_TRACER}"
    bench.figure(
        RATIO,
        "1",
        ratio,
        equation="RER = Q / P; Q = ε min(m_s, m_e) |x₁ − x₃|; P = Σ q Δp / η + P_drive",
        source="AHRI Guideline V (definition from memory)",
        inputs=(
            (f"recovered Q, {part}", f"{bench.spread.value(recovered) / 1000.0:.6g} kW, {said}"),
            ("costs P", f"{bench.spread.value(lambda air: air['P']):.6g} W"),
        ),
        doubts=held[part].doubts,
    )


def _net(part: str, streams: tuple[str, str]) -> Result:
    gross = of_part(part, streams)

    def result(air: Air) -> Any:
        return net_effectiveness(
            effectiveness=gross(air),
            supply_mass_flow_kg_s=air[streams[0]],
            exhaust_mass_flow_kg_s=air[streams[1]],
            transfer_ratio=air["EATR"],
        )

    return result


def _worked_out(bench: Bench) -> dict[str, Figure]:
    """The effectivenesses that there are, by part."""
    held = {one.name: one for one in bench.work.figures}
    return {part: held[name] for part in PARTS if (name := f"{part}_effectiveness") in held}
