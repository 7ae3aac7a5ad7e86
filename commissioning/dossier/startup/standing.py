"""The start that stands, of the machine that sits here, and the delays that it is held against.

A start is not undone by balancing: an as-left session that began later asks for no other start. A machine that is
swapped does.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from commissioning.dossier.figures import Figures
from commissioning.dossier.results import Absence
from commissioning.dossier.settings import snapshot
from commissioning.dossier.settings.words import MOMENTS
from commissioning.dossier.view import View

KIND = "startup"
FANS = ("supply", "exhaust")
ALLOWANCE_S = 2.0  # of a delay: what a stopwatch and a log of one second leave open; common practice, no source
_SETTINGS = {
    "damper_proof": "damper_to_fan_delay",
    "fan_proof": "proof_delay",
    "exhaust_after_supply": "exhaust_after_supply_delay",
    "stop": "stop_delay",
}


@dataclass(frozen=True, slots=True)
class Delay:
    """A limit in seconds with where it comes from; None where nobody gave one."""

    limit_s: float | None
    source: str = ""

    def to_json(self) -> dict[str, Any]:
        return {"limit_s": self.limit_s, "source": self.source}


def standing(view: View, fan: str = "") -> Figures | Absence:
    """The newest final start, with `fan` the newest in which that fan stands, or why none counts.

    What tells neither of a fan commanded nor of a unit that stands takes the place of none that does.
    """
    held = [one for one in view.of_kind(KIND) if not fan or fan in one.facts["fans"]]
    finals = [one for one in held if one.stage == "final"]
    if not finals:
        reasons = [one.facts["not_final"] for one in held if "not_final" in one.facts]
        why = f" {reasons[-1]}" if reasons else ""
        return Absence("not_due", f"There are only preliminary starts.{why}" if held else "No start is recorded yet.")
    newest = ([one for one in finals if is_commanded(one) or one.facts["not_running"]] or finals)[-1]
    # what dampers and filters were at that moment is told by the start itself
    doubt = view.doubt(replace(newest, faults=()))
    if doubt is not None and doubt.code == "recheck":
        return Absence("recheck", f"The machine was changed on {view.place.machine_since}: start it again.")
    return doubt or newest


def is_commanded(start: Figures) -> bool:
    return any(one["command"] == "on" for one in start.facts["fans"].values())


def fans_of(view: View) -> tuple[str, ...]:
    """The fans that a start speaks of, and those of the design."""
    told = {fan for one in view.of_kind(KIND) for fan in one.facts["fans"]} | set(view.place.fans)
    return tuple(fan for fan in FANS if fan in told)


def delays(view: View, start: Figures) -> Mapping[str, Delay]:
    """As given with the record, else as the controller is set, else not given."""
    given = start.facts["limits"]
    settings = snapshot.standing(view)
    found = {}
    for name, code in _SETTINGS.items():
        value = given.get(f"{name}_s")
        if value is not None:
            found[name] = Delay(value, given["source"])
        elif isinstance(settings, Figures) and code in settings.facts["values"]:
            moment = MOMENTS[settings.facts["moment"]]
            found[name] = Delay(float(settings.facts["values"][code]), f"settings {moment}, {view.day(settings)}")
        else:
            found[name] = Delay(None)
    return found


def rests_on(view: View, start: Figures, *found: Delay) -> tuple[str, ...]:
    """The start, and the settings where a delay is theirs."""
    settings = snapshot.standing(view)
    theirs = isinstance(settings, Figures) and any(one.source.startswith("settings ") for one in found)
    return (start.envelope, settings.envelope) if theirs and isinstance(settings, Figures) else (start.envelope,)
