"""What to look at next at a port that does not conform: the likely causes first, then the order of diagnosis.

The causes come from `engineering.diagnosis`, ranked by what was read along the fan's stream (`stream`). The order holds
where readings do not decide: operating state, dampers and filters, static profile, outlets and other units on the
duct, and only then the fan. Each step says what was seen, or that nobody looked.
"""

import math
from collections.abc import Iterable
from typing import Any

from commissioning.dossier import printing, sisters
from commissioning.dossier.given import Conventions
from commissioning.dossier.results import Measurement
from commissioning.dossier.stream import sister_whose, symptoms_of
from commissioning.dossier.view import View
from commissioning.engineering.diagnosis import Cause, diagnose
from commissioning.engineering.settlement import Remedy as Settles
from commissioning.engineering.settlement import what_would_settle

_OPERATING = ("served_air_handler", "wheel", "bypass", "doors")
_DAMPERS_AND_FILTERS = ("outdoor_damper", "exhaust_damper", "filters")
_RISER = "others_on_riser"
MOST_CAUSES, MOST_EVIDENCE = 5, 3


def causes_of(view: View, final: Measurement, target_m3_s: float) -> tuple[Cause, ...]:
    """The likely causes, the likeliest first; those that the readings exclude come last."""
    return diagnose(symptoms_of(view, final, target_m3_s))


def look_next(view: View, final: Measurement, causes: Iterable[Cause], target_m3_s: float) -> tuple[str, ...]:
    """The causes that stand, each with its evidence, what sisters read, then the steps of diagnosis in their order."""
    standing = [cause for cause in causes if cause.stands][:MOST_CAUSES]
    return (
        *(_likely(number, cause) for number, cause in enumerate(standing, start=1)),
        *_sisters(view, final, target_m3_s),
        _step("Operating state", final, _OPERATING),
        _step("Dampers and filters", final, _DAMPERS_AND_FILTERS),
        _statics(final),
        _outlets(final),
        "Fan speed: only after the four above are in order.",
    )


def told_of(causes: Iterable[Cause]) -> list[dict[str, Any]]:
    """The causes as data, those that are excluded too."""
    return [
        {
            "code": one.code,
            "stands": one.stands,
            "score": one.score,
            "size": one.size,
            "for": list(one.evidence_for),
            "against": list(one.evidence_against),
        }
        for one in causes
    ]


def _sisters(view: View, final: Measurement, target_m3_s: float) -> tuple[str, ...]:
    if final.mode != "design_maximum" or not view.place.sisters:
        return ()
    owner = sister_whose(view, final, target_m3_s)
    return sisters.in_words(view.place.sisters, final, target_m3_s, owner)


def _likely(number: int, cause: Cause) -> str:
    parts = [f"Likely cause {number}: {cause.sentence}"]
    if cause.evidence_for:
        parts.append(f"For it: {'; '.join(cause.evidence_for[:MOST_EVIDENCE])}.")
    if cause.evidence_against:
        parts.append(f"Against it: {'; '.join(cause.evidence_against[:MOST_EVIDENCE])}.")
    return " ".join([*parts, f"Look at {cause.look}."])


def what_settles(final: Measurement, distance_m3_s: float, conventions: Conventions) -> str:
    """What would settle an inconclusive verdict, if the measured value stays where it is."""
    parts = {name: [p for p in final.budget if p.name == name] for name in ("repeatability", "instrument")}
    scatter = sum(part.standard_uncertainty for part in parts["repeatability"])
    instrument = sum(part.standard_uncertainty for part in parts["instrument"])
    known = {part.name for part in (*parts["repeatability"], *parts["instrument"])}
    other = math.hypot(*(part.standard_uncertainty for part in final.budget if part.name not in known))
    found = what_would_settle(
        distance=distance_m3_s,
        guard_multiplier=max(conventions.guard_multiplier, 1e-6),
        coverage_factor=max(final.coverage_factor, 1.0),
        reading_standard_deviation=scatter * math.sqrt(final.readings),
        readings=final.readings,
        instrument_standard_uncertainty=instrument,
        other_standard_uncertainty=other,
    )
    if found.remedy is Settles.MORE_READINGS:
        return f"What would settle it: {found.readings_needed} readings in all, if their mean stays where it is."
    if found.remedy is Settles.BETTER_INSTRUMENT and found.needed_instrument_uncertainty is not None:
        most = printing.airflow_uncertainty(2.0 * found.needed_instrument_uncertainty, conventions.display)
        unit = printing.airflow_unit(conventions.display)
        return f"What would settle it: an instrument good to ±{most} {unit} (k = 2) at this reading."
    if found.remedy is Settles.NOTHING:
        return "What would settle it: nothing measured can, the value lies on the limit itself."
    return "What would settle it: another plane or another method; more readings or a better instrument will not."


def _step(title: str, final: Measurement, parts: tuple[str, ...]) -> str:
    seen = [f"{_words(name)} {_words(final.state[name])}" for name in parts if name in final.state]
    unseen = [_words(name) for name in parts if _words(name) in final.unseen]
    told = []
    if unseen:
        told.append(f"nobody looked at {listed(unseen)}: look there first")
    if final.state.get("filters") == "loaded" and "filters" in parts:
        told.append("change the loaded filters and read again")
    if seen:
        told.append(f"seen: {listed(seen)}")
    return f"{title}: {'; '.join(told) or 'nothing of this kind on the unit'}."


def _statics(final: Measurement) -> str:
    if not final.static_pressures:
        return "Static profile: not taken; take it from inlet to outlet, and see where the pressure goes."
    places = listed([_words(where) for where, _ in final.static_pressures])
    return f"Static profile: taken at {places}; compare each step with its design drop."


def _outlets(final: Measurement) -> str:
    others = final.state.get(_RISER)
    told = "are the branches and outlets open, and does their sum agree with this total?"
    if others == "on":
        return f"Outlets and other units: the others on the riser ran; {told}"
    if _words(_RISER) in final.unseen:
        return f"Outlets and other units: nobody looked whether the others on the riser ran; {told}"
    return f"Outlets and other units: {told}"


def _words(name: str) -> str:
    return name.replace("_", " ")


def listed(parts: list[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
