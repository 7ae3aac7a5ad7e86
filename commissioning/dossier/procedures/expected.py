"""What a step has to come to on this unit: worked out from its settings and its design, each by name."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from commissioning.dossier.settings.behaviour import Condition, row_of
from commissioning.dossier.settings.rules import Case

Worked = tuple[float, str] | None  # in SI, and how in words


@dataclass(frozen=True, slots=True)
class Expected:
    """A value in SI, how it was found, and on which air basis where it is an airflow and that is known."""

    value: float
    how: str
    basis: str = ""


@dataclass(frozen=True, slots=True)
class Expectation:
    """`needs` are the settings without which it cannot be worked out, `also` those that change it where they are read.

    `by_design`: the design gives it before any setting does.
    """

    needs: tuple[str, ...]
    work_out: Callable[[Case], Worked]
    also: tuple[str, ...] = ()
    by_design: bool = False

    @property
    def settings(self) -> tuple[str, ...]:
        return (*self.needs, *self.also)


def _setting(code: str) -> Expectation:
    return Expectation((code,), lambda case: (case.number(code), "as it is set"))


def _follows(what: str, share: float) -> Expectation:
    """The exhaust fan where the supply fan runs so far between its minimum and its maximum."""
    low, high = f"supply_minimum_{what}", f"supply_maximum_{what}"

    def work_out(case: Case) -> Worked:
        supply = case.number(low) + share * (case.number(high) - case.number(low))
        held = replace(case, values={**case.values, "supply_control": f"constant_{what}", f"supply_{what}": supply})
        told = row_of(held, Condition("any")).exhaust
        value = told.speed if what == "speed" else told.airflow_m3_s
        return None if value is None else (value, told.how)

    also = (f"exhaust_minimum_{what}", f"exhaust_maximum_{what}", "exhaust_control")
    return Expectation((low, high, "exhaust_ratio"), work_out, also)


def _on_line(share: float) -> Expectation:
    """The supply airflow so far up the CO2 reset line."""
    needs = ("reset_low_co2", "reset_high_co2", "reset_airflow_at_low", "reset_airflow_at_high")

    def work_out(case: Case) -> Worked:
        low, high = case.number("reset_low_co2"), case.number("reset_high_co2")
        co2 = low + share * (high - low)
        told = row_of(case, Condition("co2", co2)).supply
        return None if told.airflow_m3_s is None else (told.airflow_m3_s, f"{told.how} at {1e6 * co2:.0f} ppm")

    also = ("ventilation_floor", "supply_minimum_airflow", "supply_maximum_airflow", "supply_control")
    return Expectation(needs, work_out, also)


def _outdoor_minimum(case: Case) -> Worked:
    if case.minimum_m3_s is not None:
        return case.minimum_m3_s, "minimum of the design"
    return (
        (case.number("ventilation_floor"), "ventilation floor as it is set")
        if case.knows("ventilation_floor")
        else None
    )


EXPECTATIONS: Mapping[str, Expectation] = {
    "proof_delay": _setting("proof_delay"),
    "frost_limit": _setting("frost_limit"),
    "bypass_from": _setting("bypass_from"),
    "bypass_to": _setting("bypass_to"),
    "supply_duct_pressure": _setting("supply_duct_pressure"),
    "filter_alarm_pressure": _setting("filter_alarm_pressure"),
    "outdoor_minimum": Expectation((), _outdoor_minimum, ("ventilation_floor",), by_design=True),
    "exhaust_speed_lowest": _follows("speed", 0.0),
    "exhaust_speed_middle": _follows("speed", 0.5),
    "exhaust_speed_highest": _follows("speed", 1.0),
    "exhaust_airflow_lowest": _follows("airflow", 0.0),
    "exhaust_airflow_middle": _follows("airflow", 0.5),
    "exhaust_airflow_highest": _follows("airflow", 1.0),
    "reset_low": _on_line(0.0),
    "reset_middle": _on_line(0.5),
    "reset_high": _on_line(1.0),
}


def expected(name: str, case: Case, *, design_basis: str = "") -> Expected | tuple[str, ...]:
    """The expected value, or the settings that were not read and would tell it."""
    one = EXPECTATIONS[name]
    missing = tuple(code for code in one.needs if not case.knows(code))
    worked = None if missing else one.work_out(case)
    if worked is None:
        return missing or one.settings
    by_design = one.by_design and case.minimum_m3_s is not None
    return Expected(*worked, design_basis if by_design else "")
