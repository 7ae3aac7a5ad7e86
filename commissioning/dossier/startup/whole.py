"""A start as a whole: what of it is settled, open or fails, and who has the next move on each part.

What has a verdict of its own (fans, order, safety holds, motors) keeps a start open here and fails there.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from commissioning.dossier import checklist
from commissioning.dossier.figures import Figures
from commissioning.dossier.results import Absence
from commissioning.dossier.settings import snapshot
from commissioning.dossier.startup import sequence
from commissioning.dossier.startup.proof import electrical_of, proof_of
from commissioning.dossier.startup.standing import fans_of, is_commanded
from commissioning.dossier.startup.words import PERMISSIVES, cause_of
from commissioning.dossier.view import View

TECHNICIAN = ("", "the technician")
Mover = tuple[str, str]  # trade, company


@dataclass(frozen=True, slots=True)
class Part:
    """`state`: fails, again (due again), open, settled."""

    name: str
    state: str
    said: str
    mover: Mover = ("", "")
    rests_on: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        return {"part": self.name, "state": self.state, "said": self.said, "mover": list(self.mover)}


def parts_of(view: View, start: Figures) -> list[Part]:
    return [
        _runs(start),
        *_holds(view, start),
        _permissives(start),
        *_order(view, start),
        *(part for fan in fans_of(view) for part in _fan(view, fan)),
        _settings(view, start),
    ]


def _runs(start: Figures) -> Part:
    stop = start.facts["not_running"]
    if stop:
        mover = (stop["trade"], stop["company"])
        return Part("Runs", "fails", f"It does not run: {cause_of(stop)}.", mover, (start.envelope,))
    if not is_commanded(start):
        return Part("Runs", "open", "No fan was commanded yet.", TECHNICIAN, (start.envelope,))
    return Part("Runs", "settled", "It was started.", rests_on=(start.envelope,))


def _holds(view: View, start: Figures) -> Iterator[Part]:
    """Where neither a record nor the design speaks of a checklist, nobody can say what holds."""
    found = checklist.checklist_of(view)
    if found is None or not found.safety.standings:
        return
    held = found.safety.among("held")
    if held:
        count = f"{len(held)} safety hold{'s' if len(held) > 1 else ''} without a release"
        ran = is_commanded(start)
        said = f"It was started with {count}: {held[0].item.text}" if ran else f"{count}: {held[0].item.text}"
        yield Part("Safety holds", "fails" if ran else "open", said, held[0].mover, found.rests_on)
        return
    missing = found.safety.among("again", "due", "cannot")
    if missing:
        again = missing[0].state == "again"
        are = "safety item is" if len(missing) == 1 else "safety items are"
        said = f"{len(missing)} {are} not answered{' since the machine was changed' if again else ''}."
        yield Part("Safety holds", "again" if again else "open", said, missing[0].mover)
    else:
        yield Part("Safety holds", "settled", "No safety hold is open.")


def _permissives(start: Figures) -> Part:
    held = start.facts["permissives"]
    name = "Permissives"
    missing = [PERMISSIVES[one] for one, seen in held.items() if seen == "missing"]
    if missing:
        ran = is_commanded(start)
        said = f"{'It ran without' if ran else 'Missing'}: {_listed(missing)}."
        return Part(name, "fails" if ran else "open", said, ("controls", ""), (start.envelope,))
    unseen = [PERMISSIVES[one] for one, seen in held.items() if seen == "not_seen"]
    if unseen:
        return Part(name, "open", f"Not looked at: {_listed(unseen)}.", TECHNICIAN)
    return Part(name, "settled", "All seen that apply.")


def _listed(titles: list[str]) -> str:
    return ", ".join(f"{one[:1].lower()}{one[1:]}" for one in titles)


def _order(view: View, start: Figures) -> Iterator[Part]:
    if not is_commanded(start):
        return
    rows = sequence.rows_of(view, start)
    for state, words, mover in (("fails", "Does not hold", ("controls", "")), ("not_timed", "Not timed", TECHNICIAN)):
        found = [one["step"] for one in rows if one["state"] == state]
        if found:
            yield Part("Order of the start", "open", f"{words}: {_listed(found)}.", mover)
            return
    holds = sum(one["state"] == "holds" for one in rows)
    yield Part(
        "Order of the start",
        "settled",
        f"{holds} step{'s hold' if holds > 1 else ' holds'}." if holds else "Nothing of it has a limit.",
    )


def _fan(view: View, fan: str) -> Iterator[Part]:
    name = f"{fan.capitalize()} fan"
    found = proof_of(view, fan)
    if isinstance(found, Absence):
        state = "again" if found.code == "recheck" else "open"
        yield Part(name, state, found.text, TECHNICIAN)
        return
    rests_on = (found.start.envelope,)
    if found.fails:
        yield Part(name, "open", " ".join(found.fails), ("mechanical", ""), rests_on)
    elif found.absence is not None:
        yield Part(name, "open", found.absence.text, TECHNICIAN, rests_on)
    else:
        yield Part(name, "settled", "Proven.", rests_on=rests_on)
    yield _electrical(view, fan, found.start)


def _electrical(view: View, fan: str, start: Figures) -> Part:
    name = f"Electrical readings, {fan} fan"
    said = start.facts["fans"][fan]["electrical"]
    motor = electrical_of(view, fan)
    if motor is not None:
        return Part(name, "settled", "In the record of its motor.", rests_on=(motor.final.envelope,))
    if said == "none_apply":
        return Part(name, "settled", "No readings apply to its motor.")
    if said == "in_electrical_record":
        return Part(name, "open", "Said to be in the record of its motor, and no final of it counts.", TECHNICIAN)
    return Part(name, "open", "Not taken yet; a qualified person reads them.", ("electrical", ""))


def _settings(view: View, start: Figures) -> Part:
    name = "Settings as left"
    if start.facts["controller"] == "none":
        return Part(name, "settled", "The unit has no controller.")
    held = snapshot.snapshots(view, "as_left")
    if not held:
        return Part(name, "open", "Not read yet: nobody could restore them.", TECHNICIAN)
    doubt = view.doubt(replace(held[-1], faults=()))
    if doubt is None:
        return Part(name, "settled", f"Read on {view.day(held[-1])}.", rests_on=(held[-1].envelope,))
    if doubt.code == "recheck":
        return Part(name, "again", f"Read before the machine was changed on {view.place.machine_since}.", TECHNICIAN)
    return Part(name, "open", doubt.text, TECHNICIAN)
