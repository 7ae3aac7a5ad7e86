"""The test opened down to its readings: the air at the faces, then each figure with its working."""

from collections.abc import Mapping
from typing import Any

from commissioning.blocks import Block, Caution, Column, Sentence, Table
from commissioning.dossier import exchanger_words as words
from commissioning.dossier import printing
from commissioning.dossier.figure_shows import read_with, working
from commissioning.dossier.shows import PORTS

_FIRST = ("sensible_effectiveness", "total_effectiveness", "latent_effectiveness", "transfer_ratio", "wheel_speed")


def headline(measurement: Mapping[str, Any], display: str) -> str:
    """What the record amounts to, in a line: its most telling figures."""
    held = {one["name"]: one for one in measurement["figures"]}
    told = [held[name] for name in _FIRST if name in held][:2]
    if not told:
        told = measurement["figures"][:1]
    if not told:
        return "nothing that could be computed"
    return "; ".join(f"{words.WORDS[one['name']]} {words.with_uncertainty(one, display)}" for one in told)


def show(measurement: Mapping[str, Any], display: str) -> tuple[Block, ...]:
    facts = measurement["facts"]
    stage = f"{measurement['stage']}, session {measurement['session']}"
    blocks: list[Block] = [
        Sentence(
            f"Exchanger {facts['exchanger']}: {headline(measurement, display)}; {stage}, "
            f"{printing.moment(measurement['observed_at'])}."
        ),
        Caution(words.CAUTION, "rotating parts, roof, tracer gas"),
        *_stations(facts, display),
        read_with(measurement, none="none named"),
    ]
    for one in measurement["figures"]:
        at = f", {PORTS[one['at']].lower()}" if one["at"] else ""
        title = f"{words.WORDS[one['name']]}{at}"
        blocks += working(one, title[:1].upper() + title[1:], words.with_uncertainty(one, display))
        if one["name"] == "seal_pressure":
            meaning = words.seal_meaning(one["at"], one["value"], one["expanded_uncertainty"])
            blocks.append(Sentence(f"At {words.FACES[one['at']]}: {meaning}."))
    blocks += [
        Sentence(f"No {words.WORDS[name]}: {reason}.", "aside") for name, reason in facts["not_computed"].items()
    ]
    blocks += [Sentence(remark, "aside") for remark in measurement["remarks"]]
    return tuple(blocks)


def _stations(facts: Mapping[str, Any], display: str) -> tuple[Block, ...]:
    if not facts["stations"]:
        return ()
    ip = display == "ip"
    rows = tuple(
        (
            PORTS[role],
            words.temperature(one["read_c"], display),
            words.temperature_difference(one["fan_rise_k"], display),
            words.temperature(one["temperature_c"], display),
            words.humidity(one["humidity_ratio"], display),
        )
        for role, one in ((role, facts["stations"][role]) for role in PORTS if role in facts["stations"])
    )
    read = tuple(
        (PORTS[role], facts["stations"][role]["read"], facts["stations"][role]["humidity_read"])
        for role in PORTS
        if role in facts["stations"]
    )
    degrees = "°F" if ip else "°C"
    columns = (
        Column("Air"),
        Column("Read", degrees, "right"),
        Column("Fan's heat between", "°F" if ip else "K", "right"),
        Column("At the exchanger", degrees, "right"),
        Column("Humidity ratio", "gr/lb" if ip else "g/kg", "right"),
    )
    as_read = Table((Column("Air"), Column("Dry bulb"), Column("Humidity")), read, "As read")
    return (as_read, Table(columns, rows, "The air on the four sides"))
