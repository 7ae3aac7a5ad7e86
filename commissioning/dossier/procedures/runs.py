"""The runs of a unit: which one stands for a procedure, with which settings it ran, and what changed since."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from commissioning.catalogue.procedures import Procedure
from commissioning.dossier.figures import Figures
from commissioning.dossier.procedures.plan import Unit, depends_on, unit_of
from commissioning.dossier.results import Absence
from commissioning.dossier.settings.catalogue import Plain
from commissioning.dossier.settings.compare import Change, changes, in_both
from commissioning.dossier.settings.printed import title_of
from commissioning.dossier.settings.snapshot import snapshots
from commissioning.dossier.view import View

KIND = "test_run"
_AT_THE_UNIT = ("as_found", "as_left", "follow_up")
THROUGH = "carried_through"


def runs_of(view: View, code: str) -> list[Figures]:
    """All runs of a procedure that mean to stand, in the order of observation; rehearsals left out."""
    return [one for one in view.of_kind(KIND) if one.facts["procedure"] == code and one.stage == "final"]


@dataclass(frozen=True, slots=True)
class Settings:
    """What is known of a unit's settings at a moment: later readings over earlier ones."""

    values: dict[str, Plain]
    records: tuple[str, ...] = ()

    @classmethod
    def read(cls, held: Sequence[Figures]) -> "Settings":
        values: dict[str, Plain] = {}
        for one in held:
            values |= one.facts["values"]
        return cls(values, tuple(one.envelope for one in held))


def _read_at_the_unit(view: View) -> list[Figures]:
    return [one for one in snapshots(view, *_AT_THE_UNIT) if view.doubt(replace(one, faults=())) is None]


def known_now(view: View) -> Settings:
    return Settings.read(_read_at_the_unit(view))


def ran_with(view: View, run: Figures) -> Settings | Absence:
    """The settings up to the record that the run names, else up to the run itself."""
    held = _read_at_the_unit(view)
    named = run.facts["settings"]
    if named is None:
        return Settings.read([one for one in held if one.when <= run.when])
    places = [index for index, one in enumerate(held) if one.envelope == named]
    if not places:
        text = "The settings record that the run names does not stand at this unit: name another one, or record it."
        return Absence("not_judged", text)
    return Settings.read(held[: places[0] + 1])


def changed_since(view: View, procedure: Procedure, before: Settings) -> tuple[Change, ...]:
    """Settings on which the procedure depends and that were read otherwise since."""
    later = [one for one in _read_at_the_unit(view) if one.envelope not in before.records]
    now = {**before.values, **Settings.read(later).values}
    matter = set(depends_on(procedure))
    return tuple(one for one in in_both(changes(before.values, now)) if one.code in matter)


def unit_with(view: View, settings: Settings) -> Unit:
    return unit_of(view.place, settings.values, basis_when_not_stated=view.conventions.basis_when_not_stated)


@dataclass(frozen=True, slots=True)
class Standing:
    """The run that stands; `after` is a later one that was not carried through."""

    run: Figures
    after: Figures | None = None


def standing_of(view: View, runs: Sequence[Figures]) -> Standing | Absence:
    """The newest run that was carried through, or why there is none."""
    through = [one for one in runs if one.facts["outcome"] == THROUGH]
    if not through:
        return not_carried_through(runs[-1].facts) if runs else Absence("not_due", "Not run yet.")
    run = through[-1]
    after = [one for one in runs if one.when > run.when]
    return Standing(run, after[-1] if after else None)


def not_carried_through(facts: dict[str, Any]) -> Absence:
    """Why a run gave no result, as it was said."""
    if facts["outcome"] == "aborted":
        told = facts["aborted"]
        return Absence("not_due", f"Aborted: {_ended(told['reason'])} Left in this state: {_ended(told['safe_state'])}")
    if facts["outcome"] == "wasted":
        told = facts["wasted"]
        return Absence("not_due", f"A call-out was wasted, by {told['company']}: {_ended(told['cause'])}")
    told = facts["deferred"]
    return Absence(
        "not_due",
        f"Deferred until this holds: {_ended(told['condition'])} {told['owner']} sees to it by {told['by']}; "
        f"{told['pays']} pays the return.",
    )


def outdated(view: View, procedure: Procedure, run: Figures, before: Settings) -> Absence | None:
    """Why a run no longer says how the unit is: version, settings, airflows."""
    if run.facts["version"] < procedure.counts_from:
        text = f"Run by version {run.facts['version']} of the procedure, which counts from {procedure.counts_from} on."
        return Absence("recheck", text)
    changed = changed_since(view, procedure, before)
    if changed:
        names = ", ".join(title_of(one.code) for one in changed)
        return Absence("recheck", f"Settings were changed since it ran: {names}. Run it again.")
    began = view.standing_began
    if procedure.touched and began is not None and run.when < began:
        return Absence(
            "recheck", f"The airflows were set anew since, in session {view.standing_session}: run it again."
        )
    return None


def _ended(text: str) -> str:
    """
    >>> _ended("no power"), _ended("No power.")
    ('no power.', 'No power.')
    """
    return text if text.endswith((".", "!", "?")) else f"{text}."
