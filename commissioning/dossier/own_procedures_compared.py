"""What a version of a firm's own procedures changes against the one before it, in rows for whoever looks first."""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.catalogue.procedures import LIBRARY, Library, Procedure
from commissioning.dossier.own_procedures import merged

Row = tuple[str, str, str]  # the procedure, or the step of one; what becomes of it; in words


def compared(before: Mapping[str, Any], after: Mapping[str, Any]) -> list[Row]:
    """Both as documents without a number. What is as it was in the catalogue is not listed."""
    held, made = (merged({**document, "version": 1}) for document in (before, after))
    return [*_own(held, made), *_reworded(held, made)]


def as_in_the_catalogue(after: Mapping[str, Any]) -> int:
    made = merged({**after, "version": 1})
    return sum(made.procedures[code] == one for code, one in LIBRARY.procedures.items())


def _own(held: Library, made: Library) -> Iterator[Row]:
    for code in [*made.procedures, *(code for code in held.procedures if code not in made.procedures)]:
        was, now = held.procedures.get(code), made.procedures.get(code)
        if code in LIBRARY.procedures:
            continue
        if now is None:
            yield code, "left out", was.title if was else ""
        else:
            yield code, "added" if was is None else "unchanged" if was == now else "changed", _in_words(now)


def _in_words(procedure: Procedure) -> str:
    asked = sum(not step.retired for step in procedure.steps)
    return f"{procedure.title}: {asked} steps, version {procedure.version}"


def _reworded(held: Library, made: Library) -> Iterator[Row]:
    for code, one in LIBRARY.procedures.items():
        for step in one.steps:
            was, now = (library.procedures[code].by_id[step.id] for library in (held, made))
            if now == was == step:
                continue
            said = "unchanged" if now == was else "put back" if now == step else "reworded"
            yield f"{code}, {step.id}", said, f"{now.do} {now.expect}"
