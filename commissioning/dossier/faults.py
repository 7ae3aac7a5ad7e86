"""What validation found, in our words: a pointer into what was given, the value there, the reason, what to do."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from pydantic import ValidationError

from commissioning.dossier.problem import Problem, pointer_of, shown

CONFIDENTIAL = "confidential"
"""The kind of fault of a password, a code of entry or a key: what holds one is not kept, and it is not shown again."""

_CORRECT = "Correct it; docs/schemas says what may stand here."
_DATES = frozenset({"date_type", "date_parsing", "date_from_datetime_parsing", "date_from_datetime_inexact"})
_MOMENTS = frozenset(
    {"datetime_type", "datetime_parsing", "datetime_object_invalid", "datetime_from_date_parsing", "timezone_aware"}
)

# By the kind of fault: the reason and the remedy; braces are filled from what the fault says of itself.
_WORDS: dict[str, tuple[str, str]] = {
    "missing": ("This field is missing.", "Add it."),
    "extra_forbidden": ("There is no such field.", "Remove it, or see docs/schemas for its name."),
    "invalid_key": ("A field's name has to be a text.", _CORRECT),
    "float_type": ("This is no number.", "Send a bare number, without quotes."),
    "finite_number": ("This is no finite number.", "Send a number, or leave it out."),
    "int_type": ("This is no whole number.", "Send a bare whole number."),
    "bool_type": ("This is neither true nor false.", "Send true or false."),
    "string_type": ("This is no text.", "Send it in quotes."),
    "list_type": ("This is no list.", "Send a list, also for a single one."),
    "dict_type": ("This is no object.", "Send an object."),
    "model_type": ("This is no object.", "Send an object."),
    "model_attributes_type": ("This is no object.", "Send an object."),
    "uuid_type": ("This is no id.", "Send a UUID."),
    "uuid_parsing": ("This is no id.", "Send a UUID."),
    "literal_error": ("This word is not known here.", "Use one of: {expected}."),
    "union_tag_invalid": ("This word is not known here: {tag}.", "Use one of: {expected_tags}."),
    "union_tag_not_found": ("It is not said which one this is.", "Add the field {discriminator}."),
    "too_short": ("There must be at least {min_length}.", "Add what is missing."),
    "too_long": ("There may be at most {max_length}.", "Send the rest by itself."),
    "string_too_short": ("This text needs at least {min_length} characters.", "Say more."),
    "string_too_long": ("This text may have at most {max_length} characters.", "Shorten it."),
    "string_pattern_mismatch": ("This text does not have the form asked for.", _CORRECT),
    "greater_than": ("This must lie above {gt}.", "Correct the value."),
    "greater_than_equal": ("This must be at least {ge}.", "Correct the value."),
    "less_than": ("This must lie below {lt}.", "Correct the value."),
    "less_than_equal": ("This must be at most {le}.", "Correct the value."),
    "timezone_naive": ("This has an offset from UTC.", "Send what the clock shows, like 2026-05-04T10:15:00."),
    "timezone_aware": ("The offset from UTC is missing.", "Send like 2026-05-04T10:15:00-05:00."),
}


def problems_of(error: ValidationError, given: Any, above: Sequence[str | int] = ()) -> list[Problem]:
    """One problem for each fault of a validation, in the order of the fields."""
    found = []
    for one in error.errors(include_url=False):
        code = one["type"]
        path = _path(one["loc"], given, is_missing=code == "missing")
        reason, remedy = _words(code, one["msg"], one.get("ctx", {}))
        value = None if code == "missing" else one["input"]
        told = "(not shown)" if code == CONFIDENTIAL else shown(value)
        found.append(Problem(pointer_of((*above, *path)), told, reason, remedy))
    return found


def _words(code: str, message: str, context: Mapping[str, Any]) -> tuple[str, str]:
    if code in _WORDS:
        reason, remedy = _WORDS[code]
        return reason.format_map(context), remedy.format_map(context)
    if code in _MOMENTS:
        return "This is no moment in time.", "Send like 2026-05-04T10:15:00-05:00."
    if code in _DATES:
        return "This is no date.", "Send like 2026-05-04."
    text = message.removeprefix("Value error, ").rstrip(".")
    remedy = context.get("remedy") or ("Correct the value or its unit." if code == "value_error" else _CORRECT)
    return f"{text[0].upper()}{text[1:]}.", remedy


def _path(loc: Iterable[str | int], given: Any, *, is_missing: bool) -> tuple[str | int, ...]:
    """The steps of `loc` that lead somewhere in what was given: the names of a union's members are no steps."""
    steps = list(loc)
    path: list[str | int] = []
    here = given
    for index, step in enumerate(steps):
        inside = (isinstance(here, Mapping) and step in here) or (
            isinstance(here, list) and isinstance(step, int) and step < len(here)
        )
        if inside:
            here = here[step]
            path.append(step)
        elif is_missing and index == len(steps) - 1:
            path.append(step)
    return tuple(path)
