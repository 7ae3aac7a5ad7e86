"""Rules on heating, cooling, bypass and frost: limits that meet, contradict one another, or are missing."""

from commissioning.dossier.settings.rules import WINTER, Case, Rule
from commissioning.dossier.settings.rules_of_control import COOLING, HEATING

FREEZING_C = 0.0
WARM_FROST_LIMIT_C = 10.0


def _both(case: Case) -> bool:
    return HEATING(case) and COOLING(case)


def _limits_supply(case: Case) -> bool:
    return HEATING(case) or COOLING(case) or case.knows("supply_low_limit") or case.knows("supply_high_limit")


def _has_frost_limit(case: Case) -> bool:
    return case.knows("frost_limit") and not case.is_one("frost_action", "none") and not case.no("option_frost_control")


def _freezes(case: Case) -> bool:
    return case.winter_c is not None and case.winter_c < FREEZING_C


RULES: tuple[Rule, ...] = (
    Rule(
        "T01", "unsafe", "It freezes at this site, and frost control is off or does nothing.",
        "Have frost control enabled with the maker's limit for this exchanger and coil before the first frost.",
        (WINTER, "option_frost_control"),
        lambda case: case.no("option_frost_control") or case.is_one("frost_action", "none"),
        lambda case: case.winter_c is None or _freezes(case),
    ),
    Rule(
        "T02", "look", "It freezes at this site, and no frost limit was read.",
        "Read the frost limit and what is done at it.", (WINTER,), lambda case: not case.knows("frost_limit"), _freezes,
    ),
    Rule(
        "T03", "look", "The frost limit lies above 10 °C: frost control works in mild weather.",
        "Check the limit and its unit against the maker's manual.", ("frost_limit",),
        lambda case: case.number("frost_limit") > WARM_FROST_LIMIT_C, _has_frost_limit,
    ),
    Rule(
        "T04", "look", "After a frost trip it restarts by itself: it may do so again and again.",
        "Ask the engineer whether a person shall look first.", ("restart_after_frost_trip",),
        lambda case: case.is_one("restart_after_frost_trip", "by_itself"), _has_frost_limit,
    ),
    Rule(
        "T10", "wrong_air", "The heating setpoint does not lie below the cooling setpoint: they fight.",
        "Set them apart by 2 K or more.", ("heating_setpoint", "cooling_setpoint"),
        lambda case: case.number("heating_setpoint") >= case.number("cooling_setpoint"), _both,
    ),
    Rule(
        "T11", "look", "Heating is allowed at outdoor temperatures at which cooling is too.",
        "Set the end of heating below the beginning of cooling.", ("heating_off_above", "cooling_off_below"),
        lambda case: case.number("heating_off_above") > case.number("cooling_off_below"), _both,
    ),
    Rule(
        "T12", "wrong_air", "The bypass opens at no outdoor temperature: its range ends where it begins or before.",
        "Set the range of outdoor temperature in which the bypass saves cooling.", ("bypass_from", "bypass_to"),
        lambda case: case.number("bypass_from") >= case.number("bypass_to"), lambda case: case.yes("option_bypass"),
    ),
    Rule(
        "T13", "look", "The bypass is open at freezing outdoor temperatures: cold air passes the exchanger by.",
        "Raise the beginning of its range.", ("bypass_from",),
        lambda case: case.number("bypass_from") < FREEZING_C, lambda case: case.yes("option_bypass"),
    ),
    Rule(
        "T20", "will_not_run", "The low limit of the supply air does not lie below its high limit: one always trips.",
        "Set both limits as designed.", ("supply_low_limit", "supply_high_limit"),
        lambda case: case.number("supply_low_limit") >= case.number("supply_high_limit"), _limits_supply,
    ),
    Rule(
        "T21", "will_not_run", "The heating setpoint does not lie below the supply air's high limit: heating trips it.",
        "Set the limit above the setpoint with room for overshoot.", ("heating_setpoint", "supply_high_limit"),
        lambda case: case.number("heating_setpoint") >= case.number("supply_high_limit"), HEATING,
    ),
    Rule(
        "T22", "will_not_run", "The cooling setpoint does not lie above the supply air's low limit: cooling trips it.",
        "Set the limit below the setpoint with room for overshoot.", ("cooling_setpoint", "supply_low_limit"),
        lambda case: case.number("cooling_setpoint") <= case.number("supply_low_limit"), COOLING,
    ),
    Rule(
        "T23", "look", "The heating setpoint lies below the supply air's low limit: that trips before heating helps.",
        "Set the limit below the setpoint.", ("heating_setpoint", "supply_low_limit"),
        lambda case: case.number("heating_setpoint") < case.number("supply_low_limit"), HEATING,
    ),
)  # fmt: skip
