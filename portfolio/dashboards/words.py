"""The words of the pages: outcomes, requirements, who has the next move, counts and dates as people say them."""

import re
from collections.abc import Sequence
from datetime import date, datetime
from zoneinfo import ZoneInfo

_SMALL = ["no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"]
_SMALL += ["thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen", "twenty"]

OUTCOMES = {
    "conforms": "conforms",
    "does_not_conform": "does not conform",
    "inconclusive": "inconclusive",
    "accepted": "accepted as is",
    "not_due": "not due yet",
    "not_given": "not given",
    "not_judged": "not judged",
    "recheck": "re-check",
    "disputed": "disputed",
    "not_counted": "not counted",
}
REQUIREMENTS = {
    "design_airflow": "Design airflow",
    "ventilation_minimum": "Ventilation minimum",
    "two_finals_agree": "Two finals agree",
    "one_session": "One session",
    "mass_balance": "Mass balance",
    "outlet_airflow": "Outlet airflow",
    "outlet_finals_agree": "Two finals of outlets agree",
    "room_airflow": "Room airflow",
    "room_offset": "Room offset",
    "duct_leakage": "Duct leakage",
    "static_pressure": "Static pressure",
    "duct_static_control": "Duct static pressure control",
    "space_pressure": "Space pressure",
    "exchanger_effectiveness": "Exchanger effectiveness",
    "exchanger_closure": "Closure of energy over the exchanger",
    "wheel_speed": "Wheel speed",
    "exhaust_transfer": "Exhaust air transfer",
    "net_outdoor_air": "Net outdoor air",
    "calibration_in_date": "Calibration in date",
    "settings_consistent": "Controller settings",
}
MOVERS = {"lead": "the lead", "technician": "a technician", "contractor": "a contractor", "owner": "the owner"}
ROLES = {
    "lead": "commissioning lead",
    "technician": "technician",
    "contractor": "contractor",
    "owner": "owner",
    "engineer": "engineer of record",
}


def count(number: int) -> str:
    """
    >>> count(0), count(18), count(48), count(1200)
    ('no', 'eighteen', '48', '1,200')
    """
    return _SMALL[number] if number < len(_SMALL) else f"{number:,}"


def opening(text: str) -> str:
    """With a capital.

    >>> opening("eighteen of twenty units")
    'Eighteen of twenty units'
    """
    return text[:1].upper() + text[1:]


def units(number: int) -> str:
    return "unit" if number == 1 else "units"


def signed_in_words(signed: int, season: int, counted: int) -> str:
    """
    >>> signed_in_words(1, 0, 1), signed_in_words(2, 2, 48)
    ('The one unit is signed.', 'Two of 48 units are signed, both of them with a seasonal test outstanding.')
    >>> signed_in_words(12, 1, 12)
    'All twelve units are signed, one of them with a seasonal test outstanding.'
    """
    which = "All" if signed == counted else f"{opening(count(signed))} of"
    said = f"{which} {count(counted)} units {'is' if signed == 1 else 'are'} signed"
    if signed == counted == 1:
        said = "The one unit is signed"
    if not season:
        return f"{said}."
    some = count(season) if season < signed else "both" if season == 2 else "all"
    return f"{said}, {'' if signed == 1 else f'{some} of them '}with a seasonal test outstanding."


def listed(items: Sequence[str]) -> str:
    """
    >>> listed(["ERV-1", "ERV-2", "ERV-3"]), listed(["ERV-1"]), listed([])
    ('ERV-1, ERV-2 and ERV-3', 'ERV-1', '')
    """
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} and {items[-1]}"


def natural(name: str) -> tuple[tuple[int, int, str], ...]:
    """A key that sorts names as people count: the numbers in them by size.

    >>> sorted(["R-10", "R-2", "R-2a", "AHU-1"], key=natural)
    ['AHU-1', 'R-2', 'R-2a', 'R-10']
    """
    parts = re.findall(r"[0-9]+|[^0-9]+", name)
    return tuple((0, int(one), one) if one.isdecimal() else (1, 0, one.casefold()) for one in parts)


_MANY = {"conforms": "conform", "does_not_conform": "do not conform"}


def outcome_in_words(code: str, *, many: bool = False) -> str:
    """
    >>> outcome_in_words("conforms"), outcome_in_words("does_not_conform", many=True)
    ('conforms', 'do not conform')
    """
    if many and code in _MANY:
        return _MANY[code]
    return OUTCOMES.get(code, code.replace("_", " "))


def requirement_in_words(code: str) -> str:
    return REQUIREMENTS.get(code, opening(code.replace("_", " ")))


def day(value: date | None) -> str:
    """
    >>> day(date(2026, 5, 4)), day(None)
    ('4 May 2026', '')
    """
    return f"{value.day} {value:%b %Y}" if value else ""


def weekday(value: date | None) -> str:
    """With the day of the week, where somebody must be there.

    >>> weekday(date(2026, 5, 4))
    'Mon 4 May 2026'
    """
    return f"{value:%a} {day(value)}" if value else ""


def moment(value: datetime | None, zone: str = "UTC") -> str:
    """In the site's zone.

    >>> moment(datetime.fromisoformat("2026-05-04T10:15:00-05:00"), "America/Denver")
    '4 May 2026, 09:15 MDT'
    """
    if value is None:
        return ""
    local = value.astimezone(ZoneInfo(zone))
    return f"{day(local.date())}, {local:%H:%M %Z}"
