"""The snapshots of a position: which one is judged, which came before it, and the case that it makes for the rules."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from commissioning.dossier.figures import Figures
from commissioning.dossier.results import Absence
from commissioning.dossier.settings.rules import Case
from commissioning.dossier.view import View

KIND = "settings"
_JUDGED = ("as_left", "as_found")
_BY_DESIGN = {  # an option of the controller: the equipment that it goes with, and what leaves it open
    "option_bypass": (("bypass",), ()),
    "option_heating": (("electric_heater", "gas_heater"), ("water_coil",)),
    "option_cooling": (("dx_cooling",), ("water_coil",)),
    "option_dampers": (("outdoor_damper", "exhaust_damper"), ()),
}


def snapshots(view: View, *moments: str) -> list[Figures]:
    """Those of these moments, of all where none is named, in the order of observation."""
    held = [one for one in view.records if one.kind == KIND]
    return [one for one in held if not moments or one.facts["moment"] in moments]


def standing(view: View) -> Figures | Absence:
    """The newest snapshot as left, else as found, of the machine that sits here."""
    for moment in _JUDGED:
        held = snapshots(view, moment)
        if held:
            # neither a damper nor an instrument enters into what a controller is set to
            return view.doubt(replace(held[-1], faults=())) or held[-1]
    return Absence("not_due", "The settings as found or as left were not read yet.")


def before(view: View, snapshot: Figures) -> Figures | None:
    """The snapshot before this one, whatever its moment."""
    held = snapshots(view)
    place = held.index(snapshot)
    return held[place - 1] if place else None


def later_look(view: View, snapshot: Figures) -> Figures | None:
    """The newest follow-up after this one."""
    return _last(one for one in snapshots(view, "follow_up") if one.when > snapshot.when)


def case_of(view: View, snapshot: Figures) -> Case:
    ordered = _last(snapshots(view, "as_ordered"))
    error = snapshot.figure("clock_error")
    outdoor = view.place.ports.get("outdoor")
    flows = {name: port.airflow_m3_s for name, port in view.place.ports.items()}
    return Case(
        values=snapshot.facts["values"],
        ordered={**ordered_by_design(view.place.parts("equipment")), **(ordered.facts["values"] if ordered else {})},
        clock_off_s=error.value if error else None,
        site_zone=view.place.time_zone,
        at=datetime.fromisoformat(snapshot.facts["true_time"]),
        winter_c=snapshot.facts["winter_c"],
        design_m3_s={name: flow for name, flow in flows.items() if flow},
        minimum_m3_s=outdoor.minimum_m3_s if outdoor else None,
        others=view.place.neighbours,
    )


def ordered_by_design(equipment: Mapping[str, Mapping[str, Any]]) -> dict[str, bool]:
    """The options that the unit's listed equipment asks for, or leaves no use for; nothing where none is listed.

    >>> ordered_by_design({"unit": {"options": ["bypass", "water_coil"]}})
    {'option_bypass': True, 'option_dampers': False}
    """
    listed = (equipment.get("unit") or {}).get("options")
    if listed is None:
        return {}
    asked = {code: any(one in listed for one in parts) for code, (parts, _) in _BY_DESIGN.items()}
    return {code: yes for code, yes in asked.items() if yes or not any(one in listed for one in _BY_DESIGN[code][1])}


def _last(held: Iterable[Figures]) -> Figures | None:
    return next(reversed(list(held)), None)
