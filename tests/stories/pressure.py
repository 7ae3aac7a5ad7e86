"""Records of pressures: drops, a pressure held and spaces in order, wrong, open and not read."""

from __future__ import annotations

from tests.judging.builder import Result, conventions, state
from tests.judging.builder import envelope as airflow
from tests.requirements.pressures import PLUS_MINUS, control, designed, envelope, found, pa, space, taps

PLACE = designed(
    pressures={
        "external_supply": {"pressure": pa(200.0), "tolerance": PLUS_MINUS, "sources": {"pressure": "Revision 2"}},
        "filter_drop_supply": {"pressure": pa(80.0), "tolerance": PLUS_MINUS, "final": pa(250.0)},
        "controlled_static": {"pressure": pa(200.0), "sources": {"pressure": "Revision 2"}},
    },
    rooms={"Lobby": {"relation": "positive", "pressure": pa(5.0)}, "Store": {"relation": "negative"}},
)
MINIMUM = control(120.0, 120.0, demand="minimum")


STORIES: dict[str, Result] = {
    "all in order": found(
        PLACE,
        airflow({"supply": 1000.0}),
        envelope(
            profiles=[taps()],
            controlled=[control(202.0), MINIMUM],
            reset_by_zones=True,
            spaces=[space(), space(*[-9.0] * 4, space="Store")],
        ),
    ),
    "all wrong": found(
        PLACE,
        envelope(
            profiles=[taps(300.0, 260.0)],
            controlled=[control(150.0, after=400.0), control(230.0, 200.0, demand="minimum")],
            reset_by_zones=True,
            spaces=[space(*[-8.0] * 4), space(*[9.0] * 4, space="Store")],
        ),
    ),
    "inconclusive": found(
        PLACE,
        envelope(
            profiles=[taps(218.0)],
            controlled=[control(219.0), MINIMUM],
            spaces=[space(), space(*[-0.3] * 4, space="Store")],
        ),
        conventions=conventions(decision_rule="guarded_acceptance"),
    ),
    "loaded filter, door open": found(
        PLACE,
        envelope(
            profiles=[taps(filter="loaded")],
            controlled=[control(200.0)],
            spaces=[space(door="open"), space(*[-9.0] * 4, space="Store")],
        ),
    ),
    "for information": found(
        designed(),
        envelope(profiles=[taps()], controlled=[control(200.0), MINIMUM], spaces=[space()]),
    ),
    "nothing read": found(PLACE),
    "part of it": found(PLACE, envelope(spaces=[space()]), envelope("later", controlled=[control(200.0)])),
    "at minimum": found(PLACE, envelope(profiles=[taps()], state=state(mode="minimum"))),
}
