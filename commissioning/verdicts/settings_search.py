"""Units found by what their controllers are set to: setting, comparison, value.

Reads `SettingsNow` and, by an index of setting and value, the one `SettingValue` of each unit that is asked for.
"""

from collections import Counter
from dataclasses import dataclass
from typing import Any, Literal, get_args

from django.db.models import Count, F, FilteredRelation, Q

from commissioning.dossier.settings import printed
from commissioning.dossier.settings.catalogue import CATALOGUE, NotASetting, Plain, Setting, value_of
from commissioning.engineering import units
from commissioning.models.settings import SettingsNow, SettingsNowQuerySet
from commissioning.verdicts.settings_now import in_columns
from portfolio.models import Building, Person

How = Literal["below", "above", "equal", "other", "read", "not_read"]
HOWS: tuple[How, ...] = get_args(How)
IN_WORDS: dict[How, str] = {
    "below": "below",
    "above": "above",
    "equal": "equal to",
    "other": "other than",
    "read": "read, whatever it is",
    "not_read": "not read",
}
SAME = 1e-3
"""Quantities within a thousandth are equal: what was set in another unit is seldom the very same number."""


class NotAsked(ValueError):
    """A question that cannot be answered: which part of it, what stood there, why, and what to do."""

    def __init__(self, name: str, value: str, reason: str, remedy: str) -> None:
        super().__init__(f"{reason} {remedy}")
        self.name, self.value, self.reason, self.remedy = name, value, reason, remedy


@dataclass(frozen=True)
class Question:
    """`value` is in SI, as it is kept."""

    setting: Setting
    how: How
    value: Plain | None = None

    def words(self, display: str) -> str:
        """
        >>> question("supply_minimum_airflow", "below", "300", "cfm").words("ip")
        'Supply minimum airflow below 300 cfm'
        >>> question("enabling", "other", "schedule").words("ip"), question("frost_limit", "not_read").words("si")
        ('Enabled by: other than schedule', 'Frost limit not read')
        >>> question("option_heating", "equal", "yes").words("si")
        'Heating: yes'
        """
        if self.value is None:
            return f"{self.setting.title} {self.how.replace('_', ' ')}"
        value = printed.value(self.setting.code, self.value, display)
        if not isinstance(self.value, str | bool):
            return f"{self.setting.title} {IN_WORDS[self.how]} {value}"
        return f"{self.setting.title}: {'' if self.how == 'equal' else 'other than '}{value}"


def question(code: str, how: str, value: str = "", unit: str = "", *, display: str = "") -> Question:
    """What is asked, or NotAsked. A number without a unit is in that of the display, where one is named."""
    setting = CATALOGUE.settings.get(code)
    if setting is None:
        near = CATALOGUE.nearest(code)
        raise NotAsked(
            "setting", code, "No setting has this name.", f"Perhaps it is {near}." if near else "Choose one."
        )
    if how not in HOWS:
        raise NotAsked("is", how, "There is no such comparison.", f"Use one of: {', '.join(HOWS)}.")
    if how in ("read", "not_read"):
        return Question(setting, how)
    is_number = setting.kind in ("quantity", "number", "whole")
    if how in ("below", "above") and not is_number:
        raise NotAsked("is", how, f"{setting.title} is no number.", "Ask for equal or other.")
    if not value.strip():
        raise NotAsked("value", "", "There is nothing to compare with.", "Give a value.")
    return Question(setting, how, _number(setting, value, unit, display) if is_number else _word(setting, value))


def found(person: Person, asked: Question) -> SettingsNowQuerySet:
    """Of the units that the person may see; what was asked for stands in `number` and `word`, see `held`."""
    named: dict[str, Any] = {"number": F("one__number"), "word": F("one__word")}
    return _with_value(seen(person), asked.setting).filter(_condition(asked)).annotate(**named)


def held(row: Any, setting: Setting) -> Plain | None:
    """What a found row has; None where it was not read."""
    if row.number is not None:
        return float(row.number)
    if setting.kind == "yes_no" and row.word:
        return bool(row.word == "yes")
    return row.word or None


def seen(person: Person) -> SettingsNowQuerySet:
    buildings = Building.objects.visible_to(person).values("pk")
    return SettingsNow.objects.filter(position__building__in=buildings)


def counted(rows: SettingsNowQuerySet, setting: Setting) -> Counter[str]:
    """How many units have which word of a choice, or yes or no; '' is not read."""
    words: Any = _with_value(rows, setting).order_by()
    counts = words.values_list("one__word").annotate(n=Count("pk"))
    return Counter({word or "": n for word, n in counts})


def _with_value(rows: SettingsNowQuerySet, setting: Setting) -> SettingsNowQuerySet:
    return rows.annotate(one=FilteredRelation("held", condition=Q(held__code=setting.code)))


def _number(setting: Setting, text: str, unit: str, display: str) -> Plain:
    try:
        number = float(text.strip().replace(",", "."))
    except ValueError:
        raise NotAsked("value", text[:80], "This is no number.", "Type digits, without thousands separators.") from None
    if setting.kind != "quantity":
        return _checked(setting, int(number) if number.is_integer() else number, text)
    usual = printed.unit_of(setting.code, display) if display else ""
    known = units.recognise(unit or usual, quantity=setting.quantity)
    if known is None:
        fits = ", ".join(units.codes_of(setting.quantity))
        reason = f"This is no unit of {setting.quantity}." if unit else "The unit is missing."
        raise NotAsked("unit", unit[:40], reason, f"Use one of: {fits}.")
    return _checked(setting, {"value": number, "unit": known.code}, text)


def _checked(setting: Setting, given: object, text: str) -> Plain:
    try:
        return value_of(setting, given)
    except NotASetting as no:
        raise NotAsked("value", text[:80], f"{str(no)[:1].upper()}{str(no)[1:]}.", no.remedy) from None


def _word(setting: Setting, text: str) -> Plain:
    folded = text.strip().casefold()
    if setting.kind == "text":
        return text.strip()[:200]
    if setting.kind == "yes_no":
        known: dict[str, Plain] = {"yes": True, "true": True, "no": False, "false": False}
    else:
        known = {choice: choice for choice in setting.choices}
        known |= {printed.words(choice).casefold(): choice for choice in setting.choices}
    if folded not in known:
        words = ", ".join(("yes", "no") if setting.kind == "yes_no" else setting.choices)
        raise NotAsked("value", text[:80], f"{setting.title} is never this.", f"Use one of: {words}.")
    return known[folded]


def _condition(asked: Question) -> Q:
    if asked.how in ("read", "not_read"):
        return Q(one__isnull=asked.how == "not_read")
    if asked.how in ("below", "above"):
        return Q(**{f"one__number__{'lt' if asked.how == 'below' else 'gt'}": asked.value})
    return _equal(asked) if asked.how == "equal" else Q(one__isnull=False) & ~_equal(asked)


def _equal(asked: Question) -> Q:
    assert asked.value is not None
    number, word = in_columns(asked.value)
    if number is None:
        return Q(one__word=word)
    slack = max(SAME * abs(number), 1e-9) if asked.setting.kind == "quantity" else 0.0
    return Q(one__number__gte=number - slack, one__number__lte=number + slack)
