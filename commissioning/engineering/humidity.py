"""Humidity of air: saturation pressure, and the humidity ratio from and to each reading of humidity.

All in perfect-gas form: against the real-gas tables the humidity ratio at saturation reads 0.5 % low, because
the enhancement factor is left out.
"""

from __future__ import annotations

import numpy as np

from commissioning.engineering.guards import FloatArray, FloatOrArray, plain, within

MOLE_MASS_RATIO = 0.621945
TRIPLE_POINT_C = 0.01
DRY_BULB_RANGE_C = (-100.0, 200.0)
PRESSURE_RANGE_PA = (20_000.0, 180_000.0)
_KELVIN = 273.15
_LEAST_HUMIDITY_RATIO = 1e-9
_MOST_VAPOUR_SHARE = 0.9
# Coefficients of 1/T, 1, T, T^2, T^3, T^4 and ln T in ln p_ws [Pa], T in K.
_OVER_ICE = (-5.6745359e3, 6.3925247, -9.677843e-3, 6.2215701e-7, 2.0747825e-9, -9.484024e-13, 4.1635019)
_OVER_WATER = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 0.0, 6.5459673)


def saturation_pressure_pa(*, temperature_c: FloatOrArray) -> FloatOrArray:
    """Return the saturation pressure of water vapour, over ice below 0.01 degC and over water from there.

        ln p_ws = c1/T + c2 + c3 T + c4 T^2 + c5 T^3 + c6 T^4 + c7 ln T

    Args:
        temperature_c: temperature [degC], -100 to 200.

    Raises:
        OutOfRange: the temperature lies outside.

    Source: Hyland and Wexler (1983) as in ASHRAE Handbook Fundamentals 2017, ch. 1, eqs. 5 and 6.

    Example:
        >>> round(saturation_pressure_pa(temperature_c=25.0), 1)
        3169.2
    """
    return plain(np.exp(_log_saturation(within("temperature", temperature_c, *DRY_BULB_RANGE_C, "degC"))))


def humidity_ratio_from_relative_humidity(
    *, dry_bulb_c: FloatOrArray, relative_humidity: FloatOrArray, pressure_pa: FloatOrArray
) -> FloatOrArray:
    """Return the humidity ratio from relative humidity.

        W = 0.621945 p_w / (p - p_w),  p_w = RH p_ws(t)

    Args:
        dry_bulb_c: dry-bulb temperature [degC], -100 to 200.
        relative_humidity: as a ratio [-], 0 to 1.
        pressure_pa: absolute pressure [Pa], 20 000 to 180 000.

    Raises:
        OutOfRange: an argument lies outside, or the vapour pressure is not below the total pressure.

    Source: ASHRAE Handbook Fundamentals 2017, ch. 1, eqs. 20 and 22.

    Example:
        >>> ratio = humidity_ratio_from_relative_humidity(
        ...     dry_bulb_c=25.0, relative_humidity=0.5, pressure_pa=101325.0)
        >>> round(ratio, 6)
        0.009881
    """
    share = within("relative humidity", relative_humidity, 0.0, 1.0, "")
    dry_bulb = within("dry bulb", dry_bulb_c, *DRY_BULB_RANGE_C, "degC")
    return plain(_humidity_ratio(share * np.exp(_log_saturation(dry_bulb)), _pressure(pressure_pa)))


def humidity_ratio_from_dew_point(*, dew_point_c: FloatOrArray, pressure_pa: FloatOrArray) -> FloatOrArray:
    """Return the humidity ratio from the dew point (the frost point below 0.01 degC).

        W = 0.621945 p_w / (p - p_w),  p_w = p_ws(t_d)

    Args:
        dew_point_c: dew point [degC], -100 to 200.
        pressure_pa: absolute pressure [Pa], 20 000 to 180 000.

    Raises:
        OutOfRange: an argument lies outside, or the vapour pressure is not below the total pressure.

    Source: ASHRAE Handbook Fundamentals 2017, ch. 1, eqs. 20 and 36.

    Example:
        >>> round(humidity_ratio_from_dew_point(dew_point_c=10.0, pressure_pa=101325.0), 6)
        0.00763
    """
    dew_point = within("dew point", dew_point_c, *DRY_BULB_RANGE_C, "degC")
    return plain(_humidity_ratio(np.exp(_log_saturation(dew_point)), _pressure(pressure_pa)))


def humidity_ratio_from_vapour_pressure(*, vapour_pressure_pa: FloatOrArray, pressure_pa: FloatOrArray) -> FloatOrArray:
    """Return the humidity ratio from the partial pressure of water vapour.

        W = 0.621945 p_w / (p - p_w)

    Args:
        vapour_pressure_pa: partial pressure of water vapour [Pa], 0 to 0.9 of the total pressure.
        pressure_pa: absolute pressure [Pa], 20 000 to 180 000.

    Raises:
        OutOfRange: an argument lies outside.

    Source: ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 20.

    Example:
        >>> ratio = humidity_ratio_from_vapour_pressure(vapour_pressure_pa=3169.7, pressure_pa=95461.0)
        >>> round(ratio, 7)
        0.0213604
    """
    return plain(_humidity_ratio(np.asarray(vapour_pressure_pa, dtype=np.float64), _pressure(pressure_pa)))


def humidity_ratio_from_wet_bulb(
    *, dry_bulb_c: FloatOrArray, wet_bulb_c: FloatOrArray, pressure_pa: FloatOrArray
) -> FloatOrArray:
    """Return the humidity ratio from the thermodynamic wet bulb.

        W = [(2501 - 2.326 t*) Ws* - 1.006 (t - t*)] / (2501 + 1.86 t - 4.186 t*)    t* >= 0 degC
        W = [(2830 - 0.24 t*) Ws* - 1.006 (t - t*)] / (2830 + 1.86 t - 2.1 t*)       t* < 0 degC, on ice

    Args:
        dry_bulb_c: dry-bulb temperature t [degC], -100 to 200.
        wet_bulb_c: wet-bulb temperature t* [degC], not above the dry bulb, and not so low that the air would
            hold less than no water.
        pressure_pa: absolute pressure [Pa], 20 000 to 180 000.

    Raises:
        OutOfRange: an argument lies outside.

    Source: ASHRAE Handbook Fundamentals 2017, ch. 1, eqs. 33 and 35.

    Example:
        >>> ratio = humidity_ratio_from_wet_bulb(dry_bulb_c=40.0, wet_bulb_c=20.0, pressure_pa=101325.0)
        >>> round(ratio, 6)
        0.006401
    """
    dry_bulb = within("dry bulb", dry_bulb_c, *DRY_BULB_RANGE_C, "degC")
    wet_bulb = within("wet bulb", wet_bulb_c, DRY_BULB_RANGE_C[0], dry_bulb, "degC")
    pressure = _pressure(pressure_pa)
    ratio = _wet_bulb_ratio(dry_bulb, wet_bulb, pressure)
    if np.any(ratio < -1e-12):
        driest = _wet_bulb(dry_bulb, np.zeros_like(ratio), pressure)
        within("wet bulb", wet_bulb, driest, dry_bulb, "degC")
    return plain(np.maximum(ratio, 0.0))


def relative_humidity_from_humidity_ratio(
    *, dry_bulb_c: FloatOrArray, humidity_ratio: FloatOrArray, pressure_pa: FloatOrArray
) -> FloatOrArray:
    """Return the relative humidity of air of a humidity ratio.

        RH = p_w / p_ws(t),  p_w = p W / (0.621945 + W)

    Args:
        dry_bulb_c: dry-bulb temperature [degC], -100 to 200.
        humidity_ratio: humidity ratio [kg/kg], 0 to that of saturation.
        pressure_pa: absolute pressure [Pa], 20 000 to 180 000.

    Raises:
        OutOfRange: an argument lies outside.

    Source: ASHRAE Handbook Fundamentals 2017, ch. 1, eqs. 12 and 20.

    Example:
        >>> share = relative_humidity_from_humidity_ratio(
        ...     dry_bulb_c=25.0, humidity_ratio=0.009882, pressure_pa=101325.0)
        >>> round(share, 4)
        0.5
    """
    dry_bulb = within("dry bulb", dry_bulb_c, *DRY_BULB_RANGE_C, "degC")
    pressure = _pressure(pressure_pa)
    ratio = within("humidity ratio", humidity_ratio, 0.0, 1.0, "kg/kg")
    saturation = np.exp(_log_saturation(dry_bulb))
    share = _vapour_pressure(ratio, pressure) / saturation
    if np.any(share > 1.0 + 1e-9):
        saturated = _humidity_ratio(np.minimum(saturation, 0.9 * pressure), pressure)
        within("humidity ratio", ratio, 0.0, saturated, "kg/kg")
    return plain(np.minimum(share, 1.0))


def dew_point_c(*, humidity_ratio: FloatOrArray, pressure_pa: FloatOrArray) -> FloatOrArray:
    """Return the dew point (the frost point below 0.01 degC), to 1e-6 K.

        p_ws(t_d) = p W / (0.621945 + W), solved by Newton's method on ln p_ws against 1/T

    Args:
        humidity_ratio: humidity ratio [kg/kg], 1e-9 to 1; dry air has no dew point.
        pressure_pa: absolute pressure [Pa], 20 000 to 180 000.

    Raises:
        OutOfRange: an argument lies outside, or the dew point would lie outside -100 to 200 degC.

    Source: ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 36.

    Example:
        >>> round(dew_point_c(humidity_ratio=0.0064008, pressure_pa=101325.0), 2)
        7.43
    """
    ratio = within("humidity ratio", humidity_ratio, _LEAST_HUMIDITY_RATIO, 1.0, "kg/kg")
    vapour = _vapour_pressure(ratio, _pressure(pressure_pa))
    low, high = (float(np.exp(_log_saturation(np.asarray(end)))) for end in DRY_BULB_RANGE_C)
    return plain(_dew_point(within("vapour pressure", vapour, low, high, "Pa")))


def wet_bulb_c(*, dry_bulb_c: FloatOrArray, humidity_ratio: FloatOrArray, pressure_pa: FloatOrArray) -> FloatOrArray:
    """Return the thermodynamic wet bulb, to 1e-6 K: the inverse of `humidity_ratio_from_wet_bulb`.

    Solved by bisection. The relations for water and ice overlap a little at 0 degC: the same air can have a wet
    wick just above or a frozen one just below. There the answer is the one for water.

    Args:
        dry_bulb_c: dry-bulb temperature [degC], -100 to 200.
        humidity_ratio: humidity ratio [kg/kg], 0 to that of saturation.
        pressure_pa: absolute pressure [Pa], 20 000 to 180 000.

    Raises:
        OutOfRange: an argument lies outside.

    Source: ASHRAE Handbook Fundamentals 2017, ch. 1, eqs. 33 and 35.

    Example:
        >>> round(wet_bulb_c(dry_bulb_c=40.0, humidity_ratio=0.0064008, pressure_pa=101325.0), 3)
        20.0
    """
    relative_humidity_from_humidity_ratio(dry_bulb_c=dry_bulb_c, humidity_ratio=humidity_ratio, pressure_pa=pressure_pa)
    dry_bulb, ratio, pressure = (
        np.asarray(argument, dtype=np.float64) for argument in (dry_bulb_c, humidity_ratio, pressure_pa)
    )
    return plain(_wet_bulb(dry_bulb, ratio, pressure))


def _pressure(pressure_pa: FloatOrArray) -> FloatArray:
    return within("pressure", pressure_pa, *PRESSURE_RANGE_PA, "Pa")


def _log_saturation(temperature_c: FloatArray) -> FloatArray:
    kelvin = temperature_c + _KELVIN
    result: FloatArray = np.where(
        temperature_c <= TRIPLE_POINT_C,
        _log_polynomial(_OVER_ICE, kelvin),
        _log_polynomial(_OVER_WATER, kelvin),
    )
    return result


def _log_polynomial(coefficients: tuple[float, ...], kelvin: FloatArray) -> FloatArray:
    c1, c2, c3, c4, c5, c6, c7 = coefficients
    result: FloatArray = (
        c1 / kelvin + c2 + kelvin * (c3 + kelvin * (c4 + kelvin * (c5 + kelvin * c6))) + c7 * np.log(kelvin)
    )
    return result


def _log_slope(kelvin: FloatArray) -> FloatArray:
    """The derivative of ln p_ws after 1/T."""

    def slope(coefficients: tuple[float, ...]) -> FloatArray:
        c1, _, c3, c4, c5, c6, c7 = coefficients
        after_t = kelvin * (c3 + kelvin * (2.0 * c4 + kelvin * (3.0 * c5 + kelvin * 4.0 * c6)))
        return c1 - kelvin * (after_t + c7)

    result: FloatArray = np.where(kelvin <= TRIPLE_POINT_C + _KELVIN, slope(_OVER_ICE), slope(_OVER_WATER))
    return result


def _dew_point(vapour_pressure_pa: FloatArray) -> FloatArray:
    wanted = np.log(vapour_pressure_pa)
    inverse = np.full_like(wanted, 1.0 / (TRIPLE_POINT_C + _KELVIN))
    for _ in range(8):
        kelvin = 1.0 / inverse
        inverse = inverse - (_log_saturation(kelvin - _KELVIN) - wanted) / _log_slope(kelvin)
    result: FloatArray = 1.0 / inverse - _KELVIN
    return result


def _humidity_ratio(vapour_pressure_pa: FloatArray, pressure_pa: FloatArray) -> FloatArray:
    most = _MOST_VAPOUR_SHARE * pressure_pa
    vapour = within("vapour pressure", vapour_pressure_pa, 0.0, most, "Pa")
    return MOLE_MASS_RATIO * vapour / (pressure_pa - vapour)


def _vapour_pressure(humidity_ratio: FloatArray, pressure_pa: FloatArray) -> FloatArray:
    return pressure_pa * humidity_ratio / (MOLE_MASS_RATIO + humidity_ratio)


def _wet_bulb_ratio(dry_bulb_c: FloatArray, wet_bulb_c: FloatArray, pressure_pa: FloatArray) -> FloatArray:
    vapour = np.minimum(np.exp(_log_saturation(wet_bulb_c)), _MOST_VAPOUR_SHARE * pressure_pa)
    saturated = MOLE_MASS_RATIO * vapour / (pressure_pa - vapour)
    depression = 1.006 * (dry_bulb_c - wet_bulb_c)
    water = ((2501.0 - 2.326 * wet_bulb_c) * saturated - depression) / (2501.0 + 1.86 * dry_bulb_c - 4.186 * wet_bulb_c)
    ice = ((2830.0 - 0.24 * wet_bulb_c) * saturated - depression) / (2830.0 + 1.86 * dry_bulb_c - 2.1 * wet_bulb_c)
    result: FloatArray = np.where(wet_bulb_c >= 0.0, water, ice)
    return result


def _wet_bulb(dry_bulb_c: FloatArray, humidity_ratio: FloatArray, pressure_pa: FloatArray) -> FloatArray:
    dry_bulb, ratio, pressure = np.broadcast_arrays(dry_bulb_c, humidity_ratio, pressure_pa)
    zero = np.zeros(ratio.shape)
    on_water = (dry_bulb >= 0.0) & (ratio >= _wet_bulb_ratio(dry_bulb, zero, pressure))
    low = np.where(on_water, zero, DRY_BULB_RANGE_C[0])
    high = np.where(on_water, dry_bulb, np.minimum(dry_bulb, np.nextafter(0.0, -1.0)))
    for _ in range(45):
        middle = 0.5 * (low + high)
        too_wet = _wet_bulb_ratio(dry_bulb, middle, pressure) > ratio
        low, high = np.where(too_wet, low, middle), np.where(too_wet, middle, high)
    result: FloatArray = 0.5 * (low + high)
    return result
