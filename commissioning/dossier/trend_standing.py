"""Which trend logs stand at a unit, and what they say of each expectation: the newest log that can tell.

One rule for whoever asks: the unit as a whole, and a step of a functional test by the logs that cover it.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from commissioning.dossier.figures import Figures
from commissioning.dossier.view import View
from commissioning.logs.roles import roles

KIND = "trend"
Told = tuple[Mapping[str, Any], Figures]


def standing(view: View) -> list[Figures]:
    """The final logs on which a verdict can rest, in the order of observation."""
    return [one for one in view.of_kind(KIND) if one.stage == "final" and view.doubt(one) is None]


def newest(logs: Sequence[Figures]) -> dict[tuple[str, str], Told]:
    """Of each expectation what the newest log says that can tell; else that it was asked, and could not be told."""
    found: dict[tuple[str, str], Told] = {}
    for log in logs:
        for result in (log.facts["trend"] or {}).get("results", ()):
            key = result["code"], result["at"]
            is_asked = result["asked_s"] or result["times"]
            if result["outcome"] != "unknown" or (is_asked and not _tells(found.get(key))):
                found[key] = (result, log)
    return found


def _tells(held: Told | None) -> bool:
    return held is not None and held[0]["outcome"] != "unknown"


def kept(result: Mapping[str, Any], log: Figures) -> dict[str, Any]:
    """What a judgement keeps of an expectation and the log that says it."""
    names = ("code", "at", "title", "outcome", "words", "amounts", "look", "margin")
    return {**{name: result[name] for name in names}, "envelope": log.envelope, "file": log.facts["file"]}


def where(title: str, at: str) -> str:
    """An expectation by its title and where on the unit it is asked.

    >>> where("Reading can be", "room_co2"), where("Short runs", "supply"), where("Runs by its schedule", "")
    ('Reading can be, room CO2', 'Short runs, supply', 'Runs by its schedule')
    """
    named = roles()[at].title if at in roles() else at.replace("_", " ")
    return f"{title}, {named}" if named else title
