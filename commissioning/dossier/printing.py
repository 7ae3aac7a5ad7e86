"""Numbers as the trade prints them. Only what is printed is rounded; what is judged never is.

Airflow goes to 5 cfm below 500 cfm and to 10 from there on; to 2 L/s below 250 L/s and to 5 from there on, which is
about the same. Per cent go to 1, an uncertainty to two significant digits (common practice, no source).
"""

import math
import re
from collections.abc import Iterable
from datetime import datetime
from typing import Literal

from commissioning.engineering import units
from commissioning.engineering.rounding import round_half_up

Display = Literal["ip", "si"]

_AIRFLOW_CODE: dict[str, str] = {"ip": "cfm", "si": "L/s"}
_STEPS: dict[str, tuple[float, int, int]] = {"ip": (500.0, 5, 10), "si": (250.0, 2, 5)}
MINUS = "\u2212"
ALMOST_INFINITE = 1000.0  # degrees of freedom from which k no longer changes in its third decimal
_HYPHEN_MINUS = re.compile(r"(?<![\w.\-])-(?=\.?\d)")
_LABELS = {one.code: one.label for one in units.UNITS if one.code != one.label}
_ALL_CODES = "|".join(re.escape(code) for code in sorted(_LABELS, key=len, reverse=True))
_CODE = re.compile(rf"(?<=\d )(?:{_ALL_CODES})(?![\w/^(])")
_LIST = re.compile(r"[+-]?\d+(?:\.\d+)?(?:, [+-]?\d+(?:\.\d+)?)+(?![\d.])")


def airflow_unit(display: str) -> str:
    return _AIRFLOW_CODE[display]


def airflow(flow_m3_s: float, display: str) -> str:
    """
    >>> airflow(0.2277, "ip"), airflow(0.4719474, "ip"), airflow(0.4719474, "si")
    ('480', '1,000', '470')
    """
    value = float(units.from_si(flow_m3_s, _AIRFLOW_CODE[display]))
    limit, fine, coarse = _STEPS[display]
    step = fine if abs(value) < limit else coarse
    return minus(f"{_half_up(value / step) * step:,}")


def airflow_designed(flow_m3_s: float, display: str) -> str:
    """A contract's number as it is given, where it is of the reader's units; else to four digits.

    >>> airflow_designed(0.005, "si"), airflow_designed(0.13875, "si"), airflow_designed(0.4719474432, "ip")
    ('5', '138.75', '1,000')
    >>> airflow_designed(0.4719474432, "si"), airflow_designed(0.005, "ip")
    ('471.9', '10.59')
    """
    value = float(units.from_si(flow_m3_s, _AIRFLOW_CODE[display]))
    is_given = abs(value - round(value, 2)) <= 1e-9 * abs(value)
    return as_given(round(value, 2)) if is_given else four_digits(value)


def as_given(value: float) -> str:
    """All the digits that a contract gives.

    >>> as_given(138.75), as_given(5.0), as_given(12500), as_given(-0.125)
    ('138.75', '5', '12,500', '−0.125')
    """
    text = f"{value:,.10f}"
    return minus(text.rstrip("0").rstrip("."))


def four_digits(value: float) -> str:
    """Of a given number in other units: no digit of it is lost that somebody could read off an instrument.

    >>> four_digits(10.594), four_digits(2118.88), four_digits(0.12454), four_digits(0.0)
    ('10.59', '2,119', '0.1245', '0')
    """
    return as_given(round(value, 3 - math.floor(math.log10(abs(value))))) if value else "0"


def airflow_exact(flow_m3_s: float, display: str) -> str:
    """All digits that mean something, for the working.

    >>> airflow_exact(0.4719474432, "ip")
    '1,000.00'
    """
    value = float(units.from_si(flow_m3_s, _AIRFLOW_CODE[display]))
    return minus(f"{value:,.2f}")


def airflow_uncertainty(flow_m3_s: float, display: str) -> str:
    """
    >>> airflow_uncertainty(0.0199, "ip")
    '42'
    """
    return two_digits(float(units.from_si(flow_m3_s, _AIRFLOW_CODE[display])))


def two_digits(value: float) -> str:
    """Two significant digits, without an exponent.

    >>> two_digits(42.16), two_digits(0.0313), two_digits(1234.0), two_digits(0.0), two_digits(9.96)
    ('42', '0.031', '1,200', '0', '10')
    """
    if value == 0.0:
        return "0"
    digits = 1 - math.floor(math.log10(abs(value)))
    rounded = round(value, digits)
    if abs(rounded) >= 10.0 ** (2 - digits):
        digits -= 1
    return minus(f"{rounded:,.{max(digits, 0)}f}")


def percent(fraction: float, *, signed: bool = False) -> str:
    """
    >>> percent(0.096), percent(-0.104, signed=True), percent(0.104, signed=True), percent(-0.001, signed=True)
    ('10 %', '−10 %', '+10 %', '0 %')
    """
    whole = _half_up(100.0 * fraction)
    sign = "+" if signed and whole > 0 else ""
    return f"{sign}{minus(str(whole))} %"


def signed_percent(fraction: float, digits: int) -> str:
    """For the working: as many digits as are asked for, with its sign.

    >>> signed_percent(-0.103, 4), signed_percent(0.05, 1), signed_percent(0.0, 1)
    ('−10.3000 %', '+5.0 %', '+0.0 %')
    """
    return minus(f"{100.0 * fraction:+.{digits}f} %")


def percent_beside_limits(fraction: float, limits: Iterable[float | None]) -> str:
    """To one per cent as the trade prints; where that would print a limit that the value is not on, to as many more
    digits as tell them apart (three at the most), so that nobody reads *−10 %, does not conform* under *−10 %*.

    >>> percent_beside_limits(-0.0978, (-0.1, 0.1)), percent_beside_limits(-0.103, (-0.1, None))
    ('−9.8 %', '−10.3 %')
    >>> percent_beside_limits(-0.1, (-0.1, 0.1)), percent_beside_limits(0.062, (-0.1, 0.1))
    ('−10 %', '+6 %')
    """
    near = [100.0 * limit for limit in limits if limit is not None and abs(fraction - limit) > 1e-9]
    value = 100.0 * fraction
    for digits in range(4):
        if all(round(value, digits) != round(limit, digits) for limit in near):
            break
    if digits == 0:
        return percent(fraction, signed=True)
    return f"{'+' if value > 0 else ''}{minus(f'{value:.{digits}f}')} %"


def percent_uncertainty(fraction: float) -> str:
    """
    >>> percent_uncertainty(0.0416)
    '4.2 %'
    """
    return f"{two_digits(100.0 * fraction)} %"


def moment(text: str) -> str:
    """A moment as it was sent: the offset stays, for whoever prints it does not know the site.

    >>> moment("2026-05-04T10:15:00-06:00"), moment("2026-05-04T10:15:30.5+00:00")
    ('Monday 4 May 2026, 10:15 (UTC−06:00)', 'Monday 4 May 2026, 10:15 (UTC)')
    """
    when = datetime.fromisoformat(text)
    zone = when.strftime("%Z")
    return f"{when:%A} {when.day} {when:%B %Y, %H:%M}" + (f" ({minus(zone)})" if zone else "")


def density(density_kg_m3: float, display: str) -> str:
    """
    >>> density(1.2013848, "ip"), density(1.2013848, "si")
    ('0.07500 lb/ft³', '1.2014 kg/m³')
    """
    if display == "ip":
        return f"{float(units.from_si(density_kg_m3, 'lb/ft3')):.5f} lb/ft³"
    return f"{density_kg_m3:.4f} kg/m³"


def _half_up(value: float) -> int:
    return round(round_half_up(value))


def freedom(degrees: float | None) -> str:
    """Degrees of freedom; None is as good as infinite.

    >>> freedom(None), freedom(35684.0), freedom(12.345), freedom(3.0)
    ('∞', '∞', '12.3', '3')
    """
    return "∞" if degrees is None or degrees >= ALMOST_INFINITE else f"{degrees:.3g}"


def on_axis(value: float) -> str:
    """The number at an axis's end, to three digits.

    >>> on_axis(301.4), on_axis(-272.3), on_axis(1204.0), on_axis(-0.0312), on_axis(0.0)
    ('301', '−272', '1,204', '−0.0312', '0')
    """
    return minus(f"{value:,.0f}" if abs(value) >= 100.0 else f"{value:.3g}")


def typeset(text: str) -> str:
    """What was read, as it is printed on every page: readings of one series to the same decimals, minus signs, % set
    apart, a unit as the trade writes it and not by its code.

    >>> typeset("472.6, 449, 449.1 fpm"), typeset("-0.2, -0.25 in. w.c."), typeset("ERV-3 at 22% on 2026-05-04")
    ('472.6, 449.0, 449.1 fpm', '−0.20, −0.25 in. w.c.', 'ERV-3 at 22 % on 2026-05-04')
    >>> typeset("0.05, 0.1 in_wc"), typeset("70 degF at 1.2 kg/m3"), typeset("1780 cfm/in_wc^0.5"), typeset("12 in")
    ('0.05, 0.10 in. w.c.', '70 °F at 1.2 kg/m³', '1780 cfm per √in. w.c.', '12 in')
    """
    evened = _LIST.sub(lambda found: _to_the_same_decimals(found[0]), text)
    told = _CODE.sub(lambda found: _LABELS[found[0]], evened)
    return re.sub(r"(?<=\d)%", " %", _HYPHEN_MINUS.sub(MINUS, told))


def unit_label(code: str) -> str:
    """A unit as the trade writes it; nothing for a plain number.

    >>> unit_label("in_wc"), unit_label("m3/s"), unit_label("1")
    ('in. w.c.', 'm³/s', '')
    """
    return "" if code == "1" else units.unit(code).label


def _to_the_same_decimals(listed: str) -> str:
    numbers = listed.split(", ")
    decimals = max(len(one.partition(".")[2]) for one in numbers)
    return ", ".join(f"{float(one):.{decimals}f}" for one in numbers)


def minus(text: str) -> str:
    """A minus sign where there was a hyphen. For numbers only, not for words or dates.

    >>> minus("-10.3 to -2")
    '−10.3 to −2'
    """
    return text.replace("-", MINUS)
