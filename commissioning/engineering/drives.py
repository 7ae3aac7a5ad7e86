"""What applies to which motor, its current against the nameplate, and the setting of its overload protection.

Everything here is read at a panel that may be live: the readings are taken by a licensed or qualified person, under
the site's procedure for lockout and arc flash. Whether a setting is right is the electrician's and the local code's
to say; a finding here is a question to them, never a clearance.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np

from commissioning.engineering.guards import FloatOrArray, plain, within

CURRENT_UNBALANCE_ACTION = 0.10
VOLTAGE_TOLERANCE = 0.10
_CURRENT_RANGE_A = (1e-3, 10_000.0)


class MotorKind(Enum):
    """How a motor is fed."""

    SINGLE_PHASE = "single_phase"
    THREE_PHASE = "three_phase"
    ELECTRONICALLY_COMMUTATED = "electronically_commutated"


class MotorQuantity(Enum):
    """What may be read or worked out at a motor."""

    CURRENT_LEGS = "current_legs"
    VOLTAGE_UNBALANCE = "voltage_unbalance"
    CURRENT_UNBALANCE = "current_unbalance"
    SLIP = "slip"
    SERVICE_FACTOR = "service_factor"
    OVERLOAD_SETTING = "overload_setting"
    POWER = "power"


class OverloadFinding(Enum):
    """What an overload setting amounts to."""

    IN_ORDER = "in_order"
    TOO_HIGH = "too_high"
    TOO_LOW = "too_low"
    OUT_OF_REACH = "out_of_reach"


@dataclass(frozen=True, slots=True)
class Application:
    """Whether a quantity applies to a motor.

    Attributes:
        quantity: what may be read.
        applies: whether it means something there.
        why: the reason, or how to read it.
    """

    quantity: MotorQuantity
    applies: bool
    why: str


@dataclass(frozen=True, slots=True)
class CurrentLoad:
    """Motor current against its nameplate.

    Attributes:
        share: highest leg over the nameplate's current [-].
        allowed_share: service factor that counts [-].
        is_within: the share is at most the allowed one.
    """

    share: float
    allowed_share: float
    is_within: bool


@dataclass(frozen=True, slots=True)
class OverloadCheck:
    """An overload setting against its motor.

    Attributes:
        finding: in order, too high, too low, or out of the relay's range.
        share: setting over the nameplate's current [-].
        limit_share: largest usual share [-].
        remark: what follows from it, in words, for the electrician.
    """

    finding: OverloadFinding
    share: float
    limit_share: float
    remark: str


_Q = MotorQuantity
_ONE, _THREE, _EC = MotorKind.SINGLE_PHASE, MotorKind.THREE_PHASE, MotorKind.ELECTRONICALLY_COMMUTATED
_WHY: dict[MotorQuantity, dict[MotorKind, tuple[bool, str]]] = {
    _Q.CURRENT_LEGS: {
        _ONE: (True, "one leg"),
        _THREE: (True, "three legs"),
        _EC: (True, "the legs that feed it; a plain meter may misread the distorted current: take a true-RMS one"),
    },
    _Q.VOLTAGE_UNBALANCE: {
        _ONE: (False, "one phase has nothing to be out of balance with"),
        _THREE: (True, "between the lines, at the motor's terminals or before the drive"),
        _EC: (False, "its electronics make their own phases from the supply"),
    },
    _Q.CURRENT_UNBALANCE: {
        _ONE: (False, "one leg has nothing to be out of balance with"),
        _THREE: (True, "between the legs; six to ten times the voltage's is usual"),
        _EC: (False, "the current of its supply says nothing of the windings"),
    },
    _Q.SLIP: {
        _ONE: (True, "against the synchronous speed; weak"),
        _THREE: (True, "against the synchronous speed; weak"),
        _EC: (False, "it turns in step with its field"),
    },
    _Q.SERVICE_FACTOR: {
        _ONE: (True, "as on the nameplate"),
        _THREE: (True, "as on the nameplate"),
        _EC: (False, "its electronics limit what it takes"),
    },
    _Q.OVERLOAD_SETTING: {
        _ONE: (True, "where there is a relay; many have a protector inside instead"),
        _THREE: (True, "the setting of the relay or of the drive"),
        _EC: (False, "its electronics protect it; there is nothing to set"),
    },
    _Q.POWER: {
        _ONE: (True, "volts, amps and power factor"),
        _THREE: (True, "line volts, amps and power factor"),
        _EC: (True, "by a meter for distorted current, or its own display"),
    },
}
_ON_DRIVE = {
    _Q.VOLTAGE_UNBALANCE: (True, "before the drive; behind it the drive makes the voltage"),
    _Q.SLIP: (False, "the synchronous speed is that of the drive's frequency, not the mains'"),
    _Q.SERVICE_FACTOR: (True, "1.0 on a drive, unless the motor's maker says otherwise in writing"),
    _Q.OVERLOAD_SETTING: (True, "the motor current set in the drive"),
    _Q.POWER: (True, "the drive's display; a clamp behind the drive misreads"),
}


def what_applies(*, motor: MotorKind, has_drive: bool) -> tuple[Application, ...]:
    """Return which quantities apply to a motor; what does not apply is not missing.

    Args:
        motor: how it is fed.
        has_drive: whether a variable-frequency drive feeds it; means nothing for an electronically commutated one.

    Source: common practice, no source.

    Example:
        >>> [one.quantity.value for one in what_applies(motor=MotorKind.SINGLE_PHASE, has_drive=False)
        ...     if not one.applies]
        ['voltage_unbalance', 'current_unbalance']
    """
    found = []
    for quantity, by_kind in _WHY.items():
        applies, why = by_kind[motor]
        if has_drive and applies and motor is not MotorKind.ELECTRONICALLY_COMMUTATED and quantity in _ON_DRIVE:
            applies, why = _ON_DRIVE[quantity]
        found.append(Application(quantity, applies, why))
    return tuple(found)


def allowed_service_factor(
    *, motor: MotorKind, has_drive: bool, service_factor: float = 1.0, maker_allows_on_drive: bool = False
) -> float:
    """Return the service factor that counts: the nameplate's, but 1.0 on a drive or an electronic motor.

    Args:
        motor: how it is fed.
        has_drive: whether a drive feeds it.
        service_factor: on the nameplate [-], 1 to 1.5.
        maker_allows_on_drive: the motor's maker states that the service factor may be used on a drive.

    Raises:
        OutOfRange: the service factor lies outside.

    Source: common practice, no source.

    Example:
        >>> allowed_service_factor(motor=MotorKind.THREE_PHASE, has_drive=True, service_factor=1.15)
        1.0
    """
    factor = within("service factor", service_factor, 1.0, 1.5, "").item()
    if motor is MotorKind.ELECTRONICALLY_COMMUTATED or (has_drive and not maker_allows_on_drive):
        return 1.0
    return factor


def current_load(*, current_a: FloatOrArray, nameplate_current_a: float, service_factor: float = 1.0) -> CurrentLoad:
    """Return the highest leg's current as a share of the nameplate's, and whether the motor may carry it.

        share = max I_i / I_n  <=  SF

    Args:
        current_a: measured current of the legs [A], 0 to 10 000.
        nameplate_current_a: I_n at the connected voltage [A], above 0.
        service_factor: SF that counts, by `allowed_service_factor` [-], 1 to 1.5.

    Raises:
        OutOfRange: an argument lies outside.

    Source: NEMA MG 1 (from memory).

    Example:
        >>> current_load(current_a=np.array([9.6, 10.4, 9.9]), nameplate_current_a=10.0).is_within
        False
    """
    highest = float(np.max(within("current", current_a, 0.0, _CURRENT_RANGE_A[1], "A")))
    share = highest / within("nameplate current", nameplate_current_a, *_CURRENT_RANGE_A, "A").item()
    allowed = within("service factor", service_factor, 1.0, 1.5, "").item()
    return CurrentLoad(share, allowed, share <= allowed)


def overload_limit_share(*, service_factor: float = 1.0, temperature_rise_k: float | None = None) -> float:
    """Return the largest usual overload setting as a share of the nameplate's current.

        1.25 for a service factor of 1.15 and more or a marked rise of 40 K and less, else 1.15

    Args:
        service_factor: marked on the motor [-], 1 to 1.5.
        temperature_rise_k: marked on the motor [K], 10 to 150; None where it is not marked.

    Raises:
        OutOfRange: an argument lies outside.

    Source: NFPA 70, 430.32(A)(1) (from memory); the edition in force and the local code decide.

    Example:
        >>> overload_limit_share(service_factor=1.15), overload_limit_share()
        (1.25, 1.15)
    """
    factor = within("service factor", service_factor, 1.0, 1.5, "").item()
    rise = 1000.0 if temperature_rise_k is None else within("rise", temperature_rise_k, 10.0, 150.0, "K").item()
    return 1.25 if factor >= 1.15 or rise <= 40.0 else 1.15


def overload_check(
    *,
    setting_a: float,
    nameplate_current_a: float,
    service_factor: float = 1.0,
    temperature_rise_k: float | None = None,
    relay_least_a: float | None = None,
    relay_most_a: float | None = None,
) -> OverloadCheck:
    """Return what an overload setting amounts to; the electrician decides, by the code in force.

        I_n  <=  setting  <=  limit I_n,  limit by `overload_limit_share`

    Too high leaves the motor without protection, too low trips it at a load that it may carry. A relay whose range
    does not reach from I_n to the limit cannot be set right, whatever it shows.

    Args:
        setting_a: setting [A], above 0.
        nameplate_current_a: I_n at the connected voltage [A], above 0.
        service_factor: marked on the motor [-], 1 to 1.5.
        temperature_rise_k: marked on the motor [K], 10 to 150; None where it is not marked.
        relay_least_a: lower end of the relay's dial [A]; None where it was not read.
        relay_most_a: upper end of the relay's dial [A]; None where it was not read.

    Raises:
        OutOfRange: an argument lies outside.
        ValueError: the dial's ends are in the wrong order.

    Source: NFPA 70, 430.32 (from memory); I_n as the lower limit is common practice, no source.

    Example:
        >>> overload_check(setting_a=14.0, nameplate_current_a=10.0, service_factor=1.15).finding
        <OverloadFinding.TOO_HIGH: 'too_high'>
    """
    setting = within("overload setting", setting_a, *_CURRENT_RANGE_A, "A").item()
    nameplate = within("nameplate current", nameplate_current_a, *_CURRENT_RANGE_A, "A").item()
    limit = overload_limit_share(service_factor=service_factor, temperature_rise_k=temperature_rise_k)
    least = _dial(relay_least_a, 0.0)
    most = _dial(relay_most_a, np.inf)
    if least > most:
        raise ValueError("the lower end of the relay's dial lies above its upper end")
    share = setting / nameplate
    if least > limit * nameplate * _EXACT or most < nameplate / _EXACT:
        finding, remark = (
            OverloadFinding.OUT_OF_REACH,
            "the relay's range does not fit this motor: it is another size's",
        )
    elif share > limit * _EXACT:
        finding, remark = OverloadFinding.TOO_HIGH, "the motor may not be protected against overload"
    elif share < 1.0 / _EXACT:
        finding, remark = OverloadFinding.TOO_LOW, "it may trip at a load that the motor may carry"
    else:
        finding, remark = OverloadFinding.IN_ORDER, "within the usual limits"
    return OverloadCheck(finding, share, limit, f"{remark}; the electrician decides, by the code in force")


def voltage_is_within(*, voltage_v: FloatOrArray, rated_voltage_v: float) -> bool:
    """Say whether the mean of the measured voltages lies within 10 % of the nameplate's.

        |mean(V) / V_r - 1| <= 0.10

    Args:
        voltage_v: the measured voltages V, or their mean [V], 1 to 20 000.
        rated_voltage_v: nameplate voltage V_r [V], 1 to 20 000.

    Raises:
        OutOfRange: an argument lies outside.

    Source: NEMA MG 1, 12.44 (from memory).

    Example:
        >>> voltage_is_within(voltage_v=418.0, rated_voltage_v=460.0)
        True
    """
    mean = float(np.mean(within("voltage", voltage_v, 1.0, 20_000.0, "V")))
    rated = within("rated voltage", rated_voltage_v, 1.0, 20_000.0, "V").item()
    return abs(mean / rated - 1.0) <= VOLTAGE_TOLERANCE * _EXACT


def current_unbalance_needs_action(*, unbalance: FloatOrArray) -> bool:
    """Say whether an unbalance of the currents asks for a look at terminals, contacts, winding and supply.

    Args:
        unbalance: of the legs, by `motors.unbalance` [-], 0 to 2.

    Raises:
        OutOfRange: the unbalance lies outside.

    Source: above 10 %; common practice, no source.

    Example:
        >>> current_unbalance_needs_action(unbalance=0.057)
        False
    """
    return bool(np.any(within("current unbalance", unbalance, 0.0, 2.0, "") > CURRENT_UNBALANCE_ACTION))


def synchronous_speed_rpm(*, frequency_hz: FloatOrArray, poles: int) -> FloatOrArray:
    """Return the speed of a motor's field, at the mains' frequency or a drive's.

        N_s = 120 f / poles

    Args:
        frequency_hz: f [Hz], 1 to 400.
        poles: of the motor [-], 2 to 24, even.

    Raises:
        OutOfRange: an argument lies outside.
        ValueError: an odd number of poles.

    Source: definition.

    Example:
        >>> synchronous_speed_rpm(frequency_hz=60.0, poles=4)
        1800.0
    """
    if poles % 2:
        raise ValueError(f"a motor has an even number of poles, not {poles}")
    return plain(120.0 * within("frequency", frequency_hz, 1.0, 400.0, "Hz") / within("poles", poles, 2.0, 24.0, ""))


_EXACT = 1.0 + 1e-9


def _dial(end_a: float | None, otherwise: float) -> float:
    return otherwise if end_a is None else within("end of the relay's dial", end_a, *_CURRENT_RANGE_A, "A").item()
