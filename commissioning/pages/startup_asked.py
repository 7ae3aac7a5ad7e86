"""What the start's form asks, section by section in the order of the work, with the cautions before each step."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from commissioning.catalogue.units import VOCABULARY, Hazard
from commissioning.dossier.startup import words
from commissioning.engineering import units
from commissioning.pages.field_photos import hash_in
from commissioning.pages.field_sheet import UNITS

FANS = ("supply", "exhaust")
_BY_DESIGN = {"outdoor_damper": "outdoor", "exhaust_damper": "exhaust"}
PHOTOS = {
    "photo-before": "Before the start",
    **{f"photo-{damper}_damper": title for damper, title in words.DAMPERS.items()},
    **{f"photo-{fan}_fan": f"{fan.capitalize()} fan" for fan in FANS},
    "photo-cause": "It does not run",
    "photo-temporary": "Temporary operation",
}
"""The photos that may go with a start, by the field that takes one, and what each is of."""
_PHOTO_OF = {title: name for name, title in PHOTOS.items()}
MOST_LOSSES = 50  # of a fan, as a record takes them
_USUAL_LOSSES = 2
_LOSS = re.compile(r"(\w+)-(?:lost|lasted|alarm|lost_of|purpose)-([1-9]\d{0,2})")


@dataclass(frozen=True)
class Box:
    """A number, a date or a text to be typed."""

    name: str
    label: str
    held: str
    unit: str = ""
    takes: str = "number"  # or text, date


@dataclass(frozen=True)
class Choice:
    """One word of a few; nothing is chosen beforehand."""

    name: str
    legend: str
    options: tuple[tuple[str, str], ...]
    held: str
    takes: str = "choice"  # or list, where they are many


@dataclass(frozen=True)
class Section:
    title: str
    items: tuple[Box | Choice, ...]
    hint: str = ""
    hazards: tuple[Hazard, ...] = ()
    is_folded: bool = False
    photo: str = ""  # the field that takes one
    photo_held: str = ""
    more: str = ""  # the fan of which another loss can be asked for
    losses: int = 0
    is_asked: bool = False  # a line was asked for just now

    @property
    def is_open(self) -> bool:
        return self.is_asked or bool(self.photo_held) or any(one.held for one in self.items)


def sections(design: Mapping[str, Any], display: str, typed: Mapping[str, str]) -> list[Section]:
    asked = _Asked(display, typed)
    dampers, others = _dampers_of(design)
    fans = _fans_of(design)
    hazards = VOCABULARY.hazards
    made = [
        Section("Before the start", tuple(asked.permissives()), "What is jumpered or bypassed is missing."),
        *(
            Section(words.DAMPERS[one], tuple(asked.damper(one)), _WATCH, (hazards["moving_blades"],))
            for one in dampers
        ),
        *(
            Section(f"{fan.capitalize()} fan", tuple(asked.fan(fan)), _PROOF, (hazards["rotating_parts"],))
            for fan in fans
        ),
        Section("It does not run", tuple(asked.not_running()), "Only where it stands.", is_folded=True),
        *(
            Section(f"{fan.capitalize()} fan, after settling", tuple(asked.settled(fan)), is_folded=True)
            for fan in fans
        ),
        *(
            Section(f"{fan.capitalize()} fan, proof lost", tuple(asked.losses(fan)), _LOST, is_folded=True, more=fan)
            for fan in fans
        ),
        Section("The stop", tuple(asked.stop(dampers, fans)), "Seconds from the stop command.", is_folded=True),
        *(Section(words.DAMPERS[one], tuple(asked.damper(one)), _WATCH, is_folded=True) for one in others),
        Section("Delays that a document gives", tuple(asked.delays()), _DELAYS, is_folded=True),
        Section("Temporary operation", tuple(asked.temporary()), _TEMPORARY, is_folded=True),
    ]
    return [_with_state(one, typed) for one in made]


def _with_state(one: Section, typed: Mapping[str, str]) -> Section:
    """With the photo that it takes, what of it is kept, and whether a line was just asked for."""
    photo = _PHOTO_OF.get(one.title, "")
    is_asked = bool(one.more) and typed.get("more") == one.more
    losses = len(losses_asked(typed, one.more)) if one.more else 0
    return replace(one, photo=photo, photo_held=hash_in(typed, photo), losses=losses, is_asked=is_asked)


def losses_asked(typed: Mapping[str, str], fan: str) -> range:
    """The numbers of the losses of proof that the form asks for: the usual ones, one more whenever it was asked for.

    >>> list(losses_asked({"supply-losses": "3"}, "supply")), list(losses_asked({"supply-lost-4": "61"}, "supply"))
    ([1, 2, 3], [1, 2, 3, 4])
    """
    kept = typed.get(f"{fan}-losses", "")
    asked = min(int(kept), MOST_LOSSES) if re.fullmatch(r"\d{1,3}", kept) else _USUAL_LOSSES
    named = [int(found[2]) for name in typed if (found := _LOSS.fullmatch(name)) and found[1] == fan and typed[name]]
    return range(1, max(_USUAL_LOSSES, asked, *named) + 1)


def with_another_loss(typed: Mapping[str, str]) -> dict[str, str]:
    """As it was typed, with one line more for the fan that `more` names, as far as a record takes them."""
    fan = typed.get("more", "")
    if fan not in FANS:
        return dict(typed)
    return {**typed, f"{fan}-losses": str(min(len(losses_asked(typed, fan)) + 1, MOST_LOSSES))}


_WATCH = "Start the stopwatch with the start command; type the seconds that it shows."
_PROOF = "A command is no proof, a current neither: see that air moves, and which way it turns."
_LOST = "A short loss inside its delay is logged and fails nothing. Without a length it did not come back."
_DELAYS = "Left empty, the delays of the controller's settings count."
_TEMPORARY = "A unit that runs before it is commissioned. No reading of that time is final."


def _dampers_of(design: Mapping[str, Any]) -> tuple[list[str], list[str]]:
    """Those that the design lists, both outer ones where it lists nothing; then the others."""
    listed = ((design.get("equipment") or {}).get("unit") or {}).get("options")
    first = [name for option, name in _BY_DESIGN.items() if listed is None or option in listed]
    return first, [name for name in words.DAMPERS if name not in first]


def _fans_of(design: Mapping[str, Any]) -> list[str]:
    found = [fan for fan in FANS if fan in (design.get("fans") or {})]
    return found or list(FANS)


@dataclass(frozen=True)
class _Asked:
    display: str
    typed: Mapping[str, str]

    def box(self, name: str, label: str, unit: str = "s", takes: str = "number") -> Box:
        return Box(name, label, self.typed.get(name, ""), unit, takes)

    def choice(self, name: str, legend: str, options: Mapping[str, str], left_open: str = "not seen") -> Choice:
        """Ticks; the last one sends nothing."""
        return Choice(name, legend, (*options.items(), ("", left_open)), self.typed.get(name, ""))

    def listed(self, name: str, legend: str, options: Mapping[str, str]) -> Choice:
        return Choice(name, legend, tuple(options.items()), self.typed.get(name, ""), "list")

    def unit(self, quantity: str) -> str:
        return units.unit(UNITS[quantity][self.display]).label

    def permissives(self) -> Iterator[Box | Choice]:
        seen = {"given": "given", "missing": "missing", "not_applicable": "n/a"}  # on one line of a phone
        for name, title in words.PERMISSIVES.items():
            yield self.choice(f"permissive-{name}", title, seen)

    def damper(self, damper: str) -> Iterator[Box | Choice]:
        named = f"{damper}_damper"
        yield self.choice(f"{named}-opening", "At the start it", _seen(words.OPENINGS))
        yield self.choice(f"{named}-proof", "Its open position is known by", words.PROOFS)
        yield self.box(f"{named}-proven", "Proven open at")

    def fan(self, fan: str) -> Iterator[Box | Choice]:
        yield self.choice(f"{fan}-command", "The fan was", {"on": "commanded", "off": "not commanded"}, "left out")
        yield self.box(f"{fan}-commanded", "Commanded at")
        yield self.choice(f"{fan}-current", "Its motor", _seen(words.CURRENTS))
        yield self.box(f"{fan}-current_at", "Current proven at")
        yield self.choice(f"{fan}-air", "Air", {"moves": "moves", "still": "does not move"})
        yield self.listed(f"{fan}-air_by", "Seen that it moves by", words.AIR_BY)
        yield self.box(f"{fan}-air_at", "Air proven at")
        yield self.choice(f"{fan}-rotation", "It turns", {"correct": "the right way", "reversed": "the wrong way"})
        yield self.listed(f"{fan}-rotation_by", "That was seen", words.ROTATION_BY)
        yield self.choice(f"{fan}-electrical", "Electrical readings", _ELECTRICAL, "not taken yet")

    def not_running(self) -> Iterator[Box | Choice]:
        causes = {code: told for code, (told, _) in words.CAUSES.items()}
        yield self.listed("cause", "It does not run because of", causes)
        yield self.box("cause-note", "What exactly", "", "text")
        yield self.box("cause-company", "Company that unblocks it", "", "text")

    def settled(self, fan: str) -> Iterator[Box | Choice]:
        yield self.box(f"{fan}-after", "Read after", "min")
        yield self.box(f"{fan}-speed", "Speed", "rpm")
        yield self.box(f"{fan}-rise", "Pressure rise across the fan", self.unit("pressure"))
        yield self.box(f"{fan}-flow", "Airflow", self.unit("airflow"))

    def losses(self, fan: str) -> Iterator[Box | Choice]:
        for n in losses_asked(self.typed, fan):
            yield self.box(f"{fan}-lost-{n}", f"Loss {n}, at")
            yield self.box(f"{fan}-lasted-{n}", "It lasted")
            yield self.box(f"{fan}-alarm-{n}", "Alarm logged at")
            yield self.choice(f"{fan}-lost_of-{n}", "Proof of", {"current": "current"}, "air")
            yield self.choice(f"{fan}-purpose-{n}", "Lost on purpose", {"yes": "yes"}, "no")

    def stop(self, dampers: list[str], fans: list[str]) -> Iterator[Box | Choice]:
        for fan in fans:
            yield self.box(f"{fan}-stopped", f"{fan.capitalize()} fan stopped at")
        for damper in dampers:
            yield self.box(f"{damper}_damper-closed", f"{words.DAMPERS[damper]} closed at")

    def delays(self) -> Iterator[Box | Choice]:
        yield self.box("delay-damper", "Damper proven within")
        yield self.box("delay-fan", "Fan proven within")
        yield self.box("delay-exhaust", "Exhaust fan after the supply fan by")
        yield self.box("delay-source", "Document and clause", "", "text")
        yield self.choice("controller", "The unit has", {"none": "no controller"}, "a controller")

    def temporary(self) -> Iterator[Box | Choice]:
        yield self.box("temporary-since", "Since", "", "date")
        yield self.box("temporary-until", "Until; empty while it lasts", "", "date")
        yield self.box("temporary-hours", "Hours of the day", "", "text")
        yield self.box("temporary-hours_run", "Hours run", "h")
        yield self.listed("temporary-filters", "With", words.FILTERS)
        yield self.box("temporary-allowed_by", "Allowed by", "", "text")
        yield self.box("temporary-company", "Of which company", "", "text")


_ELECTRICAL = {
    "in_electrical_record": "recorded on their own form",
    "none_apply": "none apply",
}


def _seen(told: Mapping[str, str]) -> dict[str, str]:
    return {code: text for code, text in told.items() if code != "not_seen"}
