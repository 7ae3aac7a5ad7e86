"""What can be recorded, and what is judged: one line for each."""

from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from typing import Any, Protocol, cast

from pydantic import BaseModel

from commissioning.blocks import Block
from commissioning.dossier.canonical import canonical_json, sha256_hex
from commissioning.dossier.envelope import Envelope
from commissioning.dossier.figures import Figures
from commissioning.dossier.given import Conventions, Instrument, Place
from commissioning.dossier.results import Judgement, Measurement
from commissioning.dossier.view import View
from commissioning.kinds import (
    airflow,
    checklist,
    electrical,
    exchanger,
    outlets,
    pressure,
    settings,
    startup,
    test_run,
    trend,
)
from commissioning.requirements import (
    calibration_in_date,
    co2_reset,
    current_unbalance,
    design_airflow,
    duct_leakage,
    duct_static_control,
    exchanger_closure,
    exchanger_effectiveness,
    exhaust_transfer,
    fan_power_limit,
    fan_proven,
    fan_rotation,
    functional_tests,
    mass_balance,
    motor_current,
    motor_voltage,
    net_outdoor_air,
    one_session,
    outlet_airflow,
    outlet_finals_agree,
    overload_setting,
    ready_for_test,
    room_airflow,
    room_offset,
    safety_holds,
    settings_consistent,
    space_pressure,
    specific_fan_power,
    start_sequence,
    started,
    static_pressure,
    trend_expectations,
    two_finals_agree,
    two_methods_agree,
    ventilation_minimum,
    ventilation_rate,
    voltage_unbalance,
    wheel_speed,
)


class Kind(Protocol):
    """A kind of field record: its payload's schema, what a record amounts to, and how that is shown."""

    CODE: str
    TITLE: str
    VERSION: int
    Payload: type[BaseModel]

    def facts(self, payload: Any) -> tuple[bool, str]: ...
    def instruments(self, payload: Any) -> frozenset[str]: ...
    def measure(
        self, envelope: Envelope, place: Place, conventions: Conventions, tools: Mapping[str, Instrument]
    ) -> Sequence[Measurement | Figures]: ...
    def headline(self, measurement: Mapping[str, Any], display: str) -> str: ...
    def show(self, measurement: Mapping[str, Any], display: str) -> tuple[Block, ...]: ...


class Requirement(Protocol):
    """Something to be judged: its rule, the rule's version, and how a judgement is shown.

    Where its ports are fans, a rule says `OF = "fan"`; else a port is its air.
    """

    CODE: str
    TITLE: str
    VERSION: int
    PRIORITY: str  # of the issue that a failure opens: safety, code, performance or paper

    def judge(self, view: View) -> Iterable[Judgement]: ...
    def show(
        self, judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
    ) -> tuple[Block, ...]: ...


KINDS: dict[str, Kind] = {
    kind.CODE: kind
    for kind in cast(
        tuple[Kind, ...],
        (airflow, checklist, electrical, exchanger, outlets, pressure, settings, startup, test_run, trend),
    )
}

RULES: dict[str, Requirement] = {
    rule.CODE: rule
    for rule in cast(
        tuple[Requirement, ...],
        (
            safety_holds,
            ready_for_test,
            settings_consistent,
            functional_tests,
            trend_expectations,
            start_sequence,
            fan_proven,
            started,
            design_airflow,
            ventilation_minimum,
            ventilation_rate,
            co2_reset,
            two_finals_agree,
            two_methods_agree,
            one_session,
            mass_balance,
            outlet_airflow,
            outlet_finals_agree,
            room_airflow,
            room_offset,
            duct_leakage,
            static_pressure,
            duct_static_control,
            space_pressure,
            exchanger_effectiveness,
            exchanger_closure,
            wheel_speed,
            exhaust_transfer,
            net_outdoor_air,
            calibration_in_date,
            fan_rotation,
            motor_voltage,
            voltage_unbalance,
            motor_current,
            current_unbalance,
            overload_setting,
            specific_fan_power,
            fan_power_limit,
        ),
    )
}


def rules_hash() -> str:
    """Changes when any kind or rule gets another version: then everything is judged again."""
    return _hash_of(
        tuple((code, kind.VERSION) for code, kind in KINDS.items()),
        tuple((code, rule.VERSION) for code, rule in RULES.items()),
    )


@lru_cache(maxsize=8)
def _hash_of(kinds: tuple[tuple[str, int], ...], rules: tuple[tuple[str, int], ...]) -> str:
    return sha256_hex(canonical_json({"kinds": dict(kinds), "rules": dict(rules)}))
