"""What a loop's process, told by a bump, means for its settings: in words with the assumption, or why there is none."""

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from commissioning.dossier.trends.controlling import LOOPS
from commissioning.dossier.trends.said import Amount
from commissioning.dossier.trends.sensing import name

_OFF = {"delta_K": 1.0, "m3/s": 0.1, "Pa": 25.0}  # a distance from the setpoint by which a gain is told
_ADVISED = (
    "For a PI loop of the {value} by its {output} this log advises {gain} % of output for each {off} off the setpoint, "
    "and an integral time of {integral}: its process has a gain of {answer} for each 10 % of output, a time constant "
    "of {constant} and a dead time of {dead}."
)


def advice(loops: Iterable[Mapping[str, Any]]) -> Iterator[dict[str, Any]]:
    """For each loop whose process a log tells: in words, with amounts in SI as an expectation has them."""
    for one in loops:
        if one["process"] is not None:
            words, amounts = _told(one["loop"], one["unit"], one["process"])
            yield {
                "loop": one["loop"],
                "words": words,
                "amounts": {name: {"value": value, "unit": unit} for name, (value, unit) in amounts.items()},
            }


def _told(code: str, unit: str, process: Mapping[str, Any]) -> tuple[str, dict[str, Amount]]:
    loop, found = LOOPS[code], process["advice"]
    named = {"{value}": name(loop.value), "{output}": name(loop.output)}
    if found is None:
        doubts = " ".join(process["doubts"])
        return _named("For the loop of the {value} by its {output} this log advises no settings: ", named) + doubts, {}
    amounts = {
        "gain": (100.0 * found["controller_gain"] * _OFF[unit], ""),
        "off": (_OFF[unit], unit),
        "integral": (found["integral_time_s"], "s"),
        "answer": (0.1 * process["gain"], unit),
        "constant": (process["time_constant_s"], "s"),
        "dead": (process["dead_time_s"], "s"),
    }
    return f"{_named(_ADVISED, named)} {found['assumption']}", amounts


def _named(words: str, named: Mapping[str, str]) -> str:
    for place, one in named.items():
        words = words.replace(place, one)
    return words
