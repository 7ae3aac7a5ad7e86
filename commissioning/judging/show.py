"""What was judged, as blocks: made from what is kept, whenever somebody opens it."""

from collections.abc import Iterable, Mapping
from typing import Any

from commissioning.blocks import Block, Sentence
from commissioning.judging.registry import KINDS, RULES


def show_judgement(
    judgement: Mapping[str, Any], measurements: Iterable[Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    """A judgement, and under it the measurements that it rests on. All arguments are the plain JSON values."""
    rule = RULES.get(judgement["requirement"])
    if rule is None:
        return (Sentence(f"Judged by a rule that this version does not have: {judgement['requirement']}."),)
    by_envelope = {f"{one['envelope']} {one['port']}": one for one in measurements}
    rests_on = [
        one
        for one in by_envelope.values()
        if one["envelope"] in judgement["rests_on"] and (not one["port"] or judgement["port"] in ("", one["port"]))
    ]
    if "refused" in judgement["facts"]:  # the rule came to nothing that it could show
        return (Sentence(judgement["absence"]["text"]),)
    blocks = list(rule.show(judgement, by_envelope, display))
    for one in rests_on:
        blocks += show_measurement(one, display)
    return tuple(blocks)


def show_measurement(measurement: Mapping[str, Any], display: str) -> tuple[Block, ...]:
    """From the readings to the airflow: inputs, equation, correction, uncertainty budget, instrument."""
    return KINDS[measurement["kind"]].show(measurement, display)


def place_of(port: str, requirements: Iterable[str]) -> str:
    """What a port means to these requirements: its air, its fan or both; empty for the unit as a whole.

    >>> place_of("supply", ["motor_current"]), place_of("supply", ["design_airflow", "motor_current"])
    ('supply fan', 'supply air and fan')
    """
    meant = sorted({getattr(RULES.get(one), "OF", "air") for one in requirements})
    return f"{port} {' and '.join(meant)}" if port else ""


def failing(requirements: Iterable[str]) -> str:
    """What fails where these requirements do not hold: a rule's own words, else its name.

    >>> failing(["design_airflow", "motor_current"]), failing(["settings_consistent"])
    ('design airflow and motor current not met', 'settings contradict something')
    >>> failing(["design_airflow", "two_finals_agree"])
    'design airflow not met; two finals disagree'
    """
    own = {code: words for code in requirements if (words := getattr(RULES.get(code), "FAILS", ""))}
    rest = [code.replace("_", " ") for code in requirements if code not in own]
    return "; ".join([f"{' and '.join(rest)} not met"] * bool(rest) + list(own.values()))


def headline(measurement: Mapping[str, Any], display: str) -> str:
    """What a measurement amounts to, in a line: a value with its uncertainty."""
    return KINDS[measurement["kind"]].headline(measurement, display)
