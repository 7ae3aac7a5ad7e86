"""One session: the finals of a unit's ports belong to one as-left session, since each change moves the other ports."""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block, Column, Table
from commissioning.dossier import shows
from commissioning.dossier.results import Absence, Judgement, Measurement
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Verdict

CODE = "one_session"
TITLE = "One session"
VERSION = 1
PRIORITY = "performance"
FAILS = "finals of more than one session"
ANY_MODE = ("design_maximum", "minimum", "other")


def judge(view: View) -> Iterator[Judgement]:
    if len(view.ports) < 2:
        return
    if not view.place.is_counted:
        yield Judgement(CODE, "", VERSION, absence=view.not_counted())
        return
    found = {port: view.final(port, ANY_MODE) for port in view.ports}
    older = [port for port, one in found.items() if isinstance(one, Absence) and one.code == "recheck"]
    missing = [port for port, one in found.items() if isinstance(one, Absence) and one.code != "recheck"]
    finals = [one for one in found.values() if isinstance(one, Measurement)]
    if missing:
        text = f"Final readings are missing at {_listed(missing)}."
        yield Judgement(CODE, "", VERSION, absence=Absence("not_due", text))
        return
    sessions = {port: view.last_final_session(port) for port in view.ports}
    yield Judgement(
        CODE,
        "",
        VERSION,
        verdict=Verdict.DOES_NOT_CONFORM if older else Verdict.CONFORMS,
        provisional=False,
        clause="finals of one as-left session",
        rule="simple",
        rests_on=tuple(dict.fromkeys(one.envelope for one in finals)),
        facts={"standing_session": view.standing_session, "sessions": sessions},
        look_next=(f"Read {_listed(older)} again in session {view.standing_session}.",) if older else (),
    )


def _listed(ports: list[str]) -> str:
    return ", ".join(ports)


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    absent = shows.absent(judgement, TITLE)
    if absent:
        return absent
    facts = judgement["facts"]
    conforms = judgement["verdict"] == "conforms"
    text = (
        f"All finals belong to session {facts['standing_session']}."
        if conforms
        else f"The unit was touched in session {facts['standing_session']}, and not every port was read again."
    )
    rows = tuple((shows.PORTS[port], session) for port, session in facts["sessions"].items())
    return (
        shows.lead(judgement, text),
        Table((Column("Port"), Column("Session of its final")), rows),
        *shows.next_steps(judgement),
    )
