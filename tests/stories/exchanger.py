"""Records of exchangers: rated, failing, open in balance, by tracer gas, turning, with a net of outdoor air."""

from __future__ import annotations

from tests.exchanger_judging import asked, of, rating, tracer, turning, warm_exhaust, with_minimum
from tests.exchanger_records import COST, FLOWS, NO_FANS, flow, record, series
from tests.judging.builder import Result, envelope, named, state

SEALS = {
    "instrument": named("gauge"),
    "supply_minus_return": series(30.0, unit="Pa"),
    "outdoor_minus_exhaust": series(-30.0, unit="Pa"),
}
FULL = {
    "kind": "wheel",
    "ratings": [rating(1.0, 0.75, latent=0.6, total=0.68), rating(0.75, 0.80, latent=0.66, total=0.73)],
    "wheel_speed": {"value": 20.0, "unit": "rpm"},
    "transfer_ratio_maximum": 0.02,
    "criteria": [
        {"quantity": "sensible", "minimum": 0.7, "at": "rated_flows"},
        {"quantity": "latent", "minimum": 0.5},
    ],
}
STORIES: dict[str, Result] = {
    "all": of(
        envelope({"supply": 1000.0, "return": 1000.0}),
        record(
            wheel={"speed": series(18.7, unit="rpm")},
            seal_pressures=SEALS,
            concentrations=tracer()["payload"]["concentrations"],
            added_power=COST,
            state=state(),
            flows=[*FLOWS, flow("outdoor", 1.05, 0.03)],
            fans=[
                NO_FANS[0],
                {"stream": "exhaust", "position": "after_exchanger", "power": {"value": 1.0, "unit": "kW"}},
            ],
        ),
        core=FULL,
    ),
    "good": of(core={"kind": "counterflow", "ratings": FULL["ratings"], **asked(0.7)}),
    "fails": of(core={"kind": "counterflow", "ratings": FULL["ratings"], **asked(0.8)}),
    "open": of(warm_exhaust(10.0), core=asked(0.7)),
    "information": of(record(flows=[]), core={"kind": "wheel"}),
    "co2": of(tracer("room_co2"), core={"transfer_ratio_maximum": 0.05}),
    "turning": of(turning(19.0), core=FULL),
    "tight": of(tracer(), core={"transfer_ratio_maximum": 0.05}),
    "net too little": of(envelope({"supply": 1000.0}), tracer(), where=with_minimum(1000.0)),
    "net": of(envelope({"supply": 1000.0}), tracer(), where=with_minimum(900.0)),
}
