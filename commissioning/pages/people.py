"""What is kept names people by their id; a page says who they are."""

from typing import Any

from commissioning.dossier.settings.words import named, people_in
from portfolio.models import Person


def with_names(told: Any) -> Any:
    """The same plain JSON with the names of the people in it; asks the database only where somebody is in it."""
    ids = people_in(str(told))
    if not ids:
        return told
    names = {str(pk): name for pk, name in Person.objects.filter(pk__in=ids).values_list("pk", "name")}
    return named(told, {id: names.get(id, "somebody no longer named") for id in ids})
