"""A start as blocks: the caution, what happened in one sentence, then permissives, dampers, fans, what was read."""

from collections.abc import Mapping
from typing import Any

from commissioning.blocks import Block, Column, Sentence, Table
from commissioning.dossier import printing
from commissioning.dossier.checklist_shows import who_next
from commissioning.dossier.pressure_parts import printed as pressure
from commissioning.dossier.shows import GRADES
from commissioning.dossier.startup import words
from commissioning.dossier.startup.words import CAUTION, cause_of, period_of, seconds


def headline(measurement: Mapping[str, Any], display: str) -> str:
    """
    >>> fan = {"command": "on", "air": {"seen": "still"}}
    >>> held = {"not_running": None, "temporary": None, "fans": {"supply": fan}}
    >>> headline({"facts": held}, "ip")
    'supply fan commanded, no air moves'
    >>> stop = {"cause": "no_power", "note": "", "trade": "electrical", "company": ""}
    >>> headline({"facts": held | {"not_running": stop}}, "ip")
    'does not run: no power; supply fan commanded, no air moves'
    """
    facts = measurement["facts"]
    told = [f"does not run: {cause_of(facts['not_running'])}"] if facts["not_running"] else []
    told += [f"temporary operation {period_of(facts['temporary'])}"] if facts["temporary"] else []
    told += [f"{fan} fan {_command(one)}, {words.AIR[one['air']['seen']]}" for fan, one in facts["fans"].items()]
    return "; ".join(told) or "permissives and dampers, no fan commanded"


def show(measurement: Mapping[str, Any], display: str) -> tuple[Block, ...]:
    facts = measurement["facts"]
    when = printing.moment(measurement["observed_at"])
    blocks: list[Block] = [
        CAUTION,
        Sentence(f"Start, {GRADES[measurement['grade']]}; {measurement['stage']}, {when}.", "plain"),
    ]
    blocks += [Sentence(text) for text in _told_first(facts)]
    if facts["start_command"]:
        blocks.append(Sentence(f"Start command: {printing.moment(facts['start_command'])}."))
    blocks += [_permissives(facts["permissives"]), *_dampers(facts["dampers"]), *_fans(facts["fans"])]
    blocks += [*_losses(facts["fans"]), *_settled(facts["fans"], display), *_limits(facts["limits"])]
    if facts["controller"] == "none":
        blocks.append(Sentence("The unit has no controller: there are no settings to leave.", "aside"))
    return (*blocks, *(Sentence(remark, "aside") for remark in measurement["remarks"]))


def _told_first(facts: Mapping[str, Any]) -> list[str]:
    told = []
    if stop := facts["not_running"]:
        told.append(f"It does not run: {cause_of(stop)}. {_who(stop)} unblocks it.")
    if temporary := facts["temporary"]:
        company = f", {temporary['company']}" if temporary["company"] else ""
        hours = f", {temporary['hours']}" if temporary["hours"] else ""
        run = f"; {temporary['hours_run']:g} h run" if temporary["hours_run"] is not None else ""
        told.append(
            f"Temporary operation {period_of(temporary)}{hours}{run}, with {words.FILTERS[temporary['filters']]}; "
            f"allowed by {temporary['allowed_by']}{company}. No reading of that time is final."
        )
    return told


def _who(stop: Mapping[str, Any]) -> str:
    who = who_next(stop["trade"], stop["company"])
    return f"{who[:1].upper()}{who[1:]}"


def _command(fan: Mapping[str, Any]) -> str:
    return "commanded" if fan["command"] == "on" else "not commanded"


def _permissives(held: Mapping[str, str]) -> Table:
    rows = tuple((words.PERMISSIVES[name], words.SEEN[seen]) for name, seen in held.items())
    return Table((Column("Permissive"), Column("Seen")), rows, "Permissives")


def _dampers(held: Mapping[str, Mapping[str, Any]]) -> tuple[Block, ...]:
    rows = tuple(
        (
            words.DAMPERS[name],
            words.OPENINGS[one["opening"]],
            words.PROOFS[one["proof"]],
            _time(one["commanded_s"]),
            _time(one["proven_s"]),
            _time(one["closed_s"]),
        )
        for name, one in held.items()
    )
    titles = ("Damper", "Opening", "Proof")
    times = ("Commanded", "Proven open", "Closed after the stop")
    columns = (*(Column(one) for one in titles), *(Column(one, "", "right") for one in times))
    return (Table(columns, rows, "Dampers, from the start command"),) if rows else ()


def _fans(held: Mapping[str, Mapping[str, Any]]) -> tuple[Block, ...]:
    blocks: list[Block] = []
    for fan, one in held.items():
        by = words.AIR_BY.get(one["air"]["by"], "")
        how = words.ROTATION_BY.get(one["rotation_by"], "")
        rows = (
            ("Command", _command(one), _time(one["commanded_s"])),
            ("Current", words.CURRENTS[one["current"]["seen"]], _time(one["current"]["at_s"])),
            ("Air", ", ".join(filter(None, (words.AIR[one["air"]["seen"]], by))), _time(one["air"]["at_s"])),
            ("Rotation", " ".join(filter(None, (words.ROTATIONS[one["rotation"]], how))), ""),
            ("Electrical readings", words.ELECTRICAL[one["electrical"]], ""),
            ("Stopped, from the stop command", "", _time(one["stopped_s"])),
        )
        shown = tuple(row for row in rows if row[1] or row[2])
        columns = (Column("Step"), Column("Seen"), Column("At", "", "right"))
        blocks.append(Table(columns, shown, f"{fan.capitalize()} fan, from the start command"))
    return tuple(blocks)


def _losses(fans: Mapping[str, Mapping[str, Any]]) -> tuple[Block, ...]:
    rows = tuple(
        (
            fan,
            loss["of"],
            _time(loss["at_s"]),
            _time(loss["lasted_s"]) or "did not come back",
            _time(loss["alarm_s"]) or "none logged",
            "yes" if loss["on_purpose"] else "no",
        )
        for fan, one in fans.items()
        for loss in one["lost"]
    )
    titles = ("Fan", "Proof of", "Lost at", "For", "Alarm at", "On purpose")
    return (Table(tuple(Column(one) for one in titles), rows, "Losses of proof"),) if rows else ()


def _settled(fans: Mapping[str, Mapping[str, Any]], display: str) -> tuple[Block, ...]:
    rows = tuple(
        (fan, _time(read["after_s"]), *_read(read, display)) for fan, one in fans.items() if (read := one["settled"])
    )
    titles = ("Fan", "After", "Speed", "Pressure rise", "Airflow")
    caption = "Read after settling; shown and not judged"
    return (Table(tuple(Column(one) for one in titles), rows, caption),) if rows else ()


def _read(read: Mapping[str, Any], display: str) -> tuple[str, str, str]:
    speed, rise, flow = read["speed_rpm"], read["pressure_rise_pa"], read["airflow_m3_s"]
    return (
        "" if speed is None else f"{speed:.0f} rpm",
        "" if rise is None else pressure(rise, None, display),
        "" if flow is None else f"{printing.airflow(flow, display)} {printing.airflow_unit(display)}",
    )


def _limits(limits: Mapping[str, Any]) -> tuple[Block, ...]:
    names = {
        "damper_proof_s": "Damper proven within",
        "fan_proof_s": "Fan proven within",
        "exhaust_after_supply_s": "Exhaust fan after the supply fan by",
    }
    rows = tuple(
        (name, seconds(limits[code]), limits["source"]) for code, name in names.items() if limits[code] is not None
    )
    columns = (Column("Delay"), Column("Limit", "", "right"), Column("Given by"))
    return (Table(columns, rows, "Delays given with this record"),) if rows else ()


def _time(value: float | None) -> str:
    return "" if value is None else seconds(value)
