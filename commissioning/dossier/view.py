"""What stands at a position: its measurements sorted into sessions, and the grounds on which a port can be judged.

An as-left session is the state in which somebody left the unit. The newest one stands; a port that was measured for
good in an older one has to be measured again, since the unit was touched since. A verification session touches
nothing: its finals are compared with those that stand.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import cached_property

from commissioning.dossier.figures import Figures
from commissioning.dossier.given import Conventions, Instrument, Place
from commissioning.dossier.results import Absence, Measurement
from commissioning.dossier.settings import drift
from commissioning.engineering.agreement import normalised_difference

_SMALLEST_M3_S = 1e-9  # two readings of no flow at all agree
_AGAIN = {  # by kind of record, after a change of machine; of the others: measure again
    "settings": "read its settings again",
    "checklist": "answer it for the new one",
    "startup": "record its start-up again",
    "test_run": "test it again",
    "trend": "log it again",
}


@dataclass(frozen=True, slots=True)
class Agreement:
    """Two finals of one port compared."""

    standing: Measurement
    verifying: Measurement
    normalised_difference: float
    correlation: float


@dataclass(frozen=True)
class View:
    """Everything about one position that a requirement may look at."""

    place: Place
    conventions: Conventions
    instruments: Mapping[str, Instrument]
    measurements: Sequence[Measurement]  # of airflow, in the order of observation
    records: Sequence[Figures] = ()  # of every other kind, likewise

    @cached_property
    def standing_session(self) -> str | None:
        """The newest as-left session, by its first observation."""
        first: dict[str, Measurement] = {}
        for one in self.measurements:
            if one.purpose == "as_left":
                first.setdefault(one.session, one)
        newest = max(first.values(), key=lambda m: (m.when, m.session), default=None)
        return newest.session if newest else None

    @cached_property
    def ports(self) -> tuple[str, ...]:
        """Ports that are designed or measured, in the trade's order."""
        seen = {m.port for m in self.measurements} | {
            p for p, d in self.place.ports.items() if d.airflow_m3_s or d.minimum_m3_s is not None
        }
        return tuple(p for p in ("supply", "return", "outdoor", "exhaust") if p in seen)

    def of(self, port: str) -> list[Measurement]:
        return [m for m in self.measurements if m.port == port]

    def finals(self, port: str, session: str | None) -> list[Measurement]:
        return [m for m in self.of(port) if m.stage == "final" and m.purpose == "as_left" and m.session == session]

    def final(self, port: str, modes: Sequence[str] = ("design_maximum",)) -> Measurement | Absence:
        """The final that stands for a port in the first of these modes in which there is one, or why there is none.

        The last one stands; one whose method bears no verdict takes the place of none that bears one.
        """
        standing = self.finals(port, self.standing_session)
        for mode in modes:
            in_mode = [m for m in standing if m.mode == mode]
            if in_mode:
                return ([m for m in in_mode if not m.doubts] or in_mode)[-1]
        if standing:
            modes_seen = ", ".join(sorted({one.mode.replace("_", " ") for one in standing}))
            wanted = " or ".join(mode.replace("_", " ") for mode in modes)
            return Absence("not_judged", f"The finals were taken in mode {modes_seen}; this asks for {wanted}.")
        older = [m for m in self.of(port) if m.stage == "final" and m.purpose == "as_left"]
        if older:
            return Absence(
                "recheck",
                f"Measured in session {older[-1].session}; the unit was touched since, in {self.standing_session}.",
            )
        if any(m.stage == "final" for m in self.of(port)):
            return Absence("not_due", "There is a verification, and no as-left final that it could verify.")
        if self.of(port):
            return _only_preliminary(self.of(port))
        return Absence("not_due", "Nothing is measured yet.")

    def ground(self, port: str, modes: Sequence[str] = ("design_maximum",)) -> Measurement | Absence:
        """The final on which a verdict can rest, or the reason why none can."""
        if not self.place.is_counted:
            return self.not_counted()
        final = self.final(port, modes)
        if isinstance(final, Absence):
            return final
        return self.doubt(final) or self.drifted(final, port) or self._dispute(port) or final

    def not_counted(self) -> Absence:
        return Absence("not_counted", f"The unit is {self.place.scope.replace('_', ' ')}.")

    def last_final_session(self, port: str) -> str | None:
        """The session of a port's newest as-left final."""
        finals = [m for m in self.of(port) if m.stage == "final" and m.purpose == "as_left"]
        standing = [m for m in finals if m.session == self.standing_session]
        return (standing or finals)[-1].session if finals else None

    def of_kind(self, kind: str) -> list[Figures]:
        """All records of a kind, in the order of observation: for what several people answer in parts."""
        return [one for one in self.records if one.kind == kind]

    def record(self, kind: str) -> Figures | Absence:
        """The final record of a kind on which a verdict can rest, or the reason why none can.

        It belongs to the as-left session that stands, or was taken after that had begun.
        """
        if not self.place.is_counted:
            return self.not_counted()
        held = self.of_kind(kind)
        finals = [one for one in held if one.stage == "final"]
        if not finals:
            return _only_preliminary(held) if held else Absence("not_due", "Nothing is recorded yet.")
        final = finals[-1]
        began = self.standing_began
        if began is not None and final.session != self.standing_session and final.when < began:
            return Absence(
                "recheck",
                f"Recorded in session {final.session}; the unit was touched since, in {self.standing_session}.",
            )
        return self.doubt(final) or final

    @cached_property
    def standing_began(self) -> datetime | None:
        """When the as-left session that stands was first observed."""
        held = [m.when for m in self.measurements if m.purpose == "as_left" and m.session == self.standing_session]
        return min(held, default=None)

    def doubt(self, final: Measurement | Figures) -> Absence | None:
        """Why no verdict can rest on this final, by itself."""
        place = self.place
        if place.machine_since is not None and self.day(final) < place.machine_since:
            again = _AGAIN.get(final.kind, "measure again")
            return Absence("recheck", f"The machine was changed on {place.machine_since}: {again}.")
        if final.serial_seen and place.is_another_machine(final.serial_seen, final.when):
            return Absence(
                "not_judged",
                f"The serial seen is {final.serial_seen}; here sits {place.machine_serial}. Is it the right unit?",
            )
        if final.faults:
            return Absence(
                "not_judged", "The operating state does not allow a verdict: " + "; ".join(final.faults) + "."
            )
        if isinstance(final, Measurement) and final.doubts:
            return Absence("not_judged", "The method bears no verdict here: " + "; ".join(final.doubts) + ".")
        if final.calibration == "failed":
            return Absence(
                "not_judged", f"The instrument was found outside its limits afterwards ({final.certificate})."
            )
        return None

    @cached_property
    def settings(self) -> Sequence[Figures]:
        """The snapshots of the controller that sits here, from as found on, in the order of observation."""
        read = [one for one in self.of_kind("settings") if one.facts["moment"] != "as_ordered"]
        return [one for one in read if self.doubt(replace(one, faults=())) is None]

    def drifted(self, final: Measurement | Figures, place: str) -> Absence | None:
        """Whether a setting was changed, since this was read, that moves a port's air or what the exchanger does."""
        moved = drift.since(self.settings, final).at(place) if self.settings else ()
        return Absence("recheck", drift.in_words(moved, self.conventions.display)) if moved else None

    def _dispute(self, port: str) -> Absence | None:
        agreement = self.agreement(port)
        if agreement is None or agreement.normalised_difference <= 1.0:
            return None
        return Absence(
            "disputed",
            f"A verification differs by more than both uncertainties (E = {agreement.normalised_difference:.2f}): "
            "retest together.",
        )

    def verifications(self, port: str) -> list[Measurement]:
        return [m for m in self.of(port) if m.stage == "final" and m.purpose == "verification"]

    def agreement(self, port: str) -> Agreement | None:
        """The final that stands against the latest verification of it, in one mode."""
        standing = self.finals(port, self.standing_session)
        for check in reversed(self.verifications(port)):
            if self.doubt(check) is not None:
                continue
            same = [m for m in standing if m.mode == check.mode and m.when <= check.when]
            if same:
                return agreement_of(same[-1], check)
        return None

    def is_provisional(self, *finals: Measurement | Figures) -> bool:
        """Whether a calibration is missing or had lapsed: the verdict holds until the next one says otherwise."""
        return any(one.calibration in ("lapsed", "none") for one in finals)

    def day(self, measurement: Measurement | Figures) -> date:
        return self.place.day(measurement.when)


def _only_preliminary(held: Sequence[Measurement | Figures]) -> Absence:
    """With the reason why one that was sent as final is none, where there is one."""
    reasons = [one.facts["not_final"] for one in held if "not_final" in one.facts]
    return Absence("not_due", " ".join(["There are only preliminary readings.", *reasons[-1:]]))


def agreement_of(a: Measurement, b: Measurement) -> Agreement:
    """Two finals held against each other. What was read with one instrument shares its error: where it drives both
    the same way it cannot make them differ, where it drives them apart it can all the more."""
    whole = a.standard_uncertainty_m3_s * b.standard_uncertainty_m3_s
    shared = math.fsum(size * _errors(b).get(tool, 0.0) for tool, size in _errors(a).items())
    correlation = min(0.99, max(-1.0, shared / whole)) if whole > 0 else 0.0
    difference = normalised_difference(
        a=a.airflow_m3_s,
        expanded_uncertainty_a=max(a.expanded_uncertainty_m3_s, _SMALLEST_M3_S),
        b=b.airflow_m3_s,
        expanded_uncertainty_b=max(b.expanded_uncertainty_m3_s, _SMALLEST_M3_S),
        correlation=correlation,
    )
    return Agreement(a, b, float(difference), correlation)


def _errors(one: Measurement) -> Mapping[str, float]:
    errors: Mapping[str, float] = one.facts.get("instrument_errors_m3_s", {})
    return errors
