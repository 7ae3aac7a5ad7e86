"""What is still to be repeated for the samples that a person sees: for the work list of those who go there."""

from collections.abc import Callable

from commissioning.models import Sample
from commissioning.samples.results import Unit, result_of
from portfolio.models import Person

MOST_SAMPLES = 10  # the newest; three queries each, and one in all where none is drawn


def due_to(person: Person, is_asked: Callable[[Unit], bool]) -> list[tuple[Sample, list[Unit]]]:
    """By sample, the oldest first, its units that are due and asked for; samples without any are left out."""
    newest = Sample.objects.visible_to(person).standing().select_related("first").order_by("-drawn_at", "-number")
    found = []
    for sample in reversed(newest[:MOST_SAMPLES]):
        due = [one for one in result_of(sample).units if one.is_due and is_asked(one)]
        if due:
            found.append((sample, sorted(due, key=_by_place)))
    return found


def _by_place(one: Unit) -> tuple[str, str]:
    return one.position.building.name, one.position.tag
