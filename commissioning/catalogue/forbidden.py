"""What no step may ask of anybody, and which caution goes with which work: held against every procedure's words.

Words cannot be judged wholly by their letters. This finds what is plainly said; whoever writes a procedure answers for
it.
"""

import re
from collections.abc import Iterable, Iterator

_GEAR = r"\b(isolator|disconnect|breaker|fuse)s?\b"
_SAFETY = r"(safety|safeties|interlock|switch|detector|freezestat|limit|overload)"
_ANY = r"(the |a |an |its |any |every )"
_MOVES = r"\b(open|pull|throw|trip|switch|turn|remove)\w*\b"
_RUNS = r"\b(running|runs|turning|turns)\b"

_NEVER: tuple[tuple[str, str], ...] = (
    (
        r"\b(set|sets|setting|move|moves|moving|change|changes|changing|advance|put|adjust|turn|wind|shift)\b"
        r"[^.;:]{0,30}\bclock|\bclock (forward|back|ahead)|\b(change|set|adjust) the (date|time) (of|on|at|in)\b",
        "nobody moves the controller's clock; a temporary schedule does it",
    ),
    (
        r"\blive (work|parts?|terminals?|conductors?|wires?|wiring|circuits?)\b|\b(work|works|working) live\b"
        r"|\bwhile (it is |they are )?live\b|\benergi[sz]ed\b|\bwith (the )?power (still )?on\b",
        "nobody works live; what is read there is read by the trade's own permanent means, or with it isolated",
    ),
    (
        rf"\bunder load\b|{_MOVES}[^.;]*{_GEAR}[^.;]*{_RUNS}|{_RUNS}[^.;]*{_MOVES}[^.;]*{_GEAR}",
        "nothing is switched under load; the fans are stopped by their command first",
    ),
    (
        r"\bjumper|\bbridg(e|es|ing) (the|out|across|a|an)\b"
        rf"|\b(defeat|disable|override|wedge|tape|block)(s|ed|ing)? {_ANY}?(\w+ )?{_SAFETY}\b"
        rf"|\bbypass(es|ed|ing)? {_ANY}(\w+ )?{_SAFETY}\b",
        "no input and no safety is bridged or defeated; the trade that owns it makes the signal, as a simulation",
    ),
    (
        rf"\b(remove|take off|open)\w*\b[^.;]*\b(guard|cover|panel|door)\b[^.;]*{_RUNS}",
        "no guard, cover or door is opened while anything turns",
    ),
    (r"\bsafe to\b", "nobody says here that something is safe: that is for whoever may say so on site"),
)
_OF_THE_FIRE_ALARM = (
    r"\b(trip|trigger|activate|test|spray|blow|set off|press|pull)\w*\b[^.;]{0,40}"
    r"\b(smoke detector|duct detector|heat detector|fire alarm|fire damper|smoke damper|pull station)"
)
_HAZARDS: tuple[tuple[str, str], ...] = (
    (r"\b(ladder|roof|scaffold)", "height"),
    (r"\b(climb|crawl|step|go|goes)\b[^.;]{0,20}\b(casing|plenum)\b|\binside the (casing|plenum)\b", "inside"),
    (r"\b(uv|ultraviolet)\b", "uv_light"),
    (r"\bburner|\bgas (valve|train|heater|piping)", "gas"),
    (r"\brefrigerant", "refrigerant"),
    (r"\b(belt|impeller|sheave|pulley)", "rotating_parts"),
)


def never(texts: Iterable[str]) -> Iterator[str]:
    """For each thing that is asked and that nobody may do: the words, and what holds instead."""
    for text in texts:
        for pattern, instead in _NEVER:
            found = re.search(pattern, text.lower())
            if found:
                yield f"it says “{found.group()}”: {instead}"


def switches(do: str) -> bool:
    """Whether a step has an isolator, a disconnect, a breaker or a fuse moved.

    >>> switches("The disconnect stays closed."), switches("The electrician opens the isolator.")
    (False, True)
    """
    return bool(re.search(_GEAR, do.lower())) and "stays closed" not in do.lower()


def is_of_the_fire_alarm(do: str) -> bool:
    return bool(re.search(_OF_THE_FIRE_ALARM, do.lower()))


def hazards_of(do: str) -> Iterator[str]:
    """Hazards that go with the work that is named.

    >>> list(hazards_of("Climb the ladder and look at the belt.")), list(hazards_of("Read the display."))
    (['height', 'rotating_parts'], [])
    """
    yield from (code for pattern, code in _HAZARDS if re.search(pattern, do.lower()))
