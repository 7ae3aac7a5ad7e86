"""The power of all fans of a unit, and the airflows that it is counted against: what the two rules on it share."""

from collections.abc import Sequence
from dataclasses import dataclass

from commissioning.dossier.figures import Figure, Figures
from commissioning.dossier.motor_judging import FANS, FanRecord, Rule, absent, recorded
from commissioning.dossier.results import Absence, Judgement, Measurement
from commissioning.dossier.view import View
from commissioning.engineering.uncertainty import Component

MODE = "design_maximum"
_PORT = {"supply": "supply", "exhaust": "exhaust"}
_WORST_FIRST = ("not_counted", "disputed", "not_judged", "recheck", "not_due", "not_given")


@dataclass(frozen=True, slots=True)
class FanPowers:
    """One power for each fan of the unit, as one name of figure gives it."""

    by_fan: dict[str, Figure]
    finals: tuple[Figures, ...]

    @property
    def total_w(self) -> float:
        return sum(one.value for one in self.by_fan.values())

    def components(self, slope: float) -> list[Component]:
        """The fans' powers are read with one meter as a rule: their errors are counted as one."""
        return [
            Component(f"power of the {fan} fan", one.standard_uncertainty or 0.0, slope, group="electrical meter")
            for fan, one in self.by_fan.items()
        ]


def fans_of(view: View) -> list[str]:
    seen = {fan for one in view.records if one.kind == "electrical" for fan in one.facts["fans"]}
    return [fan for fan in FANS if fan in seen or fan in view.place.fans]


def powers(view: View, name: str, what: str) -> FanPowers | Absence:
    """The figure `name` of each fan of the unit, or why the sum cannot be made."""
    records = dict(recorded(view, also=fans_of(view)))
    found = {fan: _power(record, name, what) for fan, record in records.items()}
    missing = [one for one in found.values() if isinstance(one, Absence)]
    if missing:
        return min(missing, key=lambda one: (_WORST_FIRST.index(one.code), one.text))
    held = {fan: one for fan, one in found.items() if isinstance(one, Figure)}
    finals = {one.final.envelope: one.final for one in records.values() if isinstance(one, FanRecord)}
    return FanPowers(held, tuple(finals.values()))


def untold(rule: Rule, why: Absence, *, is_criterion: bool) -> Judgement:
    """Why there is no value. Where it is for information only, nobody waits for it."""
    if is_criterion or why.code == "not_counted":
        return absent(rule, "", why)
    return absent(
        rule, "", Absence("not_given", f"The contract makes it no criterion, and it is not known. {why.text}")
    )


def _power(record: FanRecord | Absence, name: str, what: str) -> Figure | Absence:
    if isinstance(record, Absence):
        return record
    if record.final.mode != MODE:
        mode = record.final.mode.replace("_", " ")
        return Absence("not_judged", f"The power of the {record.fan} fan was read in mode {mode}.")
    return record.judged_figure(name, what)


def airflows(view: View, fans: Sequence[str]) -> list[Measurement] | Absence:
    """The finals of the ports that the fans serve, or why there are none."""
    grounds = [view.ground(_PORT[fan]) for fan in fans]
    missing = [one for one in grounds if isinstance(one, Absence)]
    if missing:
        worst = min(missing, key=lambda one: (_WORST_FIRST.index(one.code), one.text))
        return Absence(worst.code, f"It takes the airflow of each fan. {worst.text}")
    return [one for one in grounds if isinstance(one, Measurement)]
