"""A building's balance: supply less exhaust by the finals that stand, its risers, its spaces. Reads only.

What was measured is taken as it is kept; sorting it into sessions is done by the same view as in judging.
"""

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse

from commissioning.dossier import balance, printing
from commissioning.dossier.balance import Balance, Relation
from commissioning.dossier.given import Conventions, Place
from commissioning.dossier.results import Absence
from commissioning.dossier.shows import PORTS
from commissioning.dossier.view import View
from commissioning.models import CurrentVerdict, JudgedPosition
from commissioning.pages import balance_words as words
from commissioning.pages.people import with_names
from commissioning.verdicts.dossiers import conventions_of, describe
from portfolio.dashboards.display import display_for
from portfolio.dashboards.page import Page
from portfolio.dashboards.words import listed, moment
from portfolio.models import Building, DesignEntry, Installation, Instrument, Position, ServedSpace

MOST = 2000


@dataclass(frozen=True)
class Unit:
    position: Position
    view: View


@dataclass(frozen=True)
class Line:
    """One port of one unit, as a row of the table."""

    tag: str
    unit: uuid.UUID
    port: str
    way: str
    airflow: str
    uncertainty: str
    instrument: str
    session: str


@dataclass(frozen=True)
class Space:
    name: str
    units: str
    sentence: str


class BalancePage(Page):
    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        building = self.visible(Building.objects.select_related("site__project"), pk)
        project = building.site.project
        display = display_for(request, project)
        try:
            agreed = conventions_of([project.pk])[project.pk]
        except LookupError as missing:
            return self.show("commissioning/balance.html", {"building": building, "sentence": str(missing)})
        conventions = Conventions.from_json(agreed)
        counted = _units(building, conventions)
        required = balance.relation_of(agreed, building.name)
        found = _balance(counted, "building", required, conventions)
        worst = balance.worst_by_design_m3_s((one.view for one in counted), required)
        context: dict[str, Any] = {
            "here": "projects",
            "building": building,
            "sentence": words.first_sentence(
                building.name,
                found,
                required,
                display,
                all_conform=_all_conform(counted),
                has_units=bool(counted),
            ),
            "agreed": words.relation_in_words(required, display) if required else "",
            "lines": _lines(counted, found, display),
            "working": _working(found, conventions, display),
            "airflow_unit": printing.airflow_unit(display),
            "worst": None if worst is None else f"{printing.airflow(worst, display)} {printing.airflow_unit(display)}",
            "risers": _risers(counted, building.site.time_zone),
            "spaces": _spaces(building, counted, conventions, display),
        }
        return self.show("commissioning/balance.html", context)


def _units(building: Building, conventions: Conventions) -> list[Unit]:
    """The counted units with what stands at them, in a fixed number of queries."""
    rows = (
        Position.objects.filter(building=building, scope__in=Position.COUNTED)
        .select_related("building__site__project", "system")
        .prefetch_related(
            "spaces",
            Prefetch("design_entries", DesignEntry.objects.select_related("revision")),
            Prefetch("installations", Installation.objects.filter(until__isnull=True).select_related("machine")),
        )
        .order_by("tag", "pk")[:MOST]
    )
    held = list(rows)
    judged = JudgedPosition.objects.filter(position__in=[one.pk for one in held])
    kept = dict(judged.values_list("pk", "measurements"))
    return [Unit(one, _view(one, kept.get(one.pk, ()), conventions)) for one in held]


def _view(position: Position, kept: Sequence[Mapping[str, Any]], conventions: Conventions) -> View:
    measured = [one for data in kept if (one := balance.measurement_of(data)) is not None]
    return View(Place.from_json(describe(position)), conventions, {}, measurements=measured)


def _balance(
    counted: Sequence[Unit], around: balance.Around, required: Relation | None, conventions: Conventions
) -> Balance:
    sides = [side for one in counted for side in balance.sides_of(one.view, around)]
    return balance.balance_of(sides, required, conventions)


def _all_conform(counted: Sequence[Unit]) -> bool:
    """Whether each airflow that has a design conforms to it."""
    rows = CurrentVerdict.objects.filter(
        position__in=[one.position.pk for one in counted], requirement="design_airflow"
    ).exclude(outcome="not_given")
    outcomes = set(rows.values_list("outcome", flat=True))
    return outcomes == {"conforms"}


def _lines(counted: Sequence[Unit], found: Balance, display: str) -> list[Line]:
    ids = {one.position.tag: one.position.pk for one in counted}
    used = {side.final.instrument for side in found.sides if side.final and side.final.instrument}
    names = {str(one.pk): str(one) for one in Instrument.objects.filter(pk__in=used)}
    lines = []
    for side in found.sides:
        stream, final, absence = side.stream, side.final, side.absence
        lines.append(
            Line(
                tag=side.tag,
                unit=ids[side.tag],
                port=PORTS[side.port],
                way=side.way,
                airflow=printing.airflow(stream.airflow_m3_s, display) if stream else "",
                uncertainty=printing.airflow_uncertainty(2.0 * stream.standard_uncertainty_m3_s, display)
                if stream
                else "",
                instrument=names.get(final.instrument or "", "reported") if final else "",
                session=final.session if final else with_names(absence.text) if absence else "",
            )
        )
    return lines


def _working(found: Balance, conventions: Conventions, display: str) -> dict[str, str] | None:
    offset = found.offset
    if offset is None:
        return None
    streams = [side for side in found.sides if side.stream is not None]
    sums = {way: sum(s.stream.airflow_m3_s for s in streams if s.way == way and s.stream) for way in ("in", "out")}
    independent = sum(s.stream.standard_uncertainty_m3_s**2 for s in streams if s.stream) ** 0.5
    return {
        "in": printing.airflow_exact(sums["in"], display),
        "out": printing.airflow_exact(sums["out"], display),
        "offset": printing.airflow_exact(offset.offset_m3_s, display),
        "share": printing.percent(offset.relative_offset, signed=True),
        "standard": printing.airflow_exact(offset.standard_uncertainty_m3_s, display),
        "independent": printing.airflow_exact(independent, display),
        "expanded": printing.airflow_exact(offset.expanded_uncertainty_m3_s, display),
        "density": printing.density(conventions.standard_density_kg_m3, display),
        "sign": "certain" if offset.sign_is_certain else "not certain",
        "verdict": found.verdict.value.replace("_", " ") if found.verdict else "",
        "rule": str(conventions.decision_rule).replace("_", " "),
        "probability": f"{100 * offset.assessment.conformance_probability:.1f} %" if offset.assessment else "",
    }


def _risers(counted: Sequence[Unit], zone: str) -> list[dict[str, Any]]:
    """Units that share a duct: their finals count when the last branch is done."""
    systems: dict[str, list[Unit]] = {}
    for one in counted:
        if one.position.system is not None:
            systems.setdefault(one.position.system.name, []).append(one)
    return [_riser(name, held, zone) for name, held in sorted(systems.items())]


def _riser(name: str, held: Sequence[Unit], zone: str) -> dict[str, Any]:
    began = [(start, one) for one in held if (start := one.view.standing_began) is not None]
    last, newest = max(began, key=lambda pair: (pair[0], pair[1].position.tag), default=(None, None))
    rows, without, older = [], [], []
    for one in held:
        tag, session = one.position.tag, one.view.standing_session
        when = _last_final(one.view)
        if when is None or any(isinstance(one.view.ground(port), Absence) for port in one.view.ports):
            without.append(tag)
        elif last and newest and when < last and session != newest.view.standing_session:
            older.append(tag)
        rows.append((one.position.pk, tag, session or "", moment(when, zone) if when else "no final yet"))
    told = f"{newest.position.tag} in {newest.view.standing_session}" if newest else ""
    return {"sentence": words.riser_sentence(name, len(held), without, older, told), "rows": rows, "name": name}


def _last_final(view: View) -> datetime | None:
    """When the last final of the session that stands was read."""
    found = [final.when for port in view.ports for final in view.finals(port, view.standing_session)]
    return max(found, default=None)


def _spaces(building: Building, counted: Sequence[Unit], conventions: Conventions, display: str) -> list[Space]:
    """Served spaces with the sum of their sources; where a source serves others too, its share is not known."""
    of: dict[uuid.UUID, tuple[ServedSpace, list[Unit]]] = {}
    for one in counted:
        for space in one.position.spaces.all():
            of.setdefault(space.pk, (space, []))[1].append(one)
    found = []
    for space, held in sorted(of.values(), key=lambda pair: pair[0].name):
        tags = [one.position.tag for one in held]
        shared = [one.position.tag for one in held if len(one.position.spaces.all()) > 1]
        if shared:
            verb = "serves" if len(shared) == 1 else "serve"
            said = f"Not told: {listed(shared)} {verb} other spaces too, and each one's part is not known."
        else:
            total = _balance(held, "space", None, conventions)
            said = words.first_sentence(space.name, total, None, display, all_conform=False, has_units=True)
        found.append(Space(space.name, listed(tags), said))
    return found
