"""Writes docs/diagnosis.md, each cause planted at growing size: `python -m tests.engineering.diagnosis_page`.

The page is committed and a test holds it against the code. Confusions stand in it as they are.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from commissioning.engineering.diagnosis import Cause, Symptoms, diagnose, relative_change
from commissioning.engineering.diagnosis_table import SIGNATURES, FanWheel, Quantity, Signature
from tests.engineering.fan_stream import AGAINST_DESIGN, AGAINST_EARLIER, WHOLE, Broken, readings

PAGE = Path(__file__).parents[2] / "docs" / "diagnosis.md"
NOISY = 20
Q = Quantity
Seen = dict[str, tuple[str, ...]]
NOTHING_SEEN: Seen = {"method": ("station",), "others_on_riser": ("none",)}


@dataclass(frozen=True)
class Planted:
    """A cause at growing sizes."""

    code: str
    words: str
    sizes: tuple[float, ...]
    broken: Callable[[float], Broken]
    seen: Seen
    size_words: Callable[[float], str]


def _times(part: str) -> Callable[[float], Broken]:
    return lambda factor: Broken(factors={part: factor})


def _factor(size: float) -> str:
    return f"×{size:.3g}"


def _share(size: float) -> str:
    return f"{100.0 * size:.3g} %"


def _plain(size: float) -> str:
    return "as it is"


PLANTED: tuple[Planted, ...] = (
    Planted("nothing", "all in order", (1.0,), lambda s: WHOLE, {}, _plain),
    Planted("suction_closed", "resistance before the filter", (1.2, 1.5, 2, 4, 10, 30), _times("intake"), {}, _factor),
    Planted("filter_loaded", "resistance of the filter", (1.1, 1.3, 2, 4, 10, 30), _times("filter"), {}, _factor),
    Planted(
        "construction_filter",
        "resistance of the filter, seen to be a construction one",
        (1.3, 2, 4),
        _times("filter"),
        {"filters": ("construction",)},
        _factor,
    ),
    Planted("filter_missing", "resistance of the filter", (0.9, 0.7, 0.3, 0.05), _times("filter"), {}, _factor),
    Planted("core_blocked", "resistance of the core", (1.1, 1.3, 2, 4, 10), _times("core"), {}, _factor),
    Planted("bypass_open", "opening beside the core", (0.02, 0.1, 0.3, 1.0), lambda s: Broken(bypass=s), {}, _share),
    Planted("leak_before", "leak before the fan", (0.01, 0.03, 0.1, 0.3), lambda s: Broken(leak_before=s), {}, _share),
    Planted(
        "leak_across",
        "air taken by the other stream",
        (0.01, 0.05, 0.2, 0.5),
        lambda s: Broken(leak_across=s),
        {"streams": ("two",)},
        _share,
    ),
    Planted("leak_after", "leak after the fan", (0.01, 0.03, 0.1, 0.3), lambda s: Broken(leak_after=s), {}, _share),
    Planted("discharge_closed", "resistance of the duct", (1.05, 1.2, 1.6, 3, 8), _times("duct"), {}, _factor),
    Planted("duct_heavier", "resistance of the duct", (1.05, 1.2, 1.6, 3), _times("duct"), {}, _factor),
    Planted("duct_lighter", "resistance of the duct", (0.97, 0.9, 0.7, 0.4), _times("duct"), {}, _factor),
    Planted(
        "others_on_riser",
        "other units that run",
        (0.9, 0.6, 0.3, 0.0),
        lambda s: Broken(others=s),
        {"others_on_riser": ("not_seen",)},
        _share,
    ),
    Planted("wrong_factor", "airflow read", (1.03, 1.08, 1.21, 0.93, 0.8), lambda s: Broken(misread=s), {}, _factor),
    Planted(
        "wrong_plane",
        "airflow read",
        (1.03, 1.1, 0.9, 0.66),
        lambda s: Broken(misread=s),
        {"method": ("traverse",)},
        _factor,
    ),
    Planted("reversed", "wheel turned round", (1.0,), lambda s: Broken(reversed_=True), {}, _plain),
    Planted("speed", "speed", (0.99, 0.97, 0.9, 0.8, 1.1), lambda s: Broken(speed=s), {}, _factor),
    Planted(
        "wrong_unit",
        "saved from a unit of another size, serial seen",
        (1.3,),
        lambda s: Broken(misread=s),
        {"serial": ("another",)},
        _factor,
    ),
    Planted("wheel_stopped", "seen to stand", (1.0,), lambda s: WHOLE, {"wheel": ("stopped",)}, _plain),
)
SETS = (("everything, against an earlier reading", AGAINST_EARLIER), ("a usual record, against design", AGAINST_DESIGN))


@cache
def _true(broken_of: Callable[[float], Broken], size: float) -> tuple[dict[Quantity, float], dict[Quantity, float]]:
    broken = broken_of(size)
    whole = WHOLE if broken.others is None else Broken(others=1.0)
    return readings(broken), readings(whole)


def read(
    planted: Planted, size: float, uncertainties: dict[Quantity, float], dice: random.Random | None = None
) -> tuple[Cause, ...]:
    """What is named for a planted cause, with or without errors of reading."""
    now, before = _true(planted.broken, size)
    changes = {
        quantity: relative_change(
            now=now[quantity] * (math.exp(dice.gauss(0.0, u)) if dice else 1.0),
            reference=before[quantity],
            relative_uncertainty=u,
        )
        for quantity, u in uncertainties.items()
    }
    return diagnose(Symptoms(changes, Q.OUTLET_FLOW, NOTHING_SEEN | planted.seen, FanWheel.BACKWARD))


def of_noisy(planted: Planted, size: float, uncertainties: dict[Quantity, float]) -> tuple[int, int]:
    """How often, of the noisy readings, the planted cause is named first, and how often it stands."""
    first = stands = 0
    for number in range(NOISY):
        dice = random.Random(f"{planted.code} {size} {number}")
        found = read(planted, size, uncertainties, dice)
        named = [cause.code for cause in found if cause.stands or cause.code == "wheel_stopped"]
        first += named[:1] == [planted.code] or (planted.code == "nothing" and not named)
        stands += planted.code in named or (planted.code == "nothing" and not named)
    return first, stands


def smallest(planted: Planted, uncertainties: dict[Quantity, float]) -> tuple[float, float] | None:
    """The smallest size, on its way to the largest, from which on the planted cause stands; and its airflow."""
    if len(planted.sizes) == 1:
        return None
    for size in _between(planted):
        found = read(planted, size, uncertainties)
        if any(cause.code == planted.code and cause.stands for cause in found):
            now, before = _true(planted.broken, size)
            return size, now[Q.OUTLET_FLOW] / before[Q.OUTLET_FLOW] - 1.0
    return None


def _between(planted: Planted) -> Iterator[float]:
    """Forty steps from nothing to the largest size of the first direction in which it is planted."""
    first, last = planted.sizes[0], _furthest(planted)
    nothing = 1.0 if planted.size_words is _factor or planted.code == "others_on_riser" else 0.0
    assert (first - nothing) * (last - nothing) > 0.0
    for step in range(1, 41):
        share = (step / 40.0) ** 2
        yield nothing + share * (last - nothing)


def _furthest(planted: Planted) -> float:
    up = planted.sizes[0] > 1.0 if planted.size_words is _factor else planted.code != "others_on_riser"
    return max(planted.sizes) if up else min(planted.sizes)


def page() -> str:
    lines = [
        "# Diagnosis",
        "",
        "A port that does not conform gets its likely first causes in order, each with its evidence, before anybody",
        "turns a speed. The causes are the rows of one table; `commissioning/engineering/diagnosis.py` holds the",
        "readings against it. This page shows what the table can tell apart and what not. Each cause is planted at",
        "growing size in a simulation with its own physics (`tests/engineering/fan_stream.py`), and the page says what",
        "is named. *Level* are causes whose score differs by less than 1 and which the order of diagnosis alone parts;",
        "*standing* are those that the readings do not exclude (less than 4 above the best).",
        "",
        "Written by `python -m tests.engineering.diagnosis_page`, and held against the code by a test.",
        "",
        *_table(),
        *_found(),
        *_confusions(),
        *_visible(),
        *_amps(),
    ]
    return "\n".join(lines) + "\n"


_HEADS = {
    Q.INLET_FLOW: "inlet",
    Q.OUTLET_FLOW: "after fan",
    Q.OUTLETS: "outlets",
    Q.INTAKE: "Δp intake",
    Q.FILTER: "Δp filter",
    Q.CORE: "Δp core",
    Q.DISCHARGE: "static after fan",
    Q.RISE: "fan's rise",
    Q.SPEED: "speed",
    Q.CURRENT: "current",
}


def _table() -> Iterator[str]:
    yield from (
        "## The table",
        "",
        "Per unit of the cause's size, which is the logarithm of the airflow that it takes or adds: −1 falls as the",
        "airflow falls, −2 with its square, 0 stays; empty may do anything. A throttled fan's current falls with a",
        "forward-curved wheel and hardly moves with a backward-curved one; without knowing the wheel both are allowed.",
        "",
        "| cause | " + " | ".join(_HEADS.values()) + " | seen for it | seen against it |",
        "| --- |" + " --- |" * (len(_HEADS) + 2),
    )
    for row in SIGNATURES:
        cells = [_cell(row, quantity) for quantity in _HEADS]
        yield f"| `{row.code}` | {' | '.join(cells)} | {_seen(row.shown_by)} | {_seen(row.excluded_by)} |"
    yield ""


def _cell(row: Signature, quantity: Quantity) -> str:
    if quantity is Q.CURRENT and row.current_is_throttled:
        return "throttled" if row.current_is_throttled > 0.0 else "opened"
    if row.judged is not None:
        return "0, the judged one 1" if quantity in (Q.INLET_FLOW, Q.OUTLET_FLOW, Q.OUTLETS) else "0"
    cell = row.cells.get(quantity)
    if cell is None:
        return ""
    low, high = cell
    if low == high:
        return _number(low)
    return f"{_number(low)} to {_number(high)}"


def _number(value: float) -> str:
    if math.isinf(value):
        return "any" if value > 0.0 else "−any"
    return f"{value:g}".replace("-", "−")


def _seen(given: tuple[tuple[str, str], ...]) -> str:
    return ", ".join(f"{name} {value}".replace("_", " ") for name, value in given)


def _found() -> Iterator[str]:
    yield from (
        "## What is named",
        "",
        "Without errors of reading; the last two columns count how often the planted cause comes first, and how often",
        f"it stands, in {NOISY} readings with errors of the stated uncertainties (where nothing is planted: how often",
        "nothing is named). *Everything* is all ten quantities, against an earlier",
        "reading by the same instruments (airflow 3 %, outlets 4 %, pressures 5 %, speed 0.7 %, current 3 % of the",
        "ratio). *A usual record* is both airflows (3 %), the static pressure after the fan against the schedule's",
        "(20 %), speed (5 %) and current against three quarters of the nameplate's (25 %). Nobody looked at the",
        "operating state unless the row says so; the airflow after the fan is the judged one.",
        "",
        "| planted | size | airflow | read | named first | level with it | also standing | first | stands |",
        "| --- | --- | --- | --- | --- | --- | --- | --- | --- |",
    )
    for planted in PLANTED:
        for size in planted.sizes:
            now, before = _true(planted.broken, size)
            air = _per_cent(now[Q.OUTLET_FLOW] / before[Q.OUTLET_FLOW])
            for label, uncertainties in SETS:
                named = _named(read(planted, size, uncertainties))
                first, stands = of_noisy(planted, size, uncertainties)
                told = f"`{planted.code}`: {planted.words} | {planted.size_words(size)} | {air}"
                yield f"| {told} | {label.split(',')[0]} | {named} | {first} | {stands} |"
    yield ""


def _per_cent(ratio: float) -> str:
    whole = round(100.0 * (ratio - 1.0))
    return "0 %" if whole == 0 else f"{whole:+d} %".replace("-", "−")


def _named(found: tuple[Cause, ...]) -> str:
    if not found:
        return "nothing: hidden in the uncertainty | | "
    first = found[0]
    level = [c.code for c in found[1:] if c.stands and int(c.score + 1e-9) == int(first.score + 1e-9)]
    others = [c.code for c in found[1:] if c.stands and c.code not in level]
    return f"`{first.code}` | {_codes(level)} | {_codes(others)}"


def _codes(codes: list[str]) -> str:
    return ", ".join(f"`{code}`" for code in codes)


def _confusions() -> Iterator[str]:
    yield from (
        "## What is taken for what",
        "",
        "Of the rows above: the causes named level with the planted one or before it, which more readings or a look at",
        "the unit have to part. `duct_heavier` has the sign of `discharge_closed`: only opening up tells them apart.",
        "",
        "| planted | " + " | ".join(label for label, _ in SETS) + " |",
        "| --- | --- | --- |",
    )
    for planted in PLANTED:
        cells = [_codes(_taken_for(planted, uncertainties)) or "none" for _, uncertainties in SETS]
        yield f"| `{planted.code}` | {' | '.join(cells)} |"
    yield ""


def _taken_for(planted: Planted, uncertainties: dict[Quantity, float]) -> list[str]:
    taken: dict[str, None] = {}
    for size in planted.sizes:
        found = [cause for cause in read(planted, size, uncertainties) if cause.stands]
        own = next((int(cause.score + 1e-9) for cause in found if cause.code == planted.code), 0)
        taken |= {c.code: None for c in found if c.code != planted.code and int(c.score + 1e-9) <= own}
    return list(taken)


def _visible() -> Iterator[str]:
    yield from (
        "## From which size on it shows",
        "",
        "The smallest planted size, without errors of reading, at which the planted cause stands among the named ones;",
        "what the operating state shows (a construction filter, another serial) shows at any size.",
        "",
        "| planted | " + " | ".join(label for label, _ in SETS) + " |",
        "| --- | --- | --- |",
    )
    for planted in PLANTED:
        if len(planted.sizes) > 1 and planted.code != "construction_filter":
            cells = [_smallest(planted, uncertainties) for _, uncertainties in SETS]
            yield f"| `{planted.code}`: {planted.words} | {' | '.join(cells)} |"
    yield ""


def _smallest(planted: Planted, uncertainties: dict[Quantity, float]) -> str:
    found = smallest(planted, uncertainties)
    if found is None:
        return "not by these readings"
    return f"{planted.size_words(found[0])} (airflow {100.0 * found[1]:+.1f} %)".replace("-", "−")


def _amps() -> Iterator[str]:
    yield from (
        "## What the current does when the air is throttled",
        "",
        "In the simulation; the part of the current that only magnetises is 45 %.",
        "",
        "| resistance of the filter | airflow | current, backward-curved wheel | current, forward-curved wheel |",
        "| --- | --- | --- | --- |",
    )
    for size in (2.0, 4.0, 10.0, 30.0):
        broken = Broken(factors={"filter": size})
        both = [readings(broken, wheel) for wheel in (FanWheel.BACKWARD, FanWheel.FORWARD)]
        amps = [_per_cent(one[Q.CURRENT]) for one in both]
        yield f"| ×{size:g} | {_per_cent(both[0][Q.OUTLET_FLOW])} | {amps[0]} | {amps[1]} |"


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
