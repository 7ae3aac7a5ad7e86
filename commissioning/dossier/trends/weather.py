"""Expectations that the weather calls for: bypass, heating lockout, frost protection, what the exchanger recovers."""

import numpy as np

from commissioning.dossier.trends.kind import SIDES, Kind, Limit, Terms
from commissioning.dossier.trends.logged import Log
from commissioning.dossier.trends.said import Said, by_figure, by_lasting, not_asked
from commissioning.dossier.trends.sensing import running
from commissioning.dossier.trends.starting import RUNS, asked, fan
from commissioning.dossier.trends.steady import COVERAGE, average, by_blocks
from commissioning.engineering.guards import FloatArray
from commissioning.engineering.temporal import Claim, both, either, negated
from commissioning.engineering.trend_screens import held_before, lasting

OUT = "outdoor_temperature"
BYPASS = "bypass_position|bypass_command"
SUPPLY_RUNS = RUNS.format(at="supply")


def _no_frost(log: Log, settle_s: float = 1200.0) -> list[Claim]:
    roles = ("frost_state", "defrost_state")
    return [held_before(claim=log.off(role), window_s=settle_s) for role in roles if log.has(role)]


def _two_at_once(log: Log, one: str, other: str, terms: Terms, words: str) -> Said:
    """Asked where one of the two is at work: a log in which both rest says nothing of them together."""
    first, second = log.on(one, terms["open"]), log.on(other, terms["output"])
    return asked(
        log, both(claims=[fan(log, "supply"), either(claims=[first, second])]),
        negated(claim=both(claims=[first, second, *_no_frost(log)])), at_least_s=terms["at_least_s"],
        holds=f"The two were not at work together for long: {words}.",
        fails=f"At the same time, for {{lasting}} in all and first at {{at}}: {words}.",
        none="Neither of the two is at work in this log while the supply fan runs.",
    )  # fmt: skip


def _heat_against_bypass(log: Log, terms: Terms) -> Said:
    return _two_at_once(log, BYPASS, "heating_valve", terms, "bypass open and heating at work")


def _heat_and_cool(log: Log, terms: Terms) -> Said:
    return _two_at_once(log, "cooling_valve", "heating_valve", terms, "cooling and heating at work")


def _heat_locked_out(log: Log, terms: Terms) -> Said:
    warm = held_before(claim=log.stays(OUT, low=terms["above"] + terms["apart_k"]), window_s=900.0)
    return asked(
        log, both(claims=[warm, fan(log, "supply")]), log.off("heating_valve", terms["output"]),
        at_least_s=terms["at_least_s"],
        holds="Heating stayed off whenever it was warm enough outdoors.",
        fails="Heating was at work above its outdoor limit for {lasting} in all, first at {at}.",
        none="It is not warm enough outdoors in this log while the unit runs.",
    )  # fmt: skip


def _bypass(log: Log, terms: Terms) -> Said:
    low, high, apart = terms["from"], terms["to"], terms["apart_k"]
    outdoors = log.stays(OUT, low=low + apart, high=high - apart)
    outside = negated(claim=log.stays(OUT, low=low - apart, high=high + apart))
    opens = terms.at == "open"
    condition = [held_before(claim=outdoors if opens else outside, window_s=1800.0), running(log, "supply", 1800.0)]
    claim = log.on(BYPASS, 0.9) if opens else log.off(BYPASS, 0.1)
    return asked(
        log, both(claims=[*condition, *_no_frost(log, 1800.0)]), claim, at_least_s=terms["at_least_s"],
        holds="The bypass stood as the outdoor temperature asks.",
        fails=("The bypass was not open within its band of outdoor temperature" if opens else
               "The bypass stood open outside of its band of outdoor temperature")
        + " for {lasting} in all, first at {at}.",
        none="The outdoor temperature asks for no such thing in this log while the unit runs.",
    )  # fmt: skip


def _frost(log: Log, terms: Terms) -> Said:
    limit, apart = terms["limit"], terms["apart_k"]
    exhaust = "exhaust_temperature"
    if terms.at == "acts":
        cold = held_before(claim=log.stays(exhaust, high=limit - apart), window_s=terms["delay_s"])
        return asked(
            log, both(claims=[cold, fan(log, "supply")]), log.on("frost_state"), at_least_s=120.0,
            holds="Frost protection acted each time the exhaust air fell below its limit.",
            fails="The exhaust air was below the frost limit and nothing acted for {lasting} in all, first at {at}.",
            none="The exhaust air does not fall below the frost limit in this log.",
        )  # fmt: skip
    warm = held_before(claim=log.stays(exhaust, low=limit + terms["rise_k"]), window_s=terms["delay_s"])
    return asked(
        log, warm, log.off("frost_state"), at_least_s=600.0,
        holds="Frost protection rested whenever the exhaust air was warm.",
        fails="Frost protection acted with warm exhaust air for {lasting} in all, first at {at}.",
        none="The exhaust air is not warm for long in this log.",
    )  # fmt: skip


def _supply_low(log: Log, terms: Terms) -> Said:
    claim, asked_s = by_blocks(
        log, ("supply_temperature",), lambda air: air - terms["low"], running(log, "supply", 900.0)
    )  # fmt: skip
    if asked_s <= 0.0:
        return not_asked("The supply fan does not run for long in this log.")
    return by_lasting(
        log, lasting(claim=claim, at_least_s=terms["at_least_s"]), unit="delta_K", asked_s=asked_s,
        amounts={"low": (terms["low"], "degC")},
        holds="The supply air stayed above its low limit of {low}.",
        fails="The supply air was below its low limit of {low} for {lasting}, by {worst} at the worst, first at {at}.",
    )  # fmt: skip


def _recovers(log: Log, terms: Terms) -> Said:
    def ratio(leaving: FloatArray, outdoor: FloatArray, back: FloatArray) -> FloatArray:
        lift = np.where(np.abs(back - outdoor) >= terms["lift_k"], back - outdoor, np.nan)
        found: FloatArray = (leaving - outdoor) / lift
        return found

    claims = [running(log, "supply"), running(log, "exhaust"), *_no_frost(log, 1800.0)]
    claims += [held_before(claim=log.off(BYPASS, 0.02), window_s=1800.0)] if log.has(BYPASS) else []
    roles = ("exchanger_leaving_temperature", OUT, "return_temperature")
    found = average(log, roles, ratio, both(claims=claims))
    if found is None or found.lasting_s < terms["at_least_s"]:
        return not_asked("Outdoor and return air are not far enough apart for long enough in this log.")
    return by_figure(
        log, value=found.value, doubt=COVERAGE * found.uncertainty, low=terms["low"], high=1.05, unit="1",
        words="The exchanger brought the air {value} of the way from outdoors to return over {lasting}, give or take "
        "{doubt}.", from_s=found.from_s, to_s=found.to_s, lasting_s=found.lasting_s,
    )  # fmt: skip


def _filter(log: Log, terms: Terms) -> Said:
    role = f"{terms.at}_filter_pressure_drop"
    claim, asked_s = by_blocks(log, (role,), lambda drop: terms["most"] - drop, running(log, terms.at, 600.0))
    if asked_s <= 0.0:
        return not_asked(f"The {terms.at} fan does not run for long in this log.")
    return by_lasting(
        log, lasting(claim=claim, at_least_s=terms["at_least_s"]), unit="Pa", asked_s=asked_s,
        amounts={"most": (terms["most"], "Pa")},
        holds=f"The {terms.at} filter stayed below its alarm of {{most}}.",
        fails=f"The {terms.at} filter stood above its alarm of {{most}} for {{lasting}}, by {{worst}} at the worst, "
        "first at {at}.",
    )  # fmt: skip


_BOTH = {"open": Limit("1", 0.2), "output": Limit("1", 0.05), "at_least_s": Limit("s", 900.0)}
KINDS = (
    Kind(
        "heat_against_bypass", "No heating against the bypass", (BYPASS, "heating_valve", SUPPLY_RUNS),
        _heat_against_bypass,
        "The outdoor limits of heating and bypass against one another; then which of the two lags.", _BOTH,
    ),
    Kind(
        "heat_and_cool", "No heating against cooling", ("cooling_valve", "heating_valve", SUPPLY_RUNS), _heat_and_cool,
        "The two setpoints and the dead band between them; one sensor for both.", _BOTH,
    ),
    Kind(
        "heat_locked_out", "Heating locked out when warm", (OUT, "heating_valve", SUPPLY_RUNS), _heat_locked_out,
        "The outdoor limit that is set, and where the outdoor sensor hangs.",
        {"above": Limit("degC", setting="heating_off_above"), "apart_k": Limit("delta_K", 1.0),
         "output": Limit("1", 0.03), "at_least_s": Limit("s", 900.0)},
    ),
    Kind(
        "bypass_by_weather", "Bypass by the weather", (OUT, BYPASS, SUPPLY_RUNS), _bypass,
        "The band that is set and which temperature it compares; then actuator and linkage.",
        {"from": Limit("degC", setting="bypass_from"), "to": Limit("degC", setting="bypass_to"),
         "apart_k": Limit("delta_K", 1.0), "at_least_s": Limit("s", 600.0)},
        ("open", "shut"), when={"option_bypass": (True,)},
    ),
    Kind(
        "frost_protection", "Frost protection", ("exhaust_temperature", "frost_state", SUPPLY_RUNS), _frost,
        "The limit that is set, and whether its sensor stands in the coldest air after the exchanger.",
        {"limit": Limit("degC", setting="frost_limit"), "apart_k": Limit("delta_K", 1.0),
         "rise_k": Limit("delta_K", 6.0), "delay_s": Limit("s", 600.0)},
        ("acts", "needless"),
    ),
    Kind(
        "supply_low", "Supply air not too cold", ("supply_temperature", SUPPLY_RUNS), _supply_low,
        "Heating capacity, the frost action's own effect on the supply air, then the low limit's sensor.",
        {"low": Limit("degC", setting="supply_low_limit"), "at_least_s": Limit("s", 600.0)},
    ),
    Kind(
        "recovers", "Exchanger recovers", ("exchanger_leaving_temperature", OUT, "return_temperature", SUPPLY_RUNS,
                                            RUNS.format(at="exhaust")), _recovers,
        "Wheel turning and its belt, bypass shut tight, both airflows; then a test at the exchanger's stations.",
        {"low": Limit("1", 0.45), "lift_k": Limit("delta_K", 8.0), "at_least_s": Limit("s", 5400.0)},
    ),
    Kind(
        "filter_drop", "Filter below its alarm", ("{at}_filter_pressure_drop", RUNS), _filter,
        "The filters; then tubing and zero of the sensor.",
        {"most": Limit("Pa", setting="filter_alarm_pressure"), "at_least_s": Limit("s", 1200.0)}, SIDES,
    ),
)  # fmt: skip
