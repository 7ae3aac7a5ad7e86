"""For each rule over settings a case in which it fires and one in which it is looked at and holds. SI.

Beside settings: `clock` is the controller's less the site's time [s], `winter` [°C], `ordered`, `design` by port and
`minimum` of outdoor air [m3/s].
"""

from datetime import UTC, datetime
from typing import Any

from commissioning.dossier.settings.neighbours import Neighbour
from commissioning.dossier.settings.rules import Case

Changes = dict[str, Any]
BASE: Changes = {"clock": 20.0, "winter": -18.0}


def case(changes: Changes) -> Case:
    held = {**BASE, **changes}
    beside = {
        name: held.pop(name, None) for name in ("clock", "winter", "ordered", "design", "minimum", "zone", "others")
    }
    return Case(
        values=held,
        ordered=beside["ordered"] or {},
        clock_off_s=beside["clock"],
        site_zone=beside["zone"] or "America/Chicago",
        at=datetime(2026, 5, 4, 15, 15, tzinfo=UTC),
        winter_c=beside["winter"],
        design_m3_s=beside["design"] or {},
        minimum_m3_s=beside["minimum"],
        others=beside["others"],
    )


def _pair(bad: Changes, good: Changes, **both: Any) -> tuple[Changes, Changes]:
    return {**both, **bad}, {**both, **good}


def _yes_no(code: str, bad: bool, **both: Any) -> tuple[Changes, Changes]:
    return _pair({code: bad}, {code: not bad}, **both)


def _ends(low: str, high: str, below: tuple[float, float], **both: Any) -> tuple[Changes, Changes]:
    """Equal ends are none, and one below the other are."""
    return _pair({low: below[1], high: below[1]}, {low: below[0], high: below[1]}, **both)


def _beside(code: str, held: float | str, **of_both: Any) -> tuple[Changes, Changes]:
    """A unit near it with the same, and none with it."""
    near = Neighbour("ERV-2", {code: held, **of_both})
    return _pair({"others": (near,)}, {"others": ()}, **{code: held, **of_both})


NEIGHBOURS: dict[str, tuple[Changes, Changes]] = {
    "E07": _beside("device_instance", 30021.0, network_protocol="bacnet_mstp"),
    "E08": _beside("network_address", 21.0, network_protocol="modbus_serial"),
    "E09": _beside("internet_address", "10.0.0.7"),
}
ENABLING: dict[str, tuple[Changes, Changes]] = {
    "E01": _pair({"clock": 480.0}, {"clock": 300.0}, enabling="schedule"),
    "E02": _pair({"clock": -3570.0}, {"clock": 480.0}, enabling="schedule"),
    "E03": _pair({"clock": -480.0}, {"clock": -60.0}, enabling="network"),
    "E04": _pair({"clock": 5400.0}, {"clock": 0.0}, enabling="local"),
    "E05": _pair({"time_zone": "America/Denver"}, {"time_zone": "America/Chicago"}),
    "E06": _yes_no("daylight_saving", False),
    "E10": _pair(
        {"network_address": 1.0},
        {"network_address": 21.0},
        network_address_delivered=1.0,
        network_protocol="bacnet_mstp",
    ),
    "E11": _pair(
        {"device_instance": 600.0},
        {"device_instance": 30021.0},
        device_instance_delivered=600.0,
        network_protocol="bacnet_ip",
    ),
    "E12": _pair({"device_instance": 4194303.0}, {"device_instance": 4194302.0}, network_protocol="bacnet_ip"),
    "E13": _pair({"network_address": 128.0}, {"network_address": 127.0}, network_protocol="bacnet_mstp"),
    "E14": _pair({"network_address": 0.0}, {"network_address": 247.0}, network_protocol="modbus_serial"),
    "E15": _pair({"network_protocol": "none"}, {"network_protocol": "modbus_tcp"}, enabling="network"),
    "E16": _yes_no("network_command_written", False, enabling="network"),
    "E17": _pair({"network_lost": "stops"}, {"network_lost": "keeps_last"}, enabling="network"),
    "E20": _pair({"occupied_days": 0.0}, {"occupied_days": 5.0}, enabling="schedule"),
    "E21": _pair(
        {"occupied_from": 64800.0, "occupied_to": 64800.0},
        {"occupied_from": 79200.0, "occupied_to": 21600.0},
        enabling="schedule",
    ),
    "E22": _yes_no("interlock_wired", False, enabling="external_interlock"),
    "E23": _yes_no("interlock_wired", False, interlock_in_use=True, enabling="network"),
    "E24": _pair({"local_switch": "off"}, {"local_switch": "automatic"}),
    "E25": _pair({"local_switch": "hand"}, {"local_switch": "automatic"}, enabling="schedule"),
}
OPTIONS = ("bypass", "heating", "cooling", "frost_control", "dampers", "filter_watch", "smoke_input")
ORDERED: dict[str, tuple[Changes, Changes]] = {
    **{
        f"O{n:02}": _yes_no(f"option_{name}", False, ordered={f"option_{name}": True})
        for n, name in enumerate(OPTIONS, start=1)
    },
    **{
        f"O{n:02}": _yes_no(f"option_{name}", True, ordered={f"option_{name}": False})
        for n, name in enumerate(OPTIONS, start=11)
    },
    "O21": _pair({"enabling": "local"}, {"enabling": "network"}, ordered={"enabling": "network"}),
    "O22": _pair(
        {"units_of_measure": "metric"}, {"units_of_measure": "inch_pound"}, ordered={"units_of_measure": "inch_pound"}
    ),
    "O23": _pair(
        {"supply_control": "constant_speed"}, {"supply_control": "co2_level"}, ordered={"supply_control": "co2_level"}
    ),
    "O24": _pair(
        {"exhaust_control": "constant_speed"},
        {"exhaust_control": "constant_airflow"},
        ordered={"exhaust_control": "constant_airflow"},
    ),
}
CONTROL: dict[str, tuple[Changes, Changes]] = {
    "C01": _yes_no("sensor_supply_duct_pressure", False, supply_control="duct_static_pressure"),
    "C02": _yes_no("sensor_space_pressure", False, supply_control="space_static_pressure"),
    "C03": _yes_no("sensor_co2", False, supply_control="co2_level"),
    "C04": _yes_no("sensor_voc", False, supply_control="voc_level"),
    "C05": _yes_no("sensor_co2", False, supply_control="airflow_reset_on_co2"),
    "C06": _yes_no("sensor_supply_airflow", False, supply_control="airflow_reset_on_co2"),
    "C07": _yes_no("sensor_supply_airflow", False, supply_control="constant_airflow"),
    "C08": _yes_no("sensor_exhaust_airflow", False, exhaust_control="constant_airflow"),
    "C09": _yes_no("sensor_exhaust_duct_pressure", False, exhaust_control="duct_static_pressure"),
    "C10": _yes_no("sensor_space_pressure", False, exhaust_control="space_static_pressure"),
    "C11": _yes_no("sensor_exhaust_airflow", False, exhaust_control="follows_supply_by_airflow_ratio"),
    "C12": _yes_no("sensor_supply_airflow", False, exhaust_control="follows_supply_by_airflow_ratio"),
    "C20": _yes_no("sensor_supply_temperature", False, option_heating=True),
    "C21": _yes_no("sensor_supply_temperature", False, option_cooling=True),
    "C22": _yes_no("sensor_outdoor_temperature", False, option_bypass=True),
    "C23": _yes_no("sensor_exhaust_temperature", False, sensor_outdoor_temperature=False, option_frost_control=True),
    "C24": _yes_no("sensor_filter_pressure", False, option_filter_watch=True),
    "C25": _pair(
        {"exhaust_control": "space_static_pressure"},
        {"exhaust_control": "duct_static_pressure"},
        supply_control="space_static_pressure",
    ),
    "C26": _yes_no("heating_needs_proof", False, option_heating=True),
    "C27": _pair({"smoke_action": "runs_on"}, {"smoke_action": "stops_both"}, option_smoke_input=True),
    "L11": _pair({"supply_gain": 0.0}, {"supply_gain": 0.5}, supply_control="duct_static_pressure"),
    "L12": _pair({"supply_integral_time": 0.0}, {"supply_integral_time": 60.0}, supply_control="co2_level"),
    "L21": _pair({"exhaust_gain": 0.0}, {"exhaust_gain": 0.5}, exhaust_control="follows_supply_by_airflow_ratio"),
    "L22": _pair({"exhaust_integral_time": 0.0}, {"exhaust_integral_time": 9.0}, exhaust_control="constant_airflow"),
    "L31": _pair({"heating_gain": 0.0}, {"heating_gain": 2.0}, option_heating=True),
    "L32": _pair({"heating_integral_time": 0.0}, {"heating_integral_time": 300.0}, option_heating=True),
    "L41": _pair({"cooling_gain": 0.0}, {"cooling_gain": 2.0}, option_cooling=True),
    "L42": _pair({"cooling_integral_time": 0.0}, {"cooling_integral_time": 300.0}, option_cooling=True),
}
_RESET = {"supply_control": "airflow_reset_on_co2"}
_BY_SPEED = {"exhaust_control": "follows_supply_by_speed_ratio"}
_BY_AIRFLOW = {"exhaust_control": "follows_supply_by_airflow_ratio"}
NUMBERS: dict[str, tuple[Changes, Changes]] = {
    "N01": _ends("supply_minimum_speed", "supply_maximum_speed", (0.3, 1.0)),
    "N02": _ends("supply_minimum_airflow", "supply_maximum_airflow", (0.2, 0.5)),
    "N03": _ends("exhaust_minimum_speed", "exhaust_maximum_speed", (0.3, 1.0)),
    "N04": _ends("exhaust_minimum_airflow", "exhaust_maximum_airflow", (0.2, 0.5)),
    "N05": _pair({"supply_speed": 0.25}, {"supply_speed": 0.3}, supply_minimum_speed=0.3, supply_maximum_speed=0.9,
                 supply_control="constant_speed"),
    "N06": _pair({"supply_airflow": 0.6}, {"supply_airflow": 0.5}, supply_minimum_airflow=0.2,
                 supply_maximum_airflow=0.5, supply_control="constant_airflow"),
    "N07": _pair({"exhaust_speed": 0.95}, {"exhaust_speed": 0.6}, exhaust_minimum_speed=0.3, exhaust_maximum_speed=0.9,
                 exhaust_control="constant_speed"),
    "N08": _pair({"exhaust_airflow": 0.1}, {"exhaust_airflow": 0.2}, exhaust_minimum_airflow=0.2,
                 exhaust_maximum_airflow=0.5, exhaust_control="constant_airflow"),
    "N10": _pair({"supply_duct_pressure": 300.0}, {"supply_duct_pressure": 250.0}, supply_duct_sensor_low=0.0,
                 supply_duct_sensor_high=250.0, supply_control="duct_static_pressure"),
    "N11": _pair({"exhaust_duct_pressure": 150.0}, {"exhaust_duct_pressure": -150.0}, exhaust_duct_sensor_low=-250.0,
                 exhaust_duct_sensor_high=0.0, exhaust_control="duct_static_pressure"),
    "N12": _pair({"supply_space_pressure": 30.0}, {"supply_space_pressure": 5.0}, space_sensor_low=-25.0,
                 space_sensor_high=25.0, supply_control="space_static_pressure"),
    "N13": _pair({"exhaust_space_pressure": -30.0}, {"exhaust_space_pressure": -5.0}, space_sensor_low=-25.0,
                 space_sensor_high=25.0, exhaust_control="space_static_pressure"),
    "N14": _pair({"co2_setpoint": 0.0025}, {"co2_setpoint": 0.0009}, co2_sensor_low=0.0, co2_sensor_high=0.002,
                 supply_control="co2_level"),
    "N15": _pair({"reset_high_co2": 0.0025}, {"reset_high_co2": 0.001}, co2_sensor_low=0.0, co2_sensor_high=0.002,
                 **_RESET),
    "N20": _pair({"supply_speed": 0.0}, {"supply_speed": 0.6}, supply_control="constant_speed"),
    "N21": _pair({"supply_airflow": 0.0}, {"supply_airflow": 0.5}, supply_control="constant_airflow"),
    "N22": _pair({"supply_duct_pressure": 0.0}, {"supply_duct_pressure": 200.0}, supply_control="duct_static_pressure"),
    "N23": _pair({"exhaust_speed": 0.0}, {"exhaust_speed": 0.6}, exhaust_control="constant_speed"),
    "N24": _pair({"exhaust_airflow": 0.0}, {"exhaust_airflow": 0.5}, exhaust_control="constant_airflow"),
    "N25": _pair({"exhaust_duct_pressure": 0.0}, {"exhaust_duct_pressure": -200.0},
                 exhaust_control="duct_static_pressure"),
    "N30": _pair({"reset_airflow_at_high": 0.1}, {"reset_airflow_at_high": 0.5}, reset_airflow_at_low=0.2, **_RESET),
    "N31": _ends("reset_low_co2", "reset_high_co2", (0.0008, 0.001), **_RESET),
    "N32": _pair({"reset_airflow_at_low": 0.15}, {"reset_airflow_at_low": 0.2}, ventilation_floor=0.2, **_RESET),
    "N33": _pair({"reset_airflow_at_high": 0.6}, {"reset_airflow_at_high": 0.5}, supply_maximum_airflow=0.5, **_RESET),
    "N34": _pair({"ventilation_floor": 0.15}, {"ventilation_floor": 0.2}, minimum=0.2, **_RESET),
    "N35": _pair({"supply_minimum_airflow": 0.15}, {"supply_minimum_airflow": 0.2}, minimum=0.2,
                 supply_control="co2_level"),
    "N36": _pair({"supply_airflow": 0.56}, {"supply_airflow": 0.55}, design={"supply": 0.5},
                 supply_control="constant_airflow"),
    "N37": _pair({"exhaust_airflow": 0.44}, {"exhaust_airflow": 0.45}, design={"exhaust": 0.5},
                 exhaust_control="constant_airflow"),
    # 0.8 of 30 % is 24 %: a ratio of a ratio
    "N40": _pair({"exhaust_minimum_speed": 0.25}, {"exhaust_minimum_speed": 0.24}, exhaust_ratio=0.8,
                 supply_minimum_speed=0.3, **_BY_SPEED),
    "N41": _pair({"exhaust_minimum_airflow": 0.2}, {"exhaust_minimum_airflow": 0.18}, exhaust_ratio=0.9,
                 supply_minimum_airflow=0.2, **_BY_AIRFLOW),
    "N42": _pair({"exhaust_maximum_speed": 0.75}, {"exhaust_maximum_speed": 0.8}, exhaust_ratio=0.8,
                 supply_maximum_speed=1.0, **_BY_SPEED),
    "N43": _pair({"exhaust_maximum_airflow": 0.4}, {"exhaust_maximum_airflow": 0.45}, exhaust_ratio=0.9,
                 supply_maximum_airflow=0.5, **_BY_AIRFLOW),
    "N44": _pair({"exhaust_ratio": 0.0}, {"exhaust_ratio": 0.9}, **_BY_SPEED),
    "N45": _pair({"exhaust_ratio": 1.1}, {"exhaust_ratio": 1.0}, **_BY_AIRFLOW),
    "N50": _pair({"co2_setpoint": 0.0005}, {"co2_setpoint": 0.0008}, supply_control="co2_level"),
    "N51": _pair({"co2_setpoint": 0.0011}, {"co2_setpoint": 0.001}, supply_control="co2_level"),
    "N52": _pair({"co2_alarm": 0.0009}, {"co2_alarm": 0.0015}, co2_setpoint=0.0009, supply_control="co2_level"),
    "N53": _pair({"filter_alarm_pressure": 0.0}, {"filter_alarm_pressure": 250.0}, option_filter_watch=True),
    "N60": _pair({"damper_to_fan_delay": 0.0}, {"damper_to_fan_delay": 90.0}, option_dampers=True),
    "N61": _pair({"proof_delay": 0.0}, {"proof_delay": 30.0}),
}  # fmt: skip
_BOTH = {"option_heating": True, "option_cooling": True}
TEMPERATURE: dict[str, tuple[Changes, Changes]] = {
    "T01": _pair({"frost_action": "none"}, {"frost_action": "preheats"}, option_frost_control=True),
    "T02": _pair({}, {"frost_limit": 2.0}),
    "T03": _pair({"frost_limit": 11.0}, {"frost_limit": 2.0}),
    "T04": _pair({"restart_after_frost_trip": "by_itself"}, {"restart_after_frost_trip": "by_hand"}, frost_limit=2.0),
    "T10": _pair({"heating_setpoint": 16.0}, {"heating_setpoint": 14.0}, cooling_setpoint=16.0, **_BOTH),
    "T11": _pair({"heating_off_above": 18.0}, {"heating_off_above": 12.0}, cooling_off_below=16.0, **_BOTH),
    "T12": _pair({"bypass_to": 14.0}, {"bypass_to": 22.0}, bypass_from=14.0, option_bypass=True),
    "T13": _pair({"bypass_from": -1.0}, {"bypass_from": 12.0}, option_bypass=True),
    "T20": _pair({"supply_low_limit": 40.0}, {"supply_low_limit": 5.0}, supply_high_limit=35.0),
    "T21": _pair({"supply_high_limit": 20.0}, {"supply_high_limit": 40.0}, heating_setpoint=20.0, option_heating=True),
    "T22": _pair({"supply_low_limit": 14.0}, {"supply_low_limit": 5.0}, cooling_setpoint=14.0, option_cooling=True),
    "T23": _pair({"supply_low_limit": 20.0}, {"supply_low_limit": 5.0}, heating_setpoint=18.0, option_heating=True),
}
CASES: dict[str, tuple[Changes, Changes]] = {
    **ENABLING, **NEIGHBOURS, **ORDERED, **CONTROL, **NUMBERS, **TEMPERATURE,
}  # fmt: skip
