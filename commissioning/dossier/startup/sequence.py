"""The order of a start, step by step: dampers open before a fan is commanded, delays kept, alarms in time, the stop.

Each step is a row of plain JSON values: what was asked, what was seen, the limit with its source, and how it stands.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.dossier.figures import Figures
from commissioning.dossier.startup.standing import ALLOWANCE_S, FANS, Delay, delays
from commissioning.dossier.startup.words import DAMPERS, seconds
from commissioning.dossier.view import View

Row = dict[str, Any]
STATES = {
    "fails": "does not hold",
    "not_timed": "not timed",
    "not_given": "no limit given",
    "logged": "logged",
    "holds": "holds",
}
PATH = {"outdoor": "supply", "exhaust": "exhaust", "supply": "supply", "return": "exhaust"}
"""Dampers in the path of the air, each with the fan whose air goes through it."""
COMMON = "common practice, no source"
_BY_DESIGN = {"outdoor_damper": "outdoor", "exhaust_damper": "exhaust"}


def rows_of(view: View, start: Figures) -> list[Row]:
    """All steps of a start that can be told, in the order in which they happen."""
    limits = delays(view, start)
    fans = start.facts["fans"]
    commanded = {fan: fans[fan] for fan in FANS if fan in fans and fans[fan]["command"] == "on"}
    found = [*_dampers(view, start, commanded, limits["damper_proof"]), *_fan_order(commanded, limits)]
    for fan, held in commanded.items():
        found += [*_in_time(fan, held, limits["fan_proof"]), *_losses(fan, held, limits["fan_proof"])]
    return [*found, *_stop(start, commanded, limits["stop"])]


def _row(
    step: str, seen: str, limit: str, state: str, *, source: str = COMMON, code: str, margin_s: float | None = None
) -> Row:
    return {
        "step": step,
        "seen": seen,
        "limit": limit,
        "state": state,
        "source": source,
        "code": code,
        "margin_s": margin_s,
    }


def _own(damper: str, commanded: Mapping[str, Any]) -> tuple[str, ...]:
    """The fan that a damper has to be open for; where that one was not commanded, all that were."""
    fan = PATH[damper]
    return (fan,) if fan in commanded else tuple(commanded)


def _named(fans: tuple[str, ...]) -> str:
    return f"{fans[0]} fan" if len(fans) == 1 else "first fan"


# Dampers


def _dampers(view: View, start: Figures, commanded: Mapping[str, Any], limit: Delay) -> Iterator[Row]:
    held = start.facts["dampers"]
    for name, damper in held.items():
        if name in PATH:
            yield _open_before(name, damper, commanded, limit)
        if damper["proven_s"] is not None:
            yield _travel(name, damper, limit)
    options = (view.place.parts("equipment").get("unit") or {}).get("options") or ()
    for option, name in _BY_DESIGN.items():
        if option in options and name not in held:
            yield _row(
                f"{DAMPERS[name]} open before the {_named(_own(name, commanded))}",
                "in the design, not in this start",
                "",
                "not_timed",
                code="open_before",
            )


def _open_before(name: str, damper: Mapping[str, Any], commanded: Mapping[str, Any], limit: Delay) -> Row:
    fans = _own(name, commanded)
    step = f"{DAMPERS[name]} open before the {_named(fans)}"
    proven = damper["proven_s"]
    times = [commanded[fan]["commanded_s"] for fan in fans]
    if damper["opening"] == "stays_closed":
        return _row(step, "it stays closed", "open, then the fan", "fails", code="open_before")
    if not times or None in times:
        return _row(step, "no time of the fan's command", "open, then the fan", "not_timed", code="open_before")
    first = min(times)
    if proven is not None:
        lead = first - proven
        after = "after" if lead >= 0.0 else "before"
        seen = f"open at {seconds(proven)}, fan at {seconds(first)}: fan {seconds(abs(lead))} {after} proof"
        state = "holds" if lead >= 0.0 else "fails"
        return _row(step, seen, "0 s or more", state, code="open_before", margin_s=lead)
    if damper["proof"] in ("end_switch", "position_signal") or damper["opening"] == "not_seen":
        return _row(step, "its proof was not timed", "open, then the fan", "not_timed", code="open_before")
    return _waits(step, damper, first, limit)


def _waits(step: str, damper: Mapping[str, Any], first: float, limit: Delay) -> Row:
    """A damper that was seen to open and proves nothing by itself: the fan waits for it by the clock."""
    waited = first - damper["commanded_s"]
    seen = f"no switch proves it; seen to open, the fan waits {seconds(waited)}"
    if limit.limit_s is None:
        return _row(step, seen, "not given", "not_given", code="open_before")
    margin = waited - (limit.limit_s - ALLOWANCE_S)
    state = "holds" if margin >= 0.0 else "fails"
    return _row(
        step,
        seen,
        f"at least {_around(limit.limit_s)}",
        state,
        source=limit.source,
        code="open_before",
        margin_s=margin,
    )


def _travel(name: str, damper: Mapping[str, Any], limit: Delay) -> Row:
    took = damper["proven_s"] - damper["commanded_s"]
    return _within(
        f"{DAMPERS[name]} proven within its delay", f"{seconds(took)} after its command", took, limit, "travel"
    )


# Fans


def _fan_order(commanded: Mapping[str, Any], limits: Mapping[str, Delay]) -> Iterator[Row]:
    times = [commanded[fan]["commanded_s"] if fan in commanded else None for fan in FANS]
    limit = limits["exhaust_after_supply"]
    if times[0] is None or times[1] is None or limit.limit_s is None:
        return
    gap = times[1] - times[0]
    where = "after" if gap >= 0.0 else "before"
    yield _near("Exhaust fan after the supply fan", f"{seconds(abs(gap))} {where} it", gap, limit, "fan_order")


def _in_time(fan: str, held: Mapping[str, Any], limit: Delay) -> Iterator[Row]:
    """How soon the air moved. Whether that is proof at all is another question."""
    if held["air"]["seen"] != "moves":
        return
    step = f"{fan.capitalize()} fan proven within its delay"
    at, commanded = held["air"]["at_s"], held["commanded_s"]
    if at is None or commanded is None:
        yield _row(step, "its proof was not timed", "", "not_timed", code="in_time")
    elif at >= commanded:
        yield _within(step, f"air moves {seconds(at - commanded)} after the command", at - commanded, limit, "in_time")


def _losses(fan: str, held: Mapping[str, Any], limit: Delay) -> Iterator[Row]:
    for loss in held["lost"]:
        step = f"{fan.capitalize()} fan, {loss['of']} proof lost at {seconds(loss['at_s'])}"
        lasted = loss["lasted_s"]
        told = "did not come back" if lasted is None else f"for {seconds(lasted)}"
        if loss["alarm_s"] is not None:
            after = loss["alarm_s"] - loss["at_s"]
            yield _near(step, f"{told}; alarm {seconds(after)} after the loss", after, limit, "alarm")
        elif limit.limit_s is None:
            yield _row(step, f"{told}; no alarm", "not given", "not_given", code="alarm")
        elif lasted is not None and lasted <= limit.limit_s + ALLOWANCE_S:
            yield _row(step, f"{told}; no alarm", _around(limit.limit_s), "logged", source=limit.source, code="alarm")
        else:
            yield _row(
                step, f"{told}; no alarm was logged", _around(limit.limit_s), "fails", source=limit.source, code="alarm"
            )


# The stop


def _stop(start: Figures, commanded: Mapping[str, Any], limit: Delay) -> Iterator[Row]:
    stopped = {fan: one["stopped_s"] for fan, one in commanded.items()}
    for fan, at in stopped.items():
        if at is not None and limit.limit_s is not None:
            yield _near(f"{fan.capitalize()} fan stops after the stop command", seconds(at), at, limit, "stop")
    for name, damper in start.facts["dampers"].items():
        closed = damper["closed_s"]
        fans = _own(name, commanded) if name in PATH else ()
        timed = [at for fan in fans if (at := stopped[fan]) is not None]
        if closed is None or not timed:
            continue
        lead = closed - max(timed)
        seen = f"fan stops at {seconds(max(timed))}, closed at {seconds(closed)}"
        state = "holds" if lead >= 0.0 else "fails"
        step = f"{DAMPERS[name]} closed after the {'last fan' if len(fans) > 1 else _named(fans)} stops"
        yield _row(step, seen, "0 s or more", state, code="stop", margin_s=lead)


# A time against its delay


def _within(step: str, seen: str, value: float, limit: Delay, code: str) -> Row:
    if limit.limit_s is None:
        return _row(step, seen, "not given", "not_given", source="", code=code)
    margin = limit.limit_s + ALLOWANCE_S - value
    state = "holds" if margin >= 0.0 else "fails"
    return _row(step, seen, f"at most {_around(limit.limit_s)}", state, source=limit.source, code=code, margin_s=margin)


def _near(step: str, seen: str, value: float, limit: Delay, code: str) -> Row:
    if limit.limit_s is None:
        return _row(step, seen, "not given", "not_given", source="", code=code)
    margin = ALLOWANCE_S - abs(value - limit.limit_s)
    state = "holds" if margin >= -1e-9 else "fails"
    return _row(step, seen, _around(limit.limit_s), state, source=limit.source, code=code, margin_s=margin)


def _around(limit_s: float) -> str:
    return f"{seconds(limit_s)} ± {ALLOWANCE_S:g} s"
