"""Verification samples: look at the numbers, draw, see which units to repeat and what the result allows to say."""

import hashlib
import uuid
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse

from commissioning.dossier.procedures.show_tests import title_of
from commissioning.dossier.settings import printed
from commissioning.evidence.own_checks import catalogue_of
from commissioning.evidence.own_procedures import library_of
from commissioning.models import Sample, SampleUnit
from commissioning.samples import draw as drawing
from commissioning.samples.draw import Foreseen, NotDrawn, Terms
from commissioning.samples.of_tests import drawable
from commissioning.samples.population import MOST_UNITS, Units, counted, lying_in, part_of, stratum_in_words
from commissioning.samples.results import AGREES, DUE, Result, Unit, result_of, units_of
from portfolio.access import may
from portfolio.dashboards.page import Page, SeeOther, text_of
from portfolio.dashboards.words import MOVERS, count, listed, moment, opening, units
from portfolio.models import Building, Person, Position, Project, Site, System

USUAL = {"confidence": "95", "share": "10", "accept": "0", "seed": "", "title": "", "procedure": ""}
MOST_SAMPLES = 200
_STATES = {
    "agrees": "both finals agree",
    "differs": "differs, in dispute",
    "corrected": "differed; left anew since",
    "due": "to be repeated",
    "not_counted": "no longer counted",
}
_STATES_OF_TESTS = _STATES | {
    "agrees": "as expected",
    "differs": "not as expected",
    "corrected": "not as expected; run again since",
    "due": "to be tested",
}


@dataclass(frozen=True)
class Line:
    """A drawn unit as a row."""

    unit: Unit
    stratum: str
    state: str
    ports: str


@dataclass(frozen=True)
class Working:
    """How one stratum was drawn: enough to draw it again."""

    name: str
    plan: dict[str, Any]
    risk: str
    rows: list[tuple[int, str, str, str, bool]]  # rank, tag, id, hash, drawn


class SamplesPage(Page):
    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        project, part = self._part(pk)
        return self._show(project, part)

    def post(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        """`act` is what the pressed button says: look at the numbers, or draw."""
        project, part = self._part(pk)
        chosen = {name: _ids(request.POST.getlist(name)) for name in ("building", "system", "unit")}
        named = counted(part, buildings=chosen["building"], systems=chosen["system"], units=chosen["unit"])
        lies = part if part.buildings.issuperset(chosen["building"]) else project
        self.require("draw_sample", Units(project, frozenset(one.building_id for one in named)) if named else lies)
        title = text_of(request.POST, "title", 200)
        seed = text_of(request.POST, "seed", 100)
        try:
            terms = self._terms()
            foreseen = drawing.foresee(named, terms)
            if request.POST.get("act") != "draw":
                return self._show(project, part, foreseen=foreseen)
            if not title:
                raise NotDrawn("A sample needs a name for its population, such as the building's.")
            sample = drawing.draw(
                project=project, person=self.person, title=title, units=named, terms=terms, seed=seed, request=request
            )
        except NotDrawn as why:
            return self._show(project, part, fault=str(why), status=400)
        return SeeOther(f"/samples/{sample.pk}")

    def _part(self, pk: uuid.UUID) -> tuple[Project, Units]:
        project = self.visible(Project.objects, pk)
        part = part_of(self.person, project)
        self.require("see_samples", part)
        return project, part

    def _terms(self) -> Terms:
        typed = self.request.POST
        return Terms(
            confidence=_number(typed.get("confidence", ""), "The confidence") / 100.0,
            largest_defective_share=_number(typed.get("share", ""), "The largest defective share") / 100.0,
            accept=_whole(typed.get("accept", ""), "The number of accepted failures"),
            whole=frozenset(typed.getlist("whole")) & set(Position.Kind.values),
            central=frozenset(_ids(typed.getlist("central"))),
            procedure=text_of(typed, "procedure", 40),
        )

    def _show(
        self,
        project: Project,
        part: Units,
        *,
        foreseen: Collection[Foreseen] = (),
        fault: str = "",
        status: int = 200,
    ) -> HttpResponse:
        posted = self.request.POST
        in_part = lying_in(part).filter(scope__in=Position.COUNTED).select_related("building", "system")
        positions = list(in_part.order_by("building__name", "tag")[:MOST_UNITS])
        kinds = sorted({one.kind for one in positions})
        ticked = {name: set(posted.getlist(name)) for name in ("building", "system", "unit", "whole", "central")}
        samples = list(self.seen(Sample.objects).filter(project=project).order_by("-number")[:MOST_SAMPLES])
        standing = set(Sample.objects.standing().filter(project=project).values_list("pk", flat=True))
        buildings = Building.objects.filter(pk__in=part.buildings).order_by("name")
        systems = System.objects.filter(building__in=part.buildings).select_related("building")
        context: dict[str, Any] = {
            "here": "projects",
            "project": project,
            "sentence": _of_all(samples, len(positions)),
            "samples": [(one, one.pk in standing, _numbers(one)) for one in samples],
            "may": may(self.person, "draw_sample", part),
            "fault": fault,
            "typed": {name: posted.get(name, usual) for name, usual in USUAL.items()},
            "buildings": [(one, str(one.pk) in ticked["building"]) for one in buildings],
            "systems": [(one, str(one.pk) in ticked["system"]) for one in systems.order_by("building__name", "name")],
            "units": [(one, str(one.pk) in ticked["unit"]) for one in positions],
            "kinds": [(kind, Position.Kind(kind).label, kind in ticked["whole"]) for kind in kinds],
            "central": [(one, str(one.pk) in ticked["central"]) for one in positions],
            "procedures": [
                (code, one.title, code == posted.get("procedure")) for code, one in drawable(project.pk).items()
            ],
            "foreseen": [(stratum_in_words(one.stratum), one, _points(one)) for one in foreseen],
            "total": sum(one.sample for one in foreseen),
        }
        return self.show("commissioning/samples.html", context, status=status)


class SamplePage(Page):
    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        return self._show(self._sample(pk))

    def post(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        """Draw more of the same order."""
        sample = self._sample(pk)
        self.require("draw_sample", sample)
        try:
            more = drawing.enlarge(sample=sample, person=self.person, request=request)
        except NotDrawn as why:
            return self._show(sample, fault=str(why), status=409)
        return SeeOther(f"/samples/{more.pk}")

    def _sample(self, pk: uuid.UUID) -> Sample:
        return self.visible(Sample.objects.select_related("project", "first", "drawn_by"), pk)

    def _show(self, sample: Sample, *, fault: str = "", status: int = 200) -> HttpResponse:
        result = result_of(sample)
        told = bool(may(self.person, "see_sample_results", sample))
        site = Site.objects.filter(project=sample.project_id).order_by("name").first()
        chain = list(self.seen(Sample.objects).filter(project=sample.project_id, first=sample.first_id or sample.pk))
        later = [one for one in chain if one.enlargement > sample.enlargement]
        is_last = not later
        words = catalogue_of(sample.project_id).words
        context: dict[str, Any] = {
            "here": "projects",
            "sample": sample,
            "told": told,
            "is_last": is_last,
            "sentence": _due_sentence(result, "tested" if sample.procedure else "repeated"),
            "strata": [(stratum_in_words(one.stratum), one, MOVERS.get(one.mover, "")) for one in result.strata],
            "enlarged_and_not_whole": any(
                one.enlargements and one.said and one.said.not_repeated for one in result.strata
            ),
            "later": max(later, key=lambda one: one.enlargement, default=None),
            "earlier": [f"{one.number}" for one in drawing.earlier_of_the_same(sample)],
            "may_enlarge": is_last and result.may_enlarge and bool(may(self.person, "draw_sample", sample)),
            "procedure": _title(sample) if sample.procedure else "",
            "alike": [
                (stratum_in_words(one["stratum"]), _in_common(one["alike"], words.options))
                for one in sample.strata
                if "alike" in one
            ],
            "lines": [
                _line(one, told=told, of_tests=bool(sample.procedure)) for one in sorted(result.units, key=_by_place)
            ],
            "drawn_at": moment(sample.drawn_at, site.time_zone if site else "UTC"),
            "workings": _workings(sample),
            "same_again": drawing.is_drawn_again_the_same(sample),
            "confidence": _percent(sample.plan["confidence"]),
            "share": _percent(sample.plan["largest_defective_share"]),
            "fault": fault,
        }
        return self.show("commissioning/sample.html", context, status=status)


def line_on_unit(unit: Position, person: Person) -> list[tuple[Sample, str]]:
    """The samples in which a unit is drawn, for its page: to be verified, or repeated already."""
    seen = Sample.objects.visible_to(person).standing()
    rows = list(
        SampleUnit.objects.filter(position=unit, drawn=True, sample__in=seen.values("pk"))
        .select_related("sample__first", "position__building__site")
        .order_by("sample__number")
    )
    found = []
    for row in rows:
        first = row.sample.first or row.sample
        procedure = row.sample.procedure
        (where,) = units_of([row], first.drawn_at, procedure)
        due, done = ("To be verified", "Repeated")
        if procedure:
            due, done = (f"{_title(row.sample)}: {word}" for word in ("to be tested", "tested"))
        found.append((row.sample, due if where.code == DUE else done))
    return found


def _title(sample: Sample) -> str:
    return title_of(sample.procedure, library_of(sample.project_id))


def _in_common(like: Mapping[str, Any], known: Mapping[str, str]) -> str:
    """What the units of a group have in common, beside their kind."""
    options = [known.get(code, code) for code in like["options"]]
    held = [f"{printed.title_of(code)} {printed.value(code, one, 'si')}" for code, one in like["settings"].items()]
    read = f"settings: {'; '.join(held)}" if held else "none of the settings it depends on is read"
    return f"{listed(options) or 'no options'}; {read}"


def _line(one: Unit, *, told: bool, of_tests: bool) -> Line:
    if of_tests:
        why = "; ".join(port.why for port in one.ports if port.why)
        is_told = told or one.code in ("due", "not_counted")
        return Line(one, stratum_in_words(one.stratum), _STATES_OF_TESTS[one.code] if is_told else "tested", why)
    due = [port.port for port in one.ports if port.code == DUE]
    if told:
        return Line(one, stratum_in_words(one.stratum), _STATES[one.code], _ports_in_words(one))
    state = "to be repeated" if one.is_due else _STATES["not_counted"] if one.code == "not_counted" else "repeated"
    return Line(one, stratum_in_words(one.stratum), state, f"{listed(due)} due" if due and one.is_due else "")


def _ports_in_words(one: Unit) -> str:
    """What is to be said of the ports that do not agree, each reason once."""
    said: dict[str, list[str]] = {}
    for port in one.ports:
        if port.code != AGREES:
            said.setdefault(port.why or _STATES[port.code], []).append(port.port)
    return "; ".join(f"{listed(ports)}: {why}" for why, ports in said.items())


def _by_place(one: Unit) -> tuple[str, str]:
    return one.position.building.name, one.position.tag


def _due_sentence(result: Result, done: str) -> str:
    """What is left to do; what the result says to whom stands below, for whom it is."""
    still = [one for one in result.units if one.code != "not_counted"]
    due = sum(one.is_due for one in still)
    drawn = f"{count(len(still))} drawn {units(len(still))}"
    if not due:
        return f"The one drawn unit is {done}." if len(still) == 1 else f"All {drawn} are {done}."
    are = "is" if due == 1 else "are"
    return opening(f"{count(due)} of {drawn} {are} to be {done}, by a technician.")


def _of_all(samples: Collection[Sample], population: int) -> str:
    if not samples:
        return f"No sample is drawn of the {count(population)} counted {units(population)} yet."
    are = "sample is" if len(samples) == 1 else "samples are"
    return opening(f"{count(len(samples))} {are} drawn; {count(population)} {units(population)} are counted.")


def _numbers(sample: Sample) -> str:
    parts = [f"{stratum_in_words(one['stratum'])} {one['sample']} of {one['population']}" for one in sample.strata]
    return "; ".join(parts)


def _points(one: Foreseen) -> list[tuple[int, str, str]]:
    return [
        (point.defective, _percent(point.defective / one.population), _percent(point.acceptance_probability))
        for point in one.points
    ]


def _workings(sample: Sample) -> list[Working]:
    rows: dict[str, list[tuple[int, str, str, str, bool]]] = {}
    names = ("stratum", "rank", "position__tag", "position", "drawn")
    for stratum, rank, tag, position, drawn in sample.units.order_by("stratum", "rank").values_list(*names):
        digest = hashlib.sha256(f"{sample.seed}{position}".encode()).hexdigest()
        rows.setdefault(stratum, []).append((rank, tag, str(position), digest[:16], drawn))
    return [
        Working(
            stratum_in_words(one["stratum"]),
            one,
            "" if one["acceptance_probability"] is None else f"{one['acceptance_probability']:.4f}",
            rows.get(one["stratum"], []),
        )
        for one in sample.strata
    ]


def _percent(share: float) -> str:
    return f"{100.0 * share:.3g} %"


def _number(text: str, what: str) -> float:
    try:
        return float(text.strip().replace(",", "."))
    except ValueError:
        raise NotDrawn(f"{what} is not a number: {text!r}.") from None


def _whole(text: str, what: str) -> int:
    try:
        return int(text.strip() or "0")
    except ValueError:
        raise NotDrawn(f"{what} is not a whole number: {text!r}.") from None


def _ids(texts: list[str]) -> list[uuid.UUID]:
    found = []
    for text in texts[:MOST_UNITS]:
        try:
            found.append(uuid.UUID(text))
        except ValueError:
            continue
    return found
