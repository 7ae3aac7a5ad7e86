"""What an exchanger should do at the flows of the test, from its rated points. Ratings are at standard air."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

from commissioning.dossier.exchanger_design import ExchangerDesign, Rating
from commissioning.engineering.coupled_exchangers import heat_pipe_at_flows, run_around_at_flows
from commissioning.engineering.exchanger import effectiveness_at_flows, effectiveness_between_points
from commissioning.engineering.guards import OutOfRange

BETWEEN = "straight between two rated points"
# How the streams pass each other, as the formula of transfer units needs it. Of what is not told it says what is taken.
_FORMS = {
    "counterflow": ("counterflow", "transfer units, counterflow"),
    "crossflow": ("crossflow_unmixed", "transfer units, crossflow with both streams unmixed"),
    "wheel": ("counterflow", "transfer units, a wheel taken as counterflow"),
    "heat_pipe": ("counterflow", "transfer units, heat pipes taken as counterflow since their rows are not given"),
}
_LOOP = "transfer units, a loop of two like coils in counterflow, its liquid at its best for the rated flows and held"
_SAME_FLOW = 1.05
_NOMINAL_KG_M3 = 1.2  # cancels: only ratios of flows count


@dataclass(frozen=True, slots=True)
class Expected:
    """`rated` is the effectiveness at the rated point that `value` is carried from: the one of the largest flow."""

    value: float
    rated: float
    method: str


def expected(
    design: ExchangerDesign, part: str, season: str | None, supply_m3_s: float, exhaust_m3_s: float
) -> tuple[tuple[Expected, ...], str]:
    """By each way that the ratings allow, the best first; and why there is none, where there is none."""
    points = _points(design.ratings, part, season)
    if not points:
        return (), f"no revision gives a rated {part} effectiveness for {season or 'this season'}"
    found: list[Expected] = []
    reasons: list[str] = []
    for way in (_between, _by_units):
        try:
            one = way(design, part, points, supply_m3_s, exhaust_m3_s)
        except OutOfRange as error:
            reasons.append(str(error))
            continue
        if one is not None:
            found.append(one)
    why = reasons[0] if reasons else "one rated point alone, and no formula that carries it to other flows"
    return tuple(found), "" if found else why


def _points(ratings: Sequence[Rating], part: str, season: str | None) -> list[Rating]:
    """Of the season where there are any, else those of any season; by rising flow."""
    given = [one for one in ratings if part in one.effectiveness]
    own = [one for one in given if one.season == season]
    return sorted(own or [one for one in given if one.season == "any"], key=lambda one: one.mean_m3_s)


def _between(
    design: ExchangerDesign, part: str, points: Sequence[Rating], supply: float, exhaust: float
) -> Expected | None:
    apart = [points[0]]
    for one in points[1:]:
        if one.mean_m3_s >= _SAME_FLOW * apart[-1].mean_m3_s:
            apart.append(one)
    if len(apart) < 2:
        return None
    mean = 0.5 * (supply + exhaust)
    above = next((index for index, one in enumerate(apart) if one.mean_m3_s >= mean and index), len(apart) - 1)
    low, high = apart[above - 1], apart[above]
    value = effectiveness_between_points(
        lower_effectiveness=low.effectiveness[part],
        lower_airflow_m3_s=low.mean_m3_s,
        upper_effectiveness=high.effectiveness[part],
        upper_airflow_m3_s=high.mean_m3_s,
        supply_airflow_m3_s=supply,
        exhaust_airflow_m3_s=exhaust,
    )
    return Expected(float(value), apart[-1].effectiveness[part], BETWEEN)


def _by_units(
    design: ExchangerDesign, part: str, points: Sequence[Rating], supply: float, exhaust: float
) -> Expected | None:
    """Sensible only: moisture has no conductance that stays as it is."""
    form = _form(design)
    if part != "sensible" or form is None:
        return None
    at_flows, method = form
    rating = points[-1]
    value = at_flows(
        rated_effectiveness=rating.effectiveness[part],
        rated_mass_flow_kg_s=rating.supply_m3_s * _NOMINAL_KG_M3,
        rated_exhaust_mass_flow_kg_s=rating.exhaust_m3_s * _NOMINAL_KG_M3,
        supply_mass_flow_kg_s=supply * _NOMINAL_KG_M3,
        exhaust_mass_flow_kg_s=exhaust * _NOMINAL_KG_M3,
    )
    return Expected(value, rating.effectiveness[part], method)


def _form(design: ExchangerDesign) -> tuple[Callable[..., float], str] | None:
    """What carries a rating to other flows, by the kind of exchanger, and how it is called."""
    if design.kind == "run_around":
        return run_around_at_flows, _LOOP
    if design.kind == "heat_pipe" and design.rows is not None:
        method = f"transfer units, {design.rows} row{'s' * (design.rows > 1)} of heat pipes in counterflow"
        return partial(heat_pipe_at_flows, rows=design.rows), method
    held = _FORMS.get(design.kind or "")
    return None if held is None else (partial(effectiveness_at_flows, kind=held[0]), held[1])
