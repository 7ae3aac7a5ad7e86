"""A settings snapshot as blocks: group by group, its clock, the photos of the controller's pages."""

from collections.abc import Mapping
from typing import Any

from commissioning.blocks import Block, Column, Photo, Sentence, Table, Working, WorkingLine
from commissioning.dossier import printing
from commissioning.dossier.settings import printed
from commissioning.dossier.settings.catalogue import CATALOGUE
from commissioning.dossier.settings.words import MOMENTS, clock
from commissioning.dossier.shows import GRADES

_MOST_SHOWN = 100


def headline(measurement: Mapping[str, Any], display: str) -> str:
    """
    >>> held = {"supply_control": "co2_level", "option_heating": True}
    >>> headline({"facts": {"moment": "as_left", "values": held}}, "ip")
    'as left, 2 settings, supply fan holds CO2 level'
    """
    facts = measurement["facts"]
    said = [MOMENTS[facts["moment"]], f"{len(facts['values'])} settings"]
    if "supply_control" in facts["values"]:
        said.append(f"supply fan holds {printed.words(facts['values']['supply_control'])}")
    return ", ".join(said)


def show(measurement: Mapping[str, Any], display: str) -> tuple[Block, ...]:
    facts = measurement["facts"]
    family = f" Controller: {facts['controller']}." if facts["controller"] else ""
    blocks: list[Block] = [
        Sentence(
            f"Settings {MOMENTS[facts['moment']]}, {GRADES[measurement['grade']]}; {measurement['stage']}, session "
            f"{measurement['session']}, {printing.moment(measurement['observed_at'])}.{family}"
        )
    ]
    for group, title in CATALOGUE.groups.items():
        rows = tuple(
            (printed.title_of(code), printed.value(code, held, display))
            for code, held in facts["values"].items()
            if CATALOGUE.settings[code].group == group
        )
        if rows:
            blocks.append(Table((Column("Setting"), Column("Value")), rows, title))
    for figure in measurement["figures"]:
        lines = (
            *(WorkingLine(f"Time {name}", "", text) for name, text in figure["inputs"]),
            WorkingLine("Clock", figure["equation"], clock(figure["value"]), figure["source"]),
        )
        blocks.append(Working(lines, "Its clock"))
    blocks += _read_from(facts.get("read_from"))
    blocks += [Sentence(remark, "aside") for remark in measurement["remarks"]]
    blocks += [Photo(sha256, caption) for sha256, caption in facts["photos"]]
    return tuple(blocks)


def _read_from(held: Mapping[str, Any] | None) -> list[Block]:
    """The file and the mapping, and the names that gave no setting: they were read, and nobody has understood them."""
    if held is None:
        return []
    mapping, unknown = held["mapping"], held["unknown"]
    said = [f"Read from {held['file']} (SHA-256 {held['sha256'][:16]}…) through the mapping of {mapping['family']},"]
    said.append(f"version {mapping['version']}.")
    for name, words in (("ignored", "Left out by the mapping"), ("not_set", "Without a value")):
        if held[name]:
            said.append(f"{words}: {_listed(held[name])}.")
    blocks: list[Block] = [Sentence(" ".join(said), "aside")]
    if unknown:
        rows = tuple(
            (one["name"], " ".join(filter(None, (one["value"], one["unit"])))) for one in unknown[:_MOST_SHOWN]
        )
        if len(unknown) > _MOST_SHOWN:
            rows += ((f"and {len(unknown) - _MOST_SHOWN} more, in the record", ""),)
        blocks.append(Table((Column("Name"), Column("As read")), rows, "Names that the mapping does not know"))
    return blocks


def _listed(names: list[str]) -> str:
    more = len(names) - _MOST_SHOWN
    return ", ".join(names[:_MOST_SHOWN]) + (f" and {more} more" if more > 0 else "")
