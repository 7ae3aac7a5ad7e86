"""Instruments against one another: whether one reads apart from the others over a project's units.

Reads only, in a fixed number of queries; what was measured is taken as it is kept.
"""

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse

from commissioning.dossier import printing
from commissioning.dossier.given import PortDesign
from commissioning.dossier.shows import PORTS
from commissioning.engineering.instrument_bias import FEWEST_PAIRS
from commissioning.engineering.reading_screens import Screen
from commissioning.samples.comparisons import Compared, compare, tools_of
from commissioning.samples.population import lying_in, part_of
from commissioning.samples.prompts import prompts_of
from commissioning.samples.states import measured
from portfolio.access import may
from portfolio.dashboards.display import display_for
from portfolio.dashboards.page import Page
from portfolio.dashboards.words import count, opening, units
from portfolio.models import DesignEntry, Instrument, Position, Project
from portfolio.models.design import fold_entries

MOST_PAIRS_SHOWN = 200
_NO_TOOL = "no instrument of ours"
_ASKS = {True: "look again", False: "nothing to ask", None: "cannot tell"}


@dataclass(frozen=True)
class PairLine:
    unit: uuid.UUID
    tag: str
    port: str
    reading: str
    other: str
    other_name: str
    difference: str


@dataclass(frozen=True)
class Line:
    """One instrument, as far as its pairs allow to speak of it."""

    name: str
    finals: int
    compared: Compared
    difference: str
    interval: str
    coverage: str
    said: str
    need: str
    pairs: list[PairLine]
    screens: list[tuple[str, str]]


class InstrumentsPage(Page):
    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        project = self.visible(Project.objects, pk)
        part = part_of(self.person, project)
        self.require("see_samples", part)
        display = display_for(request, project)
        entries = Prefetch("design_entries", DesignEntry.objects.select_related("revision"))
        positions = {one.pk: one for one in lying_in(part).prefetch_related(entries).order_by("pk")}
        readings = measured(positions)
        used = {tool for held in readings.values() for one in held for tool in tools_of(one)}
        tools = {str(one.pk): one for one in self.seen(Instrument.objects).filter(pk__in=used)}
        found = compare(readings, {id: float(one.accuracy.get("relative") or 0.0) for id, one in tools.items()})
        is_lead = bool(may(self.person, "draw_sample", part))
        designs = {pk: _ports_of(one) for pk, one in positions.items()} if is_lead else {}
        named = {id: str(one) for id, one in tools.items()}
        lines = [
            _line(
                one,
                named,
                positions,
                display,
                prompts_of(one, designs, tools[id].resolution) if is_lead else (),
            )
            for id, one in sorted(found.items(), key=lambda item: named.get(item[0], ""))
            if id in tools
        ]
        context: dict[str, Any] = {
            "here": "projects",
            "project": project,
            "sentence": _sentence(lines),
            "lines": lines,
            "airflow_unit": printing.airflow_unit(display),
            "is_lead": is_lead,
        }
        return self.show("commissioning/instrument_bias.html", context)


def _ports_of(position: Position) -> dict[str, PortDesign]:
    design = fold_entries(position.design_entries.all())
    return {name: PortDesign.from_json(one) for name, one in (design.get("ports") or {}).items()}


def _line(
    one: Compared,
    named: Mapping[str, str],
    positions: Mapping[uuid.UUID, Position],
    display: str,
    screens: Sequence[Screen],
) -> Line:
    bias = one.bias
    return Line(
        name=named[one.instrument],
        finals=len(one.finals),
        compared=one,
        difference=_signed(bias.mean_relative_difference) if bias else "",
        interval=f"{_signed(bias.low)} to {_signed(bias.high)}" if bias else "",
        coverage=f"{100.0 * bias.coverage_probability:.3g} %" if bias else "",
        said=_said(one),
        need=_need(one),
        pairs=[
            PairLine(
                unit=pair.position,
                tag=positions[pair.position].tag,
                port=PORTS[pair.port],
                reading=printing.airflow(pair.reading.airflow_m3_s, display),
                other=printing.airflow(pair.other.airflow_m3_s, display),
                other_name=", ".join(named.get(id, id) for id in tools_of(pair.other)) or _NO_TOOL,
                difference=_signed(pair.relative_difference),
            )
            for pair in sorted(one.pairs, key=lambda pair: positions[pair.position].tag)[:MOST_PAIRS_SHOWN]
        ],
        screens=[(_ASKS[screen.look_again], opening(screen.sentence)) for screen in screens if screen.readings],
    )


def _said(one: Compared) -> str:
    if one.bias is None:
        return f"Too few to speak of: {FEWEST_PAIRS} units read by both are the least."
    return one.bias.prompt or "Not told apart from the others."


def _need(one: Compared) -> str:
    """How many more units would tell a difference that is worth finding."""
    size = f"{100.0 * one.worth_finding:.2g} %"
    if one.bias is None:
        more = FEWEST_PAIRS - one.units
        return f"{opening(count(more))} more {units(more)} read by both, at least."
    if one.bias.distinguishable:
        return ""
    if one.units_needed is None:
        return f"Readings scatter too much for a difference of {size} to be told."
    more = one.units_needed - one.units
    if more <= 0:
        return f"Enough to have told a difference of {size}, in four cases of five."
    return f"{opening(count(more))} more {units(more)} would tell a difference of {size}, in four cases of five."


def _sentence(lines: Sequence[Line]) -> str:
    if not lines:
        return "No final reading names an instrument yet."
    told = sum(one.compared.bias is not None and one.compared.bias.distinguishable for one in lines)
    spoken = sum(one.compared.bias is not None for one in lines)
    names = f"{count(len(lines))} instrument{'' if len(lines) == 1 else 's'}"
    if not spoken:
        shared = f"none shares {FEWEST_PAIRS} units with another, so that nothing is told"
        return opening(f"{names} read finals here; {shared}.")
    reads = "reads" if told < 2 else "read"
    number = count(told) if told else "none"
    return opening(f"{number} of {names} {reads} apart from the others; {count(spoken)} could be compared.")


def _signed(share: float) -> str:
    text = f"{100.0 * share:+.1f} %"
    return "0.0 %" if text in ("+0.0 %", "-0.0 %") else text.replace("-", "−")
