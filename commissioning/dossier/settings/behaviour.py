"""What a controller's settings will make the unit do: whether it would start now, and what each fan is then told.

Told by the settings alone. A loop with an integral part is followed to where it ends while the condition lasts.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from commissioning.dossier.settings.rules import Case
from commissioning.engineering.co2_control import ResetLine, reset_airflow_m3_s

HOUR_S = 3600.0
PPM = 1e-6
STOPPED = "stopped"
NOT_READ = "not read"


@dataclass(frozen=True)
class Obstacle:
    """Why it would not start. Not `certain`: nobody looked, so it may be this."""

    text: str
    certain: bool = True


def is_occupied(hour: float, start: float, end: float) -> bool:
    """Whether an hour lies in a daily period, which may go past midnight. All in one unit.

    >>> is_occupied(6.0, 6.0, 18.0), is_occupied(18.0, 6.0, 18.0), is_occupied(2.0, 22.0, 6.0)
    (True, False, True)
    """
    return start <= hour < end if start <= end else hour >= start or hour < end


def obstacles(case: Case, seen: Mapping[str, str], second_of_day: float | None) -> Iterator[Obstacle]:
    """Every reason why it would not start now, in the order to check. `second_of_day` is of the controller's clock."""
    yield from _seen("power", seen, "off", "It has no power.", "power")
    yield from _seen("smoke", seen, "tripped", "The smoke or fire alarm input is tripped.", "the smoke or alarm input")
    yield from _seen("frost", seen, "tripped", "Frost control has tripped.", "the frost trip")
    yield from _seen("safeties", seen, "tripped", "A safety has tripped: see which one.", "the other safeties")
    if case.is_one("local_switch", "off"):
        yield Obstacle("The local switch stands at off.")
    if case.yes("interlock_in_use") or case.is_one("enabling", "external_interlock"):
        yield from _seen("contact", seen, "open", "The external contact is open.", "the external contact")
    if not case.is_one("local_switch", "hand"):
        yield from _by_source(case, seen, second_of_day)


def _seen(name: str, seen: Mapping[str, str], bad: str, text: str, what: str) -> Iterator[Obstacle]:
    state = seen.get(name, "not_seen")
    if state == bad:
        yield Obstacle(text)
    elif state == "not_seen":
        yield Obstacle(f"Nobody looked at {what}.", certain=False)


def _by_source(case: Case, seen: Mapping[str, str], second_of_day: float | None) -> Iterator[Obstacle]:
    source = case.word("enabling")
    if not source:
        yield Obstacle("What enables it was not read.", certain=False)
    elif source == "network":
        if case.is_one("network_protocol", "none"):
            yield Obstacle("The network shall run it, and it has no network.")
        yield from _seen("network_command", seen, "off", "The network's command is off.", "the network's command")
    elif source == "schedule":
        yield from _by_schedule(case, second_of_day)


def _by_schedule(case: Case, second_of_day: float | None) -> Iterator[Obstacle]:
    days = case.values.get("occupied_days")
    if days == 0.0:
        yield Obstacle("The schedule has no day with an occupied period.")
        return
    if not (case.knows("occupied_from") and case.knows("occupied_to")):
        yield Obstacle("The hours of the schedule were not read.", certain=False)
    elif second_of_day is None:
        yield Obstacle("The controller's clock was not read.", certain=False)
    elif not is_occupied(second_of_day, case.number("occupied_from"), case.number("occupied_to")):
        hour = f"{int(second_of_day // HOUR_S):02}:{int(second_of_day % HOUR_S // 60):02}"
        yield Obstacle(f"By the controller's clock it is {hour}, outside the schedule's hours.")
    if days is None or days != 7.0:
        yield Obstacle("Whether today is a day of the schedule was not looked at.", certain=False)


# What each fan is told


@dataclass(frozen=True)
class Condition:
    """One state of affairs: what the supply fan's loop reads, if it has one. SI."""

    name: str  # any, unoccupied, co2, supply_duct_pressure, space_pressure, voc
    reading: float | None = None


@dataclass(frozen=True)
class Told:
    """What one fan is told, as far as it is known; `how` says by what."""

    speed: float | None
    airflow_m3_s: float | None
    how: str


@dataclass(frozen=True)
class Row:
    condition: Condition
    supply: Told
    exhaust: Told

    @property
    def offset_m3_s(self) -> float | None:
        """Supply less exhaust: positive brings more in than it takes out."""
        if self.supply.airflow_m3_s is None or self.exhaust.airflow_m3_s is None:
            return None
        return self.supply.airflow_m3_s - self.exhaust.airflow_m3_s


_LOOPS = {  # what it reads, its setpoint, steps about it, and whether the fan rises when the reading does
    "duct_static_pressure": ("supply_duct_pressure", "supply_duct_pressure", 25.0, False),
    "space_static_pressure": ("space_pressure", "supply_space_pressure", 2.5, False),
    "co2_level": ("co2", "co2_setpoint", 100.0 * PPM, True),
    "voc_level": ("voc", "voc_setpoint", 0.1, True),
}


def table(case: Case) -> tuple[Row, ...]:
    """Both fans over a few conditions that matter for what the supply fan holds."""
    return tuple(row_of(case, condition) for condition in _conditions(case))


def row_of(case: Case, condition: Condition) -> Row:
    if condition.name == "unoccupied":
        stopped = Told(0.0, 0.0, STOPPED)
        return Row(condition, stopped, stopped)
    supply = _with_both(case, "supply", _supply(case, condition))
    return Row(condition, supply, _with_both(case, "exhaust", _exhaust(case, supply)))


def _conditions(case: Case) -> Iterator[Condition]:
    mode = case.word("supply_control")
    if mode == "airflow_reset_on_co2" and case.knows("reset_low_co2") and case.knows("reset_high_co2"):
        low, high = case.number("reset_low_co2"), case.number("reset_high_co2")
        for co2 in (low - 100.0 * PPM, low, (low + high) / 2.0, high, high + 100.0 * PPM):
            yield Condition("co2", max(co2, 0.0))
    elif mode in _LOOPS and case.knows(_LOOPS[mode][1]):
        name, setpoint, step, _ = _LOOPS[mode]
        for by in (-step, 0.0, step):
            yield Condition(name, case.number(setpoint) + by)
    else:
        yield Condition("any")
    if case.is_one("enabling", "schedule"):
        yield Condition("unoccupied")


def _supply(case: Case, condition: Condition) -> Told:
    mode = case.word("supply_control")
    if mode in ("constant_speed", "constant_airflow"):
        return _constant(case, "supply", mode)
    if mode == "airflow_reset_on_co2":
        return _on_reset_line(case, condition)
    if mode in _LOOPS and condition.reading is not None:
        return _loop_end(case, "supply", condition.reading - case.number(_LOOPS[mode][1]), _LOOPS[mode][3])
    return Told(None, None, NOT_READ)


def _exhaust(case: Case, supply: Told) -> Told:
    mode = case.word("exhaust_control")
    if mode in ("constant_speed", "constant_airflow"):
        return _constant(case, "exhaust", mode)
    if mode == "follows_supply_by_speed_ratio" and supply.speed is not None and case.knows("exhaust_ratio"):
        return _held(case, "exhaust", "speed", case.number("exhaust_ratio") * supply.speed, "ratio × supply speed")
    flow = supply.airflow_m3_s
    if mode == "follows_supply_by_airflow_ratio" and flow is not None and case.knows("exhaust_ratio"):
        return _held(case, "exhaust", "airflow", case.number("exhaust_ratio") * flow, "ratio × supply airflow")
    if mode in ("duct_static_pressure", "space_static_pressure"):
        return Told(None, None, f"holds its {mode.replace('_', ' ')} by a loop of its own")
    return Told(None, None, NOT_READ)


def _constant(case: Case, fan: str, mode: str) -> Told:
    what = mode.removeprefix("constant_")
    code = f"{fan}_{what}"
    return _held(case, fan, what, case.number(code), "setpoint") if case.knows(code) else Told(None, None, NOT_READ)


def _held(case: Case, fan: str, what: str, asked: float, how: str) -> Told:
    """What is asked for, held between the fan's minimum and maximum where those were read."""
    value = asked
    for bound, pick in (("maximum", min), ("minimum", max)):
        code = f"{fan}_{bound}_{what}"
        if case.knows(code) and pick(value, case.number(code)) != value:
            value, how = case.number(code), f"{how}, held at its {bound}"
    return Told(value, None, how) if what == "speed" else Told(None, value, how)


def _on_reset_line(case: Case, condition: Condition) -> Told:
    names = ("reset_low_co2", "reset_high_co2", "reset_airflow_at_low", "reset_airflow_at_high")
    if condition.reading is None or not all(case.knows(name) for name in names):
        return Told(None, None, NOT_READ)
    try:
        asked = float(reset_airflow_m3_s(line=ResetLine(*(case.number(name) for name in names)), co2=condition.reading))
    except ValueError:
        return Told(None, None, "the reset line contradicts itself")
    how = "reset line"
    if case.knows("ventilation_floor") and case.number("ventilation_floor") > asked:
        asked, how = case.number("ventilation_floor"), "ventilation floor"
    return _held(case, "supply", "airflow", asked, how)


def _loop_end(case: Case, fan: str, above_setpoint: float, rises: bool) -> Told:
    if above_setpoint == 0.0:
        return Told(None, None, "as it is: the setpoint is held")
    bound = "maximum" if (above_setpoint > 0.0) == rises else "minimum"
    known = [case.values.get(f"{fan}_{bound}_{what}") for what in ("speed", "airflow")]
    speed, airflow = (one if isinstance(one, float) else None for one in known)
    return Told(speed, airflow, f"goes to its {bound}" + ("" if known != [None, None] else f", {NOT_READ}"))


def _with_both(case: Case, fan: str, told: Told) -> Told:
    """Airflow from speed, or speed from airflow, where the airflow at full speed on this system is known."""
    code = f"{fan}_airflow_at_full_speed"
    if not case.knows(code) or case.number(code) == 0.0:
        return told
    full = case.number(code)
    if told.airflow_m3_s is None and told.speed is not None:
        return replace(told, airflow_m3_s=told.speed * full)
    if told.speed is None and told.airflow_m3_s is not None:
        return replace(told, speed=told.airflow_m3_s / full)
    return told
