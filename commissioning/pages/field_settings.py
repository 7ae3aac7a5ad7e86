"""The settings form: the fifteen that matter most on one screen of a phone, what was seen just then, the rest folded.

What is left empty was not read; nothing is sent of it.
"""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from commissioning.dossier.given import INCH_OF_WATER_PA
from commissioning.dossier.procedures import show_tests
from commissioning.dossier.settings import printed
from commissioning.dossier.settings.catalogue import CATALOGUE, Plain, Setting, value_of
from commissioning.dossier.settings.compare import changes, in_both
from commissioning.dossier.settings.show_behaviour import CAUTION
from commissioning.engineering import units
from commissioning.kinds.settings.payload import SettingsPayload
from commissioning.models import JudgedPosition
from commissioning.pages.field_page import RecordPage, measured_before
from commissioning.pages.field_photos import PHOTO, hash_in, photo_of
from commissioning.pages.field_sheet import NotReadable, Sheet
from commissioning.verdicts.dossiers import conventions_of
from commissioning.verdicts.planned_tests import AT_THE_UNIT
from portfolio.dashboards.words import listed
from portfolio.models import Position

MOMENTS = {"as_found": "found so", "as_left": "left so", "as_ordered": "ordered so", "follow_up": "seen so later"}
SEEN = {
    "power": ("Power", ("on", "off")),
    "smoke": ("Smoke or fire alarm input", ("clear", "tripped")),
    "frost": ("Frost trip", ("clear", "tripped")),
    "safeties": ("Other safeties", ("clear", "tripped")),
    "contact": ("External contact", ("closed", "open")),
    "network_command": ("Network's run command", ("on", "off")),
}
CLOCKS = {"controller_time": "The controller shows", "true_time": "Your watch shows"}
YES_NO = (("yes", "yes"), ("no", "no"))


@dataclass(frozen=True)
class Line:
    """One setting to be typed or chosen, with what was read before."""

    name: str
    label: str
    held: str
    before: str = ""
    unit: str = ""
    signed: bool = False
    options: tuple[tuple[str, str], ...] = ()
    is_number: bool = False


class SettingsPage(RecordPage):
    kind = "settings"
    template = "commissioning/field_settings.html"

    def photos(self, sheet: Sheet) -> list[dict[str, str]]:
        held = [photo_of(sheet, name) for name in sheet.typed if name.startswith(PHOTO)]
        return [{"sha256": one, "caption": ""} for one in held if one]

    def readings(self, sheet: Sheet) -> dict[str, Any]:
        read = {code: _read(sheet, setting) for code, setting in CATALOGUE.settings.items()}
        values = {code: value for code, value in read.items() if value is not None}
        if not values:
            raise NotReadable(_name(CATALOGUE.first[0]), "", "No setting is filled in.", "Fill in what you read.")
        moment = sheet.text("moment")
        if moment not in MOMENTS:
            raise NotReadable("moment", moment, "It is not said of which moment this is.", "Choose found or left.")
        winter = sheet.quantity("winter", sheet.unit("temperature"))
        return {
            "moment": moment,
            "controller": sheet.text("controller"),
            "values": values,
            "now": {name: held for name in SEEN if (held := sheet.text(f"now-{name}"))},
            **({"winter_design_temperature": winter} if winter else {}),
            **_clock(sheet),
        }

    def follows(self, unit: Position, raw: bytes) -> str:
        """Which functional tests a changed setting makes due again: of those that were run here."""
        payload = SettingsPayload.model_validate(json.loads(raw)["payload"])
        if payload.moment not in AT_THE_UNIT:
            return ""
        held = JudgedPosition.objects.filter(pk=unit.pk).values_list("measurements", flat=True).first() or []
        before: dict[str, Plain] = {}
        for one in held:
            if one["kind"] == self.kind and one["facts"]["moment"] in AT_THE_UNIT:
                before |= one["facts"]["values"]
        project = unit.building.site.project_id
        inch = INCH_OF_WATER_PA[conventions_of({project})[project].get("inch_of_water", "4degC")]
        after = {
            code: value_of(CATALOGUE.settings[code], given, inch_of_water_pa=inch)
            for code, given in payload.values.items()
        }
        due = show_tests.to_run_again(held, [one.code for one in in_both(changes(before, after))])
        return f"Run again, for a changed setting: {listed(due)}." if due else ""

    def asked(self, unit: Position, display: str, typed: Mapping[str, str]) -> dict[str, Any]:
        earlier = measured_before(unit, self.kind)
        before: Mapping[str, Plain] = earlier[-1]["facts"]["values"] if earlier else {}
        rest = [one for one in CATALOGUE.settings.values() if not one.first]
        groups = {title: [one for one in rest if one.group == group] for group, title in CATALOGUE.groups.items()}
        return {
            "caution": CAUTION,
            "moments": MOMENTS.items(),
            "kept": [(name, held) for name in typed if name.startswith(PHOTO) and (held := hash_in(typed, name))],
            "first": list(_lines(CATALOGUE.first, before, display, typed)),
            "clocks": [(name, words, typed.get(name, "")) for name, words in CLOCKS.items()],
            "seen": [_seen_line(name, typed) for name in SEEN],
            "groups": [
                (title, list(_lines(held, before, display, typed)), any(typed.get(_name(one)) for one in held))
                for title, held in groups.items()
                if held
            ],
        }


def _name(setting: Setting) -> str:
    return f"set-{setting.code}"


# What is asked


def _lines(
    settings: Iterable[Setting], before: Mapping[str, Plain], display: str, typed: Mapping[str, str]
) -> Iterable[Line]:
    for one in settings:
        unit = printed.unit_of(one.code, display)
        yield Line(
            name=_name(one),
            label=one.title,
            held=typed.get(_name(one), ""),
            before=printed.value(one.code, before[one.code], display) if one.code in before else "",
            unit=units.unit(unit).label if unit else "",
            signed=one.least < 0.0,
            options=_options(one),
            is_number=one.kind in ("quantity", "number", "whole"),
        )


def _options(setting: Setting) -> tuple[tuple[str, str], ...]:
    if setting.kind == "yes_no":
        return YES_NO
    return tuple((choice, printed.words(choice)) for choice in setting.choices)


def _seen_line(name: str, typed: Mapping[str, str]) -> Line:
    label, words = SEEN[name]
    return Line(f"now-{name}", label, typed.get(f"now-{name}", ""), options=tuple((word, word) for word in words))


# What is read


def _read(sheet: Sheet, setting: Setting) -> Any:
    name = _name(setting)
    if setting.kind == "quantity":
        return sheet.quantity(name, printed.unit_of(setting.code, sheet.display))
    if setting.kind in ("number", "whole"):
        value = sheet.number(name)
        return int(value) if value is not None and setting.kind == "whole" and value.is_integer() else value
    text = sheet.text(name)
    if setting.kind == "yes_no":
        return {"yes": True, "no": False}.get(text)
    return text or None


def _clock(sheet: Sheet) -> dict[str, str]:
    """What the controller's clock shows and what a watch showed just then: one without the other says nothing."""
    shown, watch = (_moment(sheet, name) for name in CLOCKS)
    if shown is None and watch is None:
        return {}
    for name, held in zip(CLOCKS, (shown, watch), strict=True):
        if held is None:
            raise NotReadable(name, "", "One of the two clocks is missing.", "Read both at one moment, or neither.")
    assert shown is not None
    assert watch is not None
    zone = datetime.fromisoformat(sheet.observed_at).tzinfo
    return {"controller_time": shown.isoformat(), "true_time": watch.replace(tzinfo=zone).isoformat()}


def _moment(sheet: Sheet, name: str) -> datetime | None:
    text = sheet.text(name)
    if not text:
        return None
    try:
        return datetime.fromisoformat(text).replace(tzinfo=None)
    except ValueError:
        raise NotReadable(name, text, "This is no date and time.", "Type it like 2026-05-04T10:15.") from None
