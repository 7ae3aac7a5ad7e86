"""Outlets that somebody else read again: the reading that stands against the latest verification of it, in one mode."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from commissioning.dossier.figures import Figures
from commissioning.dossier.outlet_readings import KIND, OutletReading, readings_of
from commissioning.dossier.results import Absence
from commissioning.dossier.view import View
from commissioning.engineering.agreement import normalised_difference

LARGEST = 1.0
_SMALLEST_M3_S = 1e-9  # two readings of no flow at all agree
_INSTRUMENT = "instrument"  # the part of an outlet's uncertainty that is its instrument's error


@dataclass(frozen=True, slots=True)
class Pair:
    """Two readings of one outlet compared."""

    standing: OutletReading
    verifying: OutletReading
    normalised_difference: float
    correlation: float

    @property
    def is_disputed(self) -> bool:
        return self.normalised_difference > LARGEST


def verifications(view: View) -> list[Figures]:
    """The final records of outlets that touched nothing, in the order of observation."""
    return [one for one in view.of_kind(KIND) if one.stage == "final" and one.purpose == "verification"]


def pairs(view: View, standing: Mapping[str, OutletReading], records: Mapping[str, Figures]) -> dict[str, Pair]:
    """By outlet. A verification on which no verdict can rest, or one made before, compares nothing."""
    found: dict[str, Pair] = {}
    for check in verifications(view):
        if view.doubt(check) is not None:
            continue
        for verifying in readings_of(check):
            own = standing.get(verifying.name)
            if own is not None and _is_comparable(own, verifying, records[own.envelope], check):
                found[own.name] = pair_of(own, verifying)
    return found


def _is_comparable(own: OutletReading, verifying: OutletReading, record: Figures, check: Figures) -> bool:
    read = own.airflow_m3_s is not None and verifying.airflow_m3_s is not None
    same = record.mode == check.mode and own.basis == verifying.basis and own.port == verifying.port
    return read and same and not verifying.doubts and record.when <= check.when


def pair_of(a: OutletReading, b: OutletReading) -> Pair:
    """As for two finals of a port: of their errors they share that of an instrument that read both."""
    whole = a.standard_uncertainty_m3_s * b.standard_uncertainty_m3_s
    errors = (_errors(a), _errors(b))
    shared = sum(size * errors[1].get(tool, 0.0) for tool, size in errors[0].items())
    correlation = min(0.99, shared / whole) if whole > 0.0 else 0.0
    difference = normalised_difference(
        a=a.airflow_m3_s or 0.0,
        expanded_uncertainty_a=max(a.expanded_uncertainty_m3_s, _SMALLEST_M3_S),
        b=b.airflow_m3_s or 0.0,
        expanded_uncertainty_b=max(b.expanded_uncertainty_m3_s, _SMALLEST_M3_S),
        correlation=correlation,
    )
    return Pair(a, b, float(difference), correlation)


def _errors(one: OutletReading) -> dict[str, float]:
    held: Sequence[tuple[str, float]] = [
        (part.group, part.standard_uncertainty) for part in one.components if part.name == _INSTRUMENT and part.group
    ]
    return dict(held)


def dispute(pair: Pair) -> Absence | None:
    if not pair.is_disputed:
        return None
    return Absence(
        "disputed",
        f"a verification differs by more than both uncertainties (E = {pair.normalised_difference:.2f}): "
        "retest together",
    )
