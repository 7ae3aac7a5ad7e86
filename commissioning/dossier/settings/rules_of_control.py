"""Rules on what the fans hold: the sensor it takes, the loop behind it, and two fans that work against each other."""

from commissioning.dossier.settings.rules import Rule, Test


def supply(*modes: str) -> Test:
    return lambda case: case.is_one("supply_control", *modes)


def exhaust(*modes: str) -> Test:
    return lambda case: case.is_one("exhaust_control", *modes)


SUPPLY_LOOPS = supply(
    "constant_airflow",
    "duct_static_pressure",
    "space_static_pressure",
    "co2_level",
    "voc_level",
    "airflow_reset_on_co2",
)
EXHAUST_LOOPS = exhaust(
    "constant_airflow", "duct_static_pressure", "space_static_pressure", "follows_supply_by_airflow_ratio"
)
HEATING: Test = lambda case: case.yes("option_heating")  # noqa: E731
COOLING: Test = lambda case: case.yes("option_cooling")  # noqa: E731

# id, which fan, what it holds, the sensor
_SENSORS = (
    ("C01", "supply", "duct_static_pressure", "sensor_supply_duct_pressure"),
    ("C02", "supply", "space_static_pressure", "sensor_space_pressure"),
    ("C03", "supply", "co2_level", "sensor_co2"),
    ("C04", "supply", "voc_level", "sensor_voc"),
    ("C05", "supply", "airflow_reset_on_co2", "sensor_co2"),
    ("C06", "supply", "airflow_reset_on_co2", "sensor_supply_airflow"),
    ("C07", "supply", "constant_airflow", "sensor_supply_airflow"),
    ("C08", "exhaust", "constant_airflow", "sensor_exhaust_airflow"),
    ("C09", "exhaust", "duct_static_pressure", "sensor_exhaust_duct_pressure"),
    ("C10", "exhaust", "space_static_pressure", "sensor_space_pressure"),
    ("C11", "exhaust", "follows_supply_by_airflow_ratio", "sensor_exhaust_airflow"),
    ("C12", "exhaust", "follows_supply_by_airflow_ratio", "sensor_supply_airflow"),
)


def _needs_sensor(code: str, fan: str, mode: str, sensor: str) -> Rule:
    words = sensor.removeprefix("sensor_").replace("_", " ").replace("co2", "CO2").replace("voc", "VOC")
    return Rule(
        code,
        "wrong_air",
        f"The {fan} fan is set to {mode.replace('_', ' ').replace('co2', 'CO2').replace('voc', 'VOC')}, "
        f"and there is no {words} sensor.",
        "Have the sensor fitted and wired, or set the fan to what the sensors allow, as the engineer says.",
        (sensor,),
        lambda case: case.no(sensor),
        supply(mode) if fan == "supply" else exhaust(mode),
    )


def _zero(name: str) -> Test:
    return lambda case: case.number(name) == 0.0


def _loop(code: str, loop: str, applies: Test) -> tuple[Rule, Rule]:
    gain, time = f"{loop}_gain", f"{loop}_integral_time"
    return (
        Rule(
            f"{code}1", "wrong_air", f"The gain of the {loop} loop is zero: it never moves.",
            "Set the gain, then see the loop settle after a step.", (gain,), _zero(gain), applies,
        ),
        Rule(
            f"{code}2", "look", f"The integral time of the {loop} loop is zero: it is off, or without bound.",
            "Read in the maker's manual what zero means, set a time, and see the loop settle after a step.",
            (time,), _zero(time), applies,
        ),
    )  # fmt: skip


RULES: tuple[Rule, ...] = (
    *(_needs_sensor(*row) for row in _SENSORS),
    Rule(
        "C20", "unsafe", "Heating is enabled without a supply air temperature sensor.",
        "Keep heating off until the sensor is fitted and checked.", ("sensor_supply_temperature",),
        lambda case: case.no("sensor_supply_temperature"), HEATING,
    ),
    Rule(
        "C21", "wrong_air", "Cooling is enabled without a supply air temperature sensor.",
        "Keep cooling off until the sensor is fitted and checked.", ("sensor_supply_temperature",),
        lambda case: case.no("sensor_supply_temperature"), COOLING,
    ),
    Rule(
        "C22", "wrong_air", "The bypass is enabled without an outdoor air temperature sensor.",
        "Have the sensor fitted, or keep the bypass closed.", ("sensor_outdoor_temperature",),
        lambda case: case.no("sensor_outdoor_temperature"), lambda case: case.yes("option_bypass"),
    ),
    Rule(
        "C23", "unsafe", "Frost control is enabled, and neither the exhaust side of the exchanger nor the outdoor air "
        "has a temperature sensor.",
        "Have the sensor fitted that the maker's frost control goes by.",
        ("sensor_exhaust_temperature", "sensor_outdoor_temperature"),
        lambda case: case.no("sensor_exhaust_temperature") and case.no("sensor_outdoor_temperature"),
        lambda case: case.yes("option_frost_control"),
    ),
    Rule(
        "C24", "look", "Filter monitoring is enabled without a filter pressure sensor: none will be reported.",
        "Have the sensor fitted, or have filters changed by the calendar.", ("sensor_filter_pressure",),
        lambda case: case.no("sensor_filter_pressure"), lambda case: case.yes("option_filter_watch"),
    ),
    Rule(
        "C25", "wrong_air", "Both fans hold the pressure of one space: they work against each other.",
        "One fan holds the pressure, the other an airflow or a ratio, as the engineer says.",
        ("supply_control", "exhaust_control"),
        lambda case: case.is_one("supply_control", "space_static_pressure")
        and case.is_one("exhaust_control", "space_static_pressure"),
    ),
    Rule(
        "C26", "unsafe", "Heating does not wait for proven supply air: it can come on without air.",
        "Make heating wait for proof, and see it stay off with the fan stopped.", ("heating_needs_proof",),
        lambda case: case.no("heating_needs_proof"), HEATING,
    ),
    Rule(
        "C27", "unsafe", "The smoke or fire alarm input is in use and does nothing.",
        "Ask the fire alarm contractor and the engineer what it shall do; have them set and test it, by local codes.",
        ("smoke_action",), lambda case: case.is_one("smoke_action", "none", "runs_on"),
        lambda case: case.yes("option_smoke_input"),
    ),
    *_loop("L1", "supply", SUPPLY_LOOPS),
    *_loop("L2", "exhaust", EXHAUST_LOOPS),
    *_loop("L3", "heating", HEATING),
    *_loop("L4", "cooling", COOLING),
)  # fmt: skip
