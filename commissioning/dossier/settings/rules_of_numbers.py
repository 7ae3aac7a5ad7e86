"""Rules on setpoints, minima, maxima, ratios and reset lines: whether the numbers can be held together."""

from commissioning.dossier.settings.rules import Case, Rule, Test, less
from commissioning.dossier.settings.rules_of_control import exhaust, supply

TITLE_24 = "California Title 24, 120.1: at most 600 ppm above outdoors, 400 where that is not measured"
LARGEST_CO2 = 1000e-6
OUTDOOR_CO2 = 500e-6  # at and below, a space never gets there
OFF_DESIGN = 0.10
RESET = supply("airflow_reset_on_co2")
BY_SPEED, BY_AIRFLOW = exhaust("follows_supply_by_speed_ratio"), exhaust("follows_supply_by_airflow_ratio")


def _not_below(low: str, high: str) -> Test:
    return lambda case: not less(case.number(low), case.number(high))


def _above(one: str, other: str) -> Test:
    return lambda case: less(case.number(other), case.number(one))


def _outside(setpoint: str, low: str, high: str) -> Test:
    def out(case: Case) -> bool:
        held = case.number(setpoint)
        return less(held, case.number(low)) or less(case.number(high), held)

    return out


def _asks_less(lead: str, least: str) -> Test:
    """The ratio of the supply fan's minimum is less than the exhaust fan's own."""
    return lambda case: less(case.number("exhaust_ratio") * case.number(lead), case.number(least))


def _asks_more(lead: str, most: str) -> Test:
    return lambda case: less(case.number(most), case.number("exhaust_ratio") * case.number(lead))


def _minimum_rule(code: str, fan: str, what: str) -> Rule:
    low, high = f"{fan}_minimum_{what}", f"{fan}_maximum_{what}"
    return Rule(
        code, "wrong_air", f"The {fan} fan's minimum {what} does not lie below its maximum.",
        "Set minimum and maximum as designed.", (low, high), _not_below(low, high),
        lambda case: case.knows(low) or case.knows(high),
    )  # fmt: skip


def _held_rule(code: str, fan: str, what: str) -> Rule:
    setpoint, low, high = f"{fan}_{what}", f"{fan}_minimum_{what}", f"{fan}_maximum_{what}"
    held = f"constant_{what}"
    return Rule(
        code, "wrong_air", f"The {fan} fan's {what} lies outside its own minimum and maximum: the nearer holds.",
        "Set the setpoint as designed, then minimum and maximum about it.", (setpoint, low, high),
        _outside(setpoint, low, high), supply(held) if fan == "supply" else exhaust(held),
    )  # fmt: skip


def _reach_rule(code: str, setpoint: str, sensor: str, applies: Test, name: str) -> Rule:
    low, high = f"{sensor}_low", f"{sensor}_high"
    return Rule(
        code, "wrong_air", f"The {name} lies outside what its sensor reads: the loop can never get there.",
        "Check the setpoint and its unit, then the range set for the sensor against its label.",
        (setpoint, low, high), _outside(setpoint, low, high), applies,
    )  # fmt: skip


def _zero_rule(code: str, fan: str, setpoint: str, held: str) -> Rule:
    return Rule(
        code, "will_not_run", f"The {fan} fan's setpoint is zero.", "Set it as designed.", (setpoint,),
        lambda case: case.number(setpoint) == 0.0, supply(held) if fan == "supply" else exhaust(held),
    )  # fmt: skip


def _has_minimum(case: Case) -> bool:
    return case.minimum_m3_s is not None


def _under_minimum(code: str) -> Test:
    return lambda case: case.minimum_m3_s is not None and less(case.number(code), case.minimum_m3_s)


def _off_design(fan: str) -> Test:
    def off(case: Case) -> bool:
        designed = case.design_m3_s[fan]
        return less(OFF_DESIGN * designed, abs(case.number(f"{fan}_airflow") - designed))

    return off


def _designed(fan: str) -> Test:
    held = supply("constant_airflow") if fan == "supply" else exhaust("constant_airflow")
    return lambda case: held(case) and case.design_m3_s.get(fan, 0.0) > 0.0


_LINE = ("reset_airflow_at_low", "reset_airflow_at_high")
_LINE_REMEDY = "Set the four numbers of the line from the design."

RULES: tuple[Rule, ...] = (
    _minimum_rule("N01", "supply", "speed"),
    _minimum_rule("N02", "supply", "airflow"),
    _minimum_rule("N03", "exhaust", "speed"),
    _minimum_rule("N04", "exhaust", "airflow"),
    _held_rule("N05", "supply", "speed"),
    _held_rule("N06", "supply", "airflow"),
    _held_rule("N07", "exhaust", "speed"),
    _held_rule("N08", "exhaust", "airflow"),
    _reach_rule("N10", "supply_duct_pressure", "supply_duct_sensor", supply("duct_static_pressure"),
                "supply duct pressure setpoint"),
    _reach_rule("N11", "exhaust_duct_pressure", "exhaust_duct_sensor", exhaust("duct_static_pressure"),
                "exhaust duct pressure setpoint"),
    _reach_rule("N12", "supply_space_pressure", "space_sensor", supply("space_static_pressure"),
                "space pressure setpoint of the supply fan"),
    _reach_rule("N13", "exhaust_space_pressure", "space_sensor", exhaust("space_static_pressure"),
                "space pressure setpoint of the exhaust fan"),
    _reach_rule("N14", "co2_setpoint", "co2_sensor", supply("co2_level"), "CO2 setpoint"),
    _reach_rule("N15", "reset_high_co2", "co2_sensor", RESET, "upper CO2 of the reset line"),
    _zero_rule("N20", "supply", "supply_speed", "constant_speed"),
    _zero_rule("N21", "supply", "supply_airflow", "constant_airflow"),
    _zero_rule("N22", "supply", "supply_duct_pressure", "duct_static_pressure"),
    _zero_rule("N23", "exhaust", "exhaust_speed", "constant_speed"),
    _zero_rule("N24", "exhaust", "exhaust_airflow", "constant_airflow"),
    _zero_rule("N25", "exhaust", "exhaust_duct_pressure", "duct_static_pressure"),
    Rule("N30", "wrong_air", "The reset line falls: more CO2 gives less air.", _LINE_REMEDY, _LINE,
         _above(*_LINE), RESET),
    Rule("N31", "wrong_air", "The lower CO2 of the reset line does not lie below the upper.", _LINE_REMEDY,
         ("reset_low_co2", "reset_high_co2"), _not_below("reset_low_co2", "reset_high_co2"), RESET),
    Rule("N32", "wrong_air", "The reset line goes below the ventilation floor.",
         "Raise its lower airflow to the floor; the part for the area and make-up of exhaust are never reset.",
         ("reset_airflow_at_low", "ventilation_floor"), _above("ventilation_floor", "reset_airflow_at_low"), RESET,
         "ASHRAE Guideline 36: the area part is the floor, read in an open implementation"),
    Rule("N33", "wrong_air", "The reset line goes beyond what the fan is allowed: the last part of it never comes.",
         "Raise the fan's maximum where motor and duct allow it, or end the line there.",
         ("reset_airflow_at_high", "supply_maximum_airflow"),
         _above("reset_airflow_at_high", "supply_maximum_airflow"), RESET),
    Rule("N34", "wrong_air", "The ventilation floor lies below the design's minimum of outdoor air.",
         "Set the floor to the design's minimum.", ("ventilation_floor",), _under_minimum("ventilation_floor"),
         lambda case: RESET(case) and _has_minimum(case), "the design, ventilation minimum"),
    Rule("N35", "wrong_air", "The supply fan's minimum airflow lies below the design's minimum of outdoor air.",
         "Set it to the design's minimum; where return air is mixed in, see that the outdoor part suffices.",
         ("supply_minimum_airflow",), _under_minimum("supply_minimum_airflow"),
         lambda case: _has_minimum(case) and supply("co2_level", "voc_level", "airflow_reset_on_co2")(case),
         "the design, ventilation minimum"),
    Rule("N36", "look", "The supply airflow setpoint is more than a tenth off the design.",
         "Compare it with the newest revision of the schedule, and its unit.", ("supply_airflow",),
         _off_design("supply"), _designed("supply")),
    Rule("N37", "look", "The exhaust airflow setpoint is more than a tenth off the design.",
         "Compare it with the newest revision of the schedule, and its unit.", ("exhaust_airflow",),
         _off_design("exhaust"), _designed("exhaust")),
    Rule("N40", "wrong_air", "At the supply fan's minimum the ratio asks for less than the exhaust fan's own minimum: "
         "the exhaust stays high, and the space turns negative at low load only.",
         "Lower the exhaust fan's minimum, or raise the supply fan's.",
         ("exhaust_ratio", "supply_minimum_speed", "exhaust_minimum_speed"),
         _asks_less("supply_minimum_speed", "exhaust_minimum_speed"),
         BY_SPEED),
    Rule("N41", "wrong_air", "At the supply fan's minimum the ratio asks for less than the exhaust fan's own minimum: "
         "the exhaust stays high, and the space turns negative at low load only.",
         "Lower the exhaust fan's minimum, or raise the supply fan's.",
         ("exhaust_ratio", "supply_minimum_airflow", "exhaust_minimum_airflow"),
         _asks_less("supply_minimum_airflow", "exhaust_minimum_airflow"),
         BY_AIRFLOW),
    Rule("N42", "look", "At the supply fan's maximum the ratio asks for more than the exhaust fan is allowed: "
         "it stays behind at high load.",
         "Raise the exhaust fan's maximum where motor and duct allow it, or lower the ratio.",
         ("exhaust_ratio", "supply_maximum_speed", "exhaust_maximum_speed"),
         _asks_more("supply_maximum_speed", "exhaust_maximum_speed"),
         BY_SPEED),
    Rule("N43", "look", "At the supply fan's maximum the ratio asks for more than the exhaust fan is allowed: "
         "it stays behind at high load.",
         "Raise the exhaust fan's maximum where motor and duct allow it, or lower the ratio.",
         ("exhaust_ratio", "supply_maximum_airflow", "exhaust_maximum_airflow"),
         _asks_more("supply_maximum_airflow", "exhaust_maximum_airflow"),
         BY_AIRFLOW),
    Rule("N44", "wrong_air", "The exhaust follows the supply at a ratio of zero: it never leaves its minimum.",
         "Set the ratio from the design airflows.", ("exhaust_ratio",),
         lambda case: case.number("exhaust_ratio") == 0.0,
         lambda case: BY_SPEED(case) or BY_AIRFLOW(case)),
    Rule("N45", "look", "The exhaust follows at more than the supply: the unit takes out more than it brings.",
         "See whether the space is meant to be negative.", ("exhaust_ratio",),
         lambda case: less(1.0, case.number("exhaust_ratio")), BY_AIRFLOW),
    Rule("N50", "look", "The CO2 setpoint lies at or below 500 ppm: outdoor air alone hardly gets there.",
         "Check the setpoint; the fan will stay at its maximum.", ("co2_setpoint",),
         lambda case: not less(OUTDOOR_CO2, case.number("co2_setpoint")), supply("co2_level")),
    Rule("N51", "look", "The CO2 setpoint lies above 1000 ppm.", "Compare it with the design and the local code.",
         ("co2_setpoint",), lambda case: less(LARGEST_CO2, case.number("co2_setpoint")),
         supply("co2_level"), TITLE_24),
    Rule("N52", "look", "The CO2 alarm does not lie above the CO2 setpoint: it comes in normal operation.",
         "Set the alarm above the setpoint.", ("co2_setpoint", "co2_alarm"),
         _not_below("co2_setpoint", "co2_alarm"), supply("co2_level")),
    Rule("N53", "look", "The filter alarm is set to zero: it is either off or always there.",
         "Set it to the filter's final pressure drop.", ("filter_alarm_pressure",),
         lambda case: case.number("filter_alarm_pressure") == 0.0, lambda case: case.yes("option_filter_watch")),
    Rule("N60", "unsafe", "The fan starts together with its shut-off damper: it blows against a closed one.",
         "Set the delay to the damper's running time, or let its end switch release the fan.",
         ("damper_to_fan_delay",), lambda case: case.number("damper_to_fan_delay") == 0.0,
         lambda case: case.yes("option_dampers")),
    Rule("N61", "will_not_run", "Proof of running is missed at once: the fan is stopped before it can turn.",
         "Set it to the time in which the fan comes up, and somewhat more.", ("proof_delay",),
         lambda case: case.number("proof_delay") == 0.0),
)  # fmt: skip
