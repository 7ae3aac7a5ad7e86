"""What settings show to have changed since the final readings: as plain facts that are kept, and blocks from those."""

from collections.abc import Mapping, Sequence
from typing import Any

from commissioning.blocks import Block, Column, Sentence, Table
from commissioning.dossier import printing, shows
from commissioning.dossier.results import Measurement
from commissioning.dossier.settings import drift, printed
from commissioning.dossier.settings.all_rules import RULES
from commissioning.dossier.settings.words import MOMENTS, person
from commissioning.dossier.view import View

_MODES = ("design_maximum", "minimum", "other")


def since_finals(view: View) -> dict[str, Any]:
    """What changed that moves the air of a port with a final, and the ports of which that cannot be said."""
    changed: dict[str, dict[str, Any]] = {}
    not_known = []
    for port in view.ports:
        final = view.final(port, _MODES)
        if not isinstance(final, Measurement):
            continue
        found = drift.since(view.settings, final)
        if found.held is None:
            not_known.append(port)
        for one in found.at(port):
            changed.setdefault(one.code, _json(one))["ports"].append(port)
    return {"changed": list(changed.values()), "not_known": not_known}


def _json(one: drift.Drift) -> dict[str, Any]:
    return {
        "code": one.code,
        "before": one.before,
        "after": one.after,
        "moment": one.shown_by.facts["moment"],
        "observed_at": one.shown_by.observed_at,
        "by": person(one.shown_by.facts["by"]),
        "ports": [],
    }


def show(told: Mapping[str, Any], display: str) -> tuple[Block, ...]:
    blocks: list[Block] = []
    if told["changed"]:
        titles = ("Setting", "When it was measured", "Now", "First seen", "Read by", "To be measured again")
        rows = tuple(
            (
                printed.title_of(one["code"]),
                printed.value(one["code"], one["before"], display),
                printed.value(one["code"], one["after"], display),
                f"{MOMENTS[one['moment']]}, {printing.moment(one['observed_at'])}",
                one["by"],
                ", ".join(shows.PORTS[port].lower() for port in one["ports"]),
            )
            for one in told["changed"]
        )
        blocks.append(Table(tuple(map(Column, titles)), rows, "Changed since the final readings"))
    if told["not_known"]:
        where = ", ".join(shows.PORTS[port].lower() for port in told["not_known"])
        text = f"No settings tell what held at the final readings of {where}: whether they changed since is not known."
        blocks.append(Sentence(text, "aside"))
    return tuple(blocks)


def rules_on(code: str) -> Sequence[str]:
    """The rules that look at a setting.

    >>> rules_on("daylight_saving")
    ['E06']
    """
    return [rule.code for rule in RULES if code in rule.needs]
