"""Advice for proportional balancing: the key outlet of each branch, the order of work, what each is to read.

No verdict. Made of readings as they stand, preliminary ones too: it is needed while the work goes on.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from commissioning.blocks import Block, Caution, Column, Sentence, Table
from commissioning.dossier import printing
from commissioning.dossier.outlet_readings import OutletReading
from commissioning.dossier.shows import PORTS
from commissioning.engineering.outlets import Outlet, branch_ratio, key_outlet
from commissioning.engineering.proportional_balance import balancing_moves

TOLERANCE = 0.05  # of a ratio over the key's: closer than this nobody sets a damper; common practice, no source
STARVED = 0.5  # below this share of its design a key outlet is a fault to be found; common practice, no source
LADDER = (
    "Outlets are reached from ladders and lifts: secure them, keep people out from beneath, and follow the site's "
    "permits and local rules. Never close every path of a running fan, and leave fire and smoke dampers to those who "
    "hold the permit for them."
)


def advise(readings: Iterable[OutletReading]) -> list[dict[str, Any]]:
    """One entry per branch that is out of proportion, then one per port whose branches are so among themselves."""
    branches: dict[tuple[str, str], list[Outlet]] = {}
    for one in readings:
        if one.airflow_m3_s is not None and one.design_m3_s and not one.doubts:
            held = Outlet(one.name, one.design_m3_s, one.airflow_m3_s)
            branches.setdefault((one.port, one.branch), []).append(held)
    ports: dict[str, list[Outlet]] = {}
    found = []
    for (port, branch), outlets in sorted(branches.items()):
        found += _advice(port, branch, "outlets", outlets)
        designed, measured = (sum(getattr(one, name) for one in outlets) for name in ("design_m3_s", "measured_m3_s"))
        ports.setdefault(port, []).append(Outlet(branch or "without a branch", designed, measured))
    for port, among in sorted(ports.items()):
        found += _advice(port, "", "branches", among)
    return found


def _advice(port: str, branch: str, of: str, outlets: Sequence[Outlet]) -> list[dict[str, Any]]:
    key = key_outlet(outlets)
    moves = balancing_moves(outlets, tolerance=TOLERANCE)
    starved = key.ratio < STARVED and len(outlets) > 1
    if not moves and not starved:
        return []
    design = {one.name: one.design_m3_s for one in outlets}
    return [
        {
            "port": port,
            "branch": branch,
            "of": of,
            "key": key.name,
            "key_ratio": key.ratio,
            "starved": starved,
            "ratio": branch_ratio(outlets),
            "moves": [
                {
                    "name": move.name,
                    "ratio_before": move.before_m3_s / design[move.name],
                    "before_m3_s": move.before_m3_s,
                    "target_m3_s": move.target_m3_s,
                    "ratio": move.ratio,
                    "key_m3_s": move.key_m3_s,
                }
                for move in moves
            ],
        }
    ]


def steps(advice: Sequence[Mapping[str, Any]]) -> list[str]:
    """The same in a sentence for each branch."""
    return [_step(one) for one in advice]


def _step(one: Mapping[str, Any]) -> str:
    share = printing.percent(one["key_ratio"])
    if one["starved"]:
        what = "a closed or fire damper, a kinked flexible duct, a blocked outlet"
        return (
            f"{_where(one)}: {one['key']} has only {share} of its design. Look for {what} before anything is throttled."
        )
    order = ", ".join(move["name"] for move in one["moves"][:8])
    rest = len(one["moves"]) - 8
    more = f" and {rest} more" if rest > 0 else ""
    noun = "branch" if one["of"] == "branches" else "outlet"
    return (
        f"{_where(one)}: the key {noun} is {one['key']} at {share} of design; leave it open and bring {order}{more} "
        f"into proportion with it, in this order. All then stand at about {printing.percent(one['ratio'])}."
    )


def show(advice: Sequence[Mapping[str, Any]], display: str) -> tuple[Block, ...]:
    """The ladder's caution, then a table for each branch: what each outlet is to read, one after another."""
    if not advice:
        return ()
    blocks: list[Block] = [Caution(LADDER, "work at height")]
    for one in advice:
        blocks.append(Sentence(_step(one)))
        if one["moves"] and not one["starved"]:
            blocks.append(_table(one, display))
    blocks.append(
        Sentence(
            "Predicted for a branch that keeps its air while one damper is moved; read the key outlet again after each "
            "move and keep to its ratio. This is advice and no verdict.",
            "aside",
        )
    )
    return tuple(blocks)


def _table(one: Mapping[str, Any], display: str) -> Table:
    unit = printing.airflow_unit(display)
    rows = tuple(
        (
            str(number),
            move["name"],
            printing.percent(move["ratio_before"]),
            printing.airflow(move["before_m3_s"], display),
            printing.airflow(move["target_m3_s"], display),
            printing.percent(move["ratio"]),
            printing.airflow(move["key_m3_s"], display),
        )
        for number, move in enumerate(one["moves"], start=1)
    )
    columns = (
        Column("", align="right"),
        Column("Throttle"),
        Column("Of design before", "", "right"),
        Column("Reads before", unit, "right"),
        Column("Until it reads", unit, "right"),
        Column("Of design, as the key", "", "right"),
        Column(f"{one['key']} then reads", unit, "right"),
    )
    return Table(columns, rows, f"{_where(one)}: from the key on")


def _where(one: Mapping[str, Any]) -> str:
    port = PORTS[one["port"]]
    if one["of"] == "branches":
        return f"{port}, branches"
    return f"{port}, branch {one['branch']}" if one["branch"] else port
