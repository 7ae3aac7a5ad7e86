"""Whether a fan is proven: commanded, turning the right way, and moving air, as somebody saw by a pressure or a flow.

A command is no proof. A current is none either: a fan that turns backwards, or whose belt is off, draws one too.
"""

from dataclasses import dataclass, field
from typing import Any

from commissioning.dossier.figures import Figures
from commissioning.dossier.motor_judging import FanRecord, recorded
from commissioning.dossier.results import Absence
from commissioning.dossier.startup.standing import ALLOWANCE_S, Delay, delays, standing
from commissioning.dossier.startup.words import seconds
from commissioning.dossier.view import View


@dataclass(frozen=True, slots=True)
class Proof:
    """What stands of one fan: the reasons why it fails, else why it cannot be judged, else it is proven."""

    fan: str
    start: Figures
    fails: tuple[str, ...] = ()
    absence: Absence | None = None
    facts: dict[str, Any] = field(default_factory=dict)
    electrical: str = ""  # the record of its motor's readings, where there is one


def proof_of(view: View, fan: str) -> Proof | Absence:
    """By the start that stands; None of it where the fan was never commanded."""
    start = standing(view, fan)
    if isinstance(start, Absence):
        return start
    held = start.facts["fans"][fan]
    if held["command"] == "off":
        return Absence("not_due", f"The {fan} fan was not commanded.")
    motor = electrical_of(view, fan)
    rotation, seen_in = _rotation(start, held, motor)
    limit = delays(view, start)["fan_proof"]
    losses = [{**one, "state": _loss_state(one, limit)} for one in held["lost"]]
    facts = {
        **{name: held[name] for name in ("commanded_s", "current", "air")},
        "rotation": rotation,
        "rotation_seen": seen_in,
        "lost": losses,
        "delay": limit.to_json(),
        "current_a": _figure(motor, "current"),
        "speed_rpm": _figure(motor, "speed"),
    }
    fails = (*_dead(held, rotation), *_too_early(held), *_lost(losses, limit))
    absence = None if fails else _open(held, rotation, losses)
    return Proof(fan, start, fails, absence, facts, motor.final.envelope if motor else "")


def electrical_of(view: View, fan: str) -> FanRecord | None:
    """The motor's own record, if one stands."""
    found = dict(recorded(view, with_air=False, with_meter=False)).get(fan)
    return found if isinstance(found, FanRecord) else None


def _rotation(start: Figures, held: dict[str, Any], motor: FanRecord | None) -> tuple[str, str]:
    """As the newer of the two records that saw it says, and which that is."""
    seen = [(start.when, held["rotation"], "this start")] if held["rotation"] != "not_seen" else []
    if motor is not None and motor.facts["rotation"] != "not_seen":
        seen.append((motor.final.when, motor.facts["rotation"], "the record of its motor"))
    return max(seen)[1:] if seen else ("not_seen", "")


def _figure(motor: FanRecord | None, name: str) -> float | None:
    found = motor.figure(name) if motor else None
    return None if found is None or found.doubts else found.value


def _dead(held: dict[str, Any], rotation: str) -> list[str]:
    air, current = held["air"]["seen"], held["current"]["seen"]
    if air == "still":
        told = {
            "flows": "It is on by command and draws current, and no air moves.",
            "none": "It is on by command and dead in fact: no current, no air.",
            "not_seen": "It is on by command and no air moves.",
        }
        return [told[current]]
    if current == "none":
        moves = "Air moves past it, which another fan or the wind does" if air == "moves" else "Nobody looked for air"
        return [f"It is on by command and draws no current. {moves}."]
    if rotation == "reversed":
        return ["It turns the wrong way; a fan that does draws current and moves some air."]
    return []


def _too_early(held: dict[str, Any]) -> list[str]:
    """A proof that was there before its command is a switch that sticks or is jumpered, or another fan's air."""
    commanded = held["commanded_s"]
    return [
        f"Its {name} proof was there {seconds(commanded - held[name]['at_s'])} before the command: it proves nothing."
        for name in ("current", "air")
        if commanded is not None and held[name]["at_s"] is not None and held[name]["at_s"] < commanded
    ]


def _loss_state(loss: dict[str, Any], limit: Delay) -> str:
    if loss["on_purpose"]:
        return "on_purpose"
    if loss["lasted_s"] is None:
        return "stays_lost"
    if limit.limit_s is None:
        return "not_given"
    return "short" if loss["lasted_s"] <= limit.limit_s + ALLOWANCE_S else "long"


def _lost(losses: list[dict[str, Any]], limit: Delay) -> list[str]:
    told = []
    for one in losses:
        if one["state"] == "stays_lost":
            told.append(f"Its {one['of']} proof was lost at {seconds(one['at_s'])} and did not come back.")
        elif one["state"] == "long":
            assert limit.limit_s is not None
            lasted = f"was lost for {seconds(one['lasted_s'])}, longer than its delay of {seconds(limit.limit_s)}"
            told.append(f"Its {one['of']} proof {lasted}.")
    return told


def _open(held: dict[str, Any], rotation: str, losses: list[dict[str, Any]]) -> Absence | None:
    if held["air"]["seen"] == "not_seen":
        also = " It draws current, as a reversed fan does too." if held["current"]["seen"] == "flows" else ""
        return Absence("not_judged", f"A command is no proof: nobody looked whether air moves.{also}")
    if rotation == "not_seen":
        return Absence("not_judged", "Air moves; nobody saw which way it turns, and a reversed fan moves some air too.")
    open_ = [one for one in losses if one["state"] == "not_given"]
    if open_:
        lasted = seconds(open_[0]["lasted_s"])
        return Absence(
            "not_given", f"Proof was lost for {lasted}, and no delay is given that it could be held against."
        )
    return None
