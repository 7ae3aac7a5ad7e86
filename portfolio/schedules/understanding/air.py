"""Which air the flows count: standard air, actual air, or nothing said. Flows without it cannot be compared.

What the units of the columns say counts most, then footnotes and the table's title, then the texts of the sheet.
"""

import re

from portfolio.schedules.reading.cells import Address
from portfolio.schedules.understanding.memory import remembered
from portfolio.schedules.understanding.result import AirBasis, Quantity

_STANDARD = re.compile(
    r"\bSTANDARD\s+(?:AIR|CFM|CONDITIONS?|DENSITY|L/S)|\bSCFM\b|\bSTD\.?\s+(?:AIR|CFM)|\bAT\s+STANDARD\b"
    r"|\b0\.075\s*(?:LB|#)|\b1\.20?4?\s*KG\s*/\s*M|\bSEA\s+LEVEL\b",
)
_ACTUAL = re.compile(
    r"\bACTUAL\s+(?:AIR|CFM|CONDITIONS?|AIRFLOWS?|DENSITY|SITE)|\bACFM\b|\b(?:SITE|PROJECT|JOB)\s+(?:ELEVATION|ALTITUDE)"
    r"|\bELEVATION\s+OF\s+THE\s+(?:SITE|PROJECT)|\bCORRECTED\s+FOR\s+(?:ELEVATION|ALTITUDE)",
)
_DENIED = re.compile(r"\bNOT\s+(?:IN\s+|AT\s+)?(?:STANDARD|ACTUAL|SCFM|ACFM)(?:\s+(?:AIR|CFM|CONDITIONS?))?")
_ELEVATION = re.compile(
    r"(?:\bAT|@|\bFOR)\s*(?:AN?\s+)?(?:(?:ELEVATION|ALTITUDE|ELEV\.?)\s*(?:OF|=|:)?\s*)?"
    r"([0-9]{1,2}[,.' ]?[0-9]{3}|[0-9]{3,5})"
    r"\s*(FT\b|FEET\b|'|M\b|METERS?\b|METRES?\b)\.?\s*(ELEV|ALT|ABOVE SEA|ASL|AMSL)?",
)
_DENSITY = re.compile(
    r"\b(0\.0[0-9]{1,3}|1\.[0-9]{1,3})\s*(LB|#|KG)\s*S?M?\s*(?:/|PER)\s*(?:CU\.?\s*|CUBIC\s*)?(?:FT|FOOT|M)"
)
_FLOWS = re.compile(r"FLOW|CFM|L/S|CAPACIT|QUANTIT|VOLUME|SCHEDULED|\bFANS?\b|PERFORMANCE|SELECT")
_PRESSURES = re.compile(r"STATIC|PRESSURE|E\.?S\.?P")
_LOW_FT, _LOW_M = 500, 150


@remembered(8192)
def _said(text: str) -> tuple[str, str, str, str]:
    """(basis or 'both', density as written, elevation as written, its unit) in one text."""
    upper = _DENIED.sub(" ", " ".join(text.upper().split()))
    if _PRESSURES.search(upper) and not _FLOWS.search(upper):
        return "", "", "", ""
    elevation, unit = _elevation(upper)
    standard, actual = bool(_STANDARD.search(upper)), bool(_ACTUAL.search(upper) or elevation)
    density = _DENSITY.search(upper)
    weighed = f"{density.group(1)} {'kg/m3' if density.group(2) == 'KG' else 'lb/ft3'}" if density else ""
    if standard and actual and elevation and not _ACTUAL.search(upper):
        return "standard", weighed, elevation, unit
    code = "both" if standard and actual else "standard" if standard else "actual" if actual else ""
    return code, weighed, elevation, unit


def _elevation(upper: str) -> tuple[str, str]:
    for match in _ELEVATION.finditer(upper):
        digits = re.sub(r"\D", "", match.group(1))
        metric = match.group(2).startswith("M")
        if metric and not (match.group(3) or "ELEV" in upper or "ALTITUDE" in upper):
            continue
        if int(digits) >= (_LOW_M if metric else _LOW_FT) and "AFF" not in upper:
            return digits, "m" if metric else "ft"
    return "", ""


def basis_in(text: str, at: Address) -> AirBasis | None:
    """The air basis that a text states; `code` is 'both' where it names both.

    >>> basis_in("1. ALL AIRFLOWS ARE STANDARD AIR AT 0.075 LB/CU FT.", Address("S", 9, "A")).code
    'standard'
    >>> found = basis_in("CAPACITIES AT 5,280 FT", Address("S", 2, "A"))
    >>> found.code, found.elevation.value
    ('actual', 5280.0)
    """
    code, weighed, elevation, unit = _said(text)
    if not code:
        return None
    density = None
    if weighed:
        amount, density_unit = weighed.split()
        density = Quantity(float(amount), density_unit, at, text)
    height = Quantity(float(elevation), unit, at, text) if elevation else None
    return AirBasis(code, text, at, density, height)


def settled(found: list[AirBasis]) -> tuple[AirBasis | None, tuple[AirBasis, AirBasis] | None]:
    """The one basis of a table, with whatever density or elevation any of the places adds; or two that contradict."""
    if not found:
        return None, None
    for one in found:
        if one.code == "both" or one.code != found[0].code:
            return None, (found[0], one)
    density = next((one.density for one in found if one.density), None)
    elevation = next((one.elevation for one in found if one.elevation), None)
    first = found[0]
    return AirBasis(first.code, first.text, first.at, density, elevation), None
