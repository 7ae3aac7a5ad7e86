"""Ten like units and one of another kind, all with as-left finals, and what a repeat of one of them is."""

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from commissioning.models import Sample
from commissioning.samples.draw import Terms, draw
from portfolio.models import Instrument, Position
from tests.pages import world
from tests.pages.world import World

DRAWN_AT = datetime(2026, 5, 5, 15, 0, tzinfo=UTC)
TERMS = Terms(confidence=0.80, largest_defective_share=0.50)  # of ten: 3, since C(5, 3) / C(10, 3) = 10 / 120


def built(number: int = 10) -> World:
    firm = world.found()
    for n in range(1, number + 1):
        firm.unit(f"ERV-{n}", "Sorrel Hall")
        firm.measured(f"ERV-{n}")
    firm.judged()
    return firm


def drawn(firm: World, *, seed: str = "2026-05-05 A", **terms: Any) -> Sample:
    return draw(
        project=firm.project,
        person=firm.people["lead"],
        title="Sorrel Hall",
        units=list(Position.objects.filter(building=firm.buildings["Sorrel Hall"], scope__in=Position.COUNTED)),
        terms=replace(TERMS, **terms),
        seed=seed,
        at=DRAWN_AT,
    )


def tags_of(sample: Sample, *, only_drawn: bool = True) -> list[str]:
    rows = sample.units.filter(drawn=True) if only_drawn else sample.units.all()
    return list(rows.order_by("stratum", "rank").values_list("position__tag", flat=True))


def repeated(firm: World, tag: str, flows: dict[str, float] | None = None, *, day: int = 6, **rest: Any) -> str:
    name = f"{tag} repeat on {day}"
    return firm.measured(
        tag, flows, name=name, purpose="verification", session=f"V-{day}", at=f"2026-05-{day:02}T10:15:00-06:00", **rest
    )


def another_hood(firm: World) -> Instrument:
    accuracy = {"relative": 0.03, "absolute": None, "shape": "rectangular"}
    return Instrument.objects.create(
        firm=firm.project.firm, name="Hood 7", kind="flow hood", serial="FH-700", accuracy=accuracy
    )
