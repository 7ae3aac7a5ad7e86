"""Which reading of each outlet stands: several records make one picture, the latest final of each outlet counts.

The newest as-left session of outlets stands. What was read in an older one has to be read again, since dampers were
set since; a verification touches nothing and takes no reading's place. An outlet whose verification differs by more
than both uncertainties is disputed until it is read again as left.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from commissioning.dossier import outlet_design, outlets_verified
from commissioning.dossier.figures import Figures
from commissioning.dossier.outlet_design import OutletDesign
from commissioning.dossier.outlet_readings import KIND, OutletReading, readings_of
from commissioning.dossier.outlets_verified import Pair
from commissioning.dossier.results import Absence
from commissioning.dossier.view import View

_STATES = {"closed": "closed", "blocked": "blocked", "no_access": "no access"}
BLOCKING = ("disputed", "not_judged", "recheck", "not_due")


@dataclass(frozen=True, slots=True)
class Standing:
    """The outlets of a unit: as designed, as they stand, and why some of them cannot be judged."""

    design: Mapping[str, OutletDesign]
    readings: Mapping[str, OutletReading]
    why_not: Mapping[str, Absence]  # by outlet; `not_given` and `not_counted` hinder nobody else
    records: Mapping[str, Figures]  # by envelope
    verified: Mapping[str, Pair]  # by outlet, of those that somebody read again

    def at(self, port: str) -> list[OutletReading]:
        return [one for one in self.readings.values() if one.port == port]

    def unread(self, port: str) -> list[str]:
        """Outlets that were designed at a port and stand in no record."""
        return [name for name, one in self.design.items() if one.port == port and name not in self.readings]

    def rests_on(self, readings: Sequence[OutletReading]) -> tuple[str, ...]:
        used = {one.envelope for one in readings}
        return tuple(name for name in self.records if name in used)

    def finals(self, readings: Sequence[OutletReading]) -> list[Figures]:
        return [self.records[name] for name in self.rests_on(readings)]


def ports_of(view: View) -> list[str]:
    """Ports at which outlets were designed or read, in the trade's order."""
    seen = {one.port for one in outlet_design.outlets_of(view.place).values() if one.airflow_m3_s is not None}
    seen |= {row["port"] for record in view.records if record.kind == KIND for row in record.facts["outlets"]}
    return [port for port in ("supply", "return", "outdoor", "exhaust") if port in seen]


def standing_outlets(view: View) -> Standing | Absence:
    if not view.place.is_counted:
        return view.not_counted()
    held = [one for one in view.records if one.kind == KIND]
    finals = [one for one in held if one.stage == "final" and one.purpose == "as_left"]
    if not finals:
        return Absence("not_due", "There are only preliminary readings." if held else "No outlet is read yet.")
    first: dict[str, Figures] = {}
    for record in finals:
        first.setdefault(record.session, record)
    newest = max(first.values(), key=lambda one: (one.when, one.session)).session
    design = outlet_design.outlets_of(view.place)
    readings: dict[str, OutletReading] = {}
    why_not: dict[str, Absence] = {}
    for record in sorted(finals, key=lambda one: one.session == newest):  # stable: later ones take the place of earlier
        doubt = _doubt(view, record, newest)
        for one in readings_of(record):
            readings[one.name] = one
            why = doubt or view.drifted(record, one.port) or _why_not(one, design.get(one.name))
            why_not.pop(one.name, None)
            if why is not None:
                why_not[one.name] = why
    records = {one.envelope: one for one in finals}
    verified = outlets_verified.pairs(
        view, {name: one for name, one in readings.items() if _may(why_not, name)}, records
    )
    disputes = {name: why for name, pair in verified.items() if (why := outlets_verified.dispute(pair)) is not None}
    return Standing(design, readings, why_not | disputes, records, verified)


def _may(why_not: Mapping[str, Absence], name: str) -> bool:
    """Whether a reading can be held against another: one without a design can."""
    return name not in why_not or why_not[name].code == "not_given"


def _doubt(view: View, record: Figures, newest: str) -> Absence | None:
    """Why nothing of this record can be judged."""
    if record.session != newest:
        return Absence("recheck", f"Read in session {record.session}; outlets were set since, in {newest}.")
    began = view.standing_began
    if began is not None and record.session != view.standing_session and record.when < began:
        return Absence(
            "recheck", f"Read in session {record.session}; the unit was touched since, in {view.standing_session}."
        )
    if record.mode != "design_maximum":
        return Absence("not_judged", f"Read in mode {record.mode.replace('_', ' ')}; this asks for design maximum.")
    return view.doubt(record)


def _why_not(one: OutletReading, design: OutletDesign | None) -> Absence | None:
    if one.state != "read":
        return Absence("not_counted", f"{_STATES[one.state]}: {one.reason}")
    if one.doubts:
        return Absence("not_judged", "; ".join(one.doubts))
    if design is None or not design.airflow_m3_s:
        return Absence("not_given", "no design revision gives its airflow")
    return None
