"""Words that a start's record, its judgements and its form share, and the caution that stands before a start."""

from collections.abc import Mapping
from typing import Any

from commissioning.blocks import Caution

CAUTION = Caution(
    "Nobody is inside, guards are on and doors are latched before anything is commanded; everybody clear of shafts, "
    "belts, blades and doors that can be thrown open. Who works inside locks and tags out by the site's procedure, and "
    "only that person takes the lock off. What is behind an electrical cover is live: for qualified persons alone. On "
    "a roof and on ladders the site's rules for work at height hold. Local codes, permits and licensed persons decide "
    "whether a unit may be energised or entered; nothing here says so.",
    "rotating parts, lockout/tagout, live parts, roofs",
)

PERMISSIVES = {
    "power": "Power on at the unit",
    "enable": "Run switch or enable",
    "schedule": "Schedule",
    "network": "Run command from the network",
    "external_interlock": "External interlock closed",
    "smoke_input": "Smoke and fire alarm inputs clear",
    "safeties": "Safeties in circuit",
    "dampers_free": "Dampers free to travel",
    "doors": "Doors latched, guards on",
}
SEEN = {"given": "given", "missing": "missing", "not_applicable": "not applicable", "not_seen": "not looked at"}
DAMPERS = {
    "outdoor": "Outdoor air damper",
    "exhaust": "Exhaust air damper",
    "supply": "Supply air damper",
    "return": "Return air damper",
    "bypass": "Bypass damper",
    "recirculation": "Recirculation damper",
}
OPENINGS = {"seen": "opens", "stays_closed": "stays closed", "not_seen": "opening not seen"}
PROOFS = {
    "end_switch": "end switch",
    "position_signal": "position signal",
    "by_eye": "by eye",
    "none": "no proof of its position",
}
CURRENTS = {"flows": "draws current", "none": "draws no current", "not_seen": "current not looked at"}
AIR = {"moves": "air moves", "still": "no air moves", "not_seen": "air not looked at"}
AIR_BY = {
    "pressure_rise": "pressure rise across the fan",
    "pressure_switch": "differential pressure switch",
    "airflow_reading": "airflow read",
    "airflow_station": "airflow station",
}
ROTATIONS = {
    "correct": "turns the right way",
    "reversed": "turns the wrong way",
    "not_seen": "nobody saw which way it turns",
}
ROTATION_BY = {
    "run_down": "as it ran down",
    "short_start": "at a short start",
    "mark_on_shaft": "by a mark on the shaft",
}
ELECTRICAL = {
    "in_electrical_record": "in the record of motors and electrical readings",
    "none_apply": "none apply to its motor",
    "not_taken": "not taken yet",
}
FILTERS = {
    "construction": "construction filters",
    "final": "the final filters",
    "none": "no filters",
    "not_seen": "filters not looked at",
}
CAUSES: dict[str, tuple[str, str]] = {
    "no_power": ("no power", "electrical"),
    "safety_hold": ("a safety hold without a release", "mechanical"),
    "not_enabled": ("nothing enables it", "controls"),
    "interlock_open": ("the external interlock is open", "controls"),
    "fire_alarm": ("a smoke or fire alarm input holds it", "fire_alarm"),
    "safety_trip": ("a safety has tripped", "mechanical"),
    "controls_not_ready": ("controls not ready", "controls"),
    "damper_stays_closed": ("a damper does not open", "mechanical"),
    "fan_does_not_turn": ("a fan does not turn", "mechanical"),
    "motor_protection": ("overload, drive or fuse tripped", "electrical"),
    "part_missing": ("a part is missing or broken", "mechanical"),
    "other": ("another cause", ""),
}
"""Why a unit does not run, and the trade that usually unblocks it; without one it has to be said who does."""


def stage_of(*, is_final: bool, is_counted: bool = True) -> str:
    """How a record was sent, and how it counts where that is something else.

    >>> stage_of(is_final=True), stage_of(is_final=False)
    ('final', 'preliminary')
    >>> stage_of(is_final=True, is_counted=False)
    'sent as final, counted as preliminary: temporary operation'
    """
    if is_final and not is_counted:
        return "sent as final, counted as preliminary: temporary operation"
    return "final" if is_final else "preliminary"


def seconds(value: float) -> str:
    """
    >>> seconds(42.0), seconds(2.5), seconds(31.04)
    ('42 s', '2.5 s', '31 s')
    """
    return f"{round(value, 1):g} s"


def cause_of(not_running: Mapping[str, Any]) -> str:
    """
    >>> cause_of({"cause": "no_power", "note": "feeder not pulled"}), cause_of({"cause": "part_missing", "note": ""})
    ('no power: feeder not pulled', 'a part is missing or broken')
    """
    note = f": {not_running['note']}" if not_running["note"] else ""
    return f"{CAUSES[not_running['cause']][0]}{note}"


def period_of(temporary: Mapping[str, Any]) -> str:
    """
    >>> period_of({"since": "2026-05-04", "until": "2026-05-20"}), period_of({"since": "2026-05-04", "until": None})
    ('from 2026-05-04 to 2026-05-20', 'from 2026-05-04 on')
    """
    until = f" to {temporary['until']}" if temporary["until"] else " on"
    return f"from {temporary['since']}{until}"
