"""What was judged and measured at a unit, ready to be shown: bands by port, judgements, measurements by session."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.utils.safestring import SafeString

from commissioning.blocks import Band, Block, Sentence
from commissioning.dossier import printing
from commissioning.dossier.shows import GRADES, METHODS, PORTS, limits_in_words
from commissioning.dossier.shows import RULES as RULE_WORDS
from commissioning.judging import KINDS, RULES, headline, place_of, show_measurement
from commissioning.models import CurrentVerdict, JudgedPosition
from commissioning.pages.accepted import Accepted
from commissioning.pages.people import with_names
from commissioning.pages.render import render, render_all
from commissioning.pages.render.marks import outcome
from portfolio.dashboards.words import listed, moment, opening, requirement_in_words
from portfolio.models import Instrument, Position

SESSIONS_SHOWN = 3
_PORTS = list(PORTS)
_OFF = frozenset({"does_not_conform", "inconclusive"})
_WITHOUT_SESSION = frozenset(
    {"checklist", "startup"}
)  # what is answered bit by bit, and belongs to no state of the air
_OF_DESIGN = frozenset({"design_airflow", "outlet_airflow", "room_airflow", "static_pressure", "duct_static_control"})


@dataclass(frozen=True)
class Port:
    title: str
    outcome: SafeString
    sentence: str
    picture: SafeString


@dataclass(frozen=True)
class Opened:
    """A line that opens in place: a judgement or a measurement."""

    anchor: str
    head: str
    outcome: SafeString
    said: str
    aside: str
    body: SafeString
    rests_on: list[tuple[str, str]] = field(default_factory=list)  # where it stands, and what it is


@dataclass
class Session:
    title: str
    stands: bool
    when: str
    lines: list[Opened]


@dataclass
class Story:
    ports: list[Port]
    judgements: list[Opened]
    sessions: list[Session]
    hidden_sessions: int
    problems: list[Mapping[str, Any]]
    judged_at: str
    not_final: frozenset[str]  # envelopes that were sent as final and count as preliminary


def read(unit: Position, display: str, *, show_all: bool, accepted: Accepted) -> Story:
    zone = unit.building.site.time_zone
    judged = JudgedPosition.objects.filter(pk=unit.pk).first()
    measurements = _named(judged.measurements if judged else [])
    verdicts = list(CurrentVerdict.objects.filter(position=unit).select_related("judgement"))
    verdicts.sort(key=_order)
    by_envelope = {f"{one['envelope']} {one['port']}": one for one in measurements}
    results = dict(zip([v.pk for v in verdicts], with_names([v.judgement.result for v in verdicts]), strict=True))
    blocks = {v.pk: _blocks(v, results[v.pk], by_envelope, display) for v in verdicts}
    sessions = _sessions(measurements, verdicts, display, zone)
    shown = sessions if show_all else sessions[:SESSIONS_SHOWN]
    here = frozenset(line.anchor for session in shown for line in session.lines)
    return Story(
        ports=[_port(v, blocks[v.pk], accepted) for v in verdicts if v.requirement == "design_airflow"],
        judgements=[_judgement(v, blocks[v.pk], by_envelope, accepted, here) for v in verdicts],
        sessions=shown,
        hidden_sessions=len(sessions) - len(shown),
        problems=judged.problems if judged else [],
        judged_at=moment(judged.judged_at, zone) if judged else "",
        not_final=frozenset(str(one["envelope"]) for one in measurements if "not_final" in one["facts"]),
    )


def _order(verdict: CurrentVerdict) -> tuple[int, int]:
    codes = list(RULES)
    rank = codes.index(verdict.requirement) if verdict.requirement in codes else len(codes)
    return rank, _PORTS.index(verdict.port) if verdict.port in _PORTS else 9


def _named(measurements: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Instruments by their name instead of their id."""
    held = [dict(one) for one in measurements]
    ids = {id for one in held for id in (one["instrument"], *one.get("instruments", ())) if id}
    names = {str(i.pk): str(i) for i in Instrument.objects.filter(pk__in=ids)}
    for one in held:
        if one["instrument"]:
            one["instrument"] = names.get(str(one["instrument"]), one["instrument"])
        if "instruments" in one:
            one["instruments"] = [names.get(id, id) for id in one["instruments"]]
    return held


def _blocks(
    verdict: CurrentVerdict, result: Mapping[str, Any], by_envelope: Mapping[str, Any], display: str
) -> tuple[Block, ...]:
    rule = RULES.get(verdict.requirement)
    if rule is None or result.get("rule_version") != rule.VERSION:
        return (Sentence("This was judged by another version of the rule. Its working shows once it is judged again."),)
    return rule.show(result, by_envelope, display)


def _said(blocks: Sequence[Block]) -> str:
    return next((block.text for block in blocks if isinstance(block, Sentence)), "")


def _port(verdict: CurrentVerdict, blocks: Sequence[Block], accepted: Accepted) -> Port:
    band = next((block for block in blocks if isinstance(block, Band)), None)
    said = _said(blocks)
    return Port(
        title=PORTS.get(verdict.port, verdict.port),
        outcome=_outcome(verdict, accepted),
        sentence=said.partition(": ")[2] or said,
        picture=render(band) if band is not None else SafeString(""),
    )


def _outcome(verdict: CurrentVerdict, accepted: Accepted) -> SafeString:
    """The verdict stays what it is; who accepted it as it is stands behind it, and it raises no alarm any more."""
    after = ", provisional" if verdict.provisional else ""
    by = accepted.get((verdict.requirement, verdict.port), "")
    return outcome(verdict.outcome, after=f"{after}, {by}" if by and verdict.outcome in _OFF else after, taken=bool(by))


def _judgement(
    verdict: CurrentVerdict,
    blocks: Sequence[Block],
    by_envelope: Mapping[str, Any],
    accepted: Accepted,
    here: frozenset[str],
) -> Opened:
    result = verdict.judgement.result
    where = place_of(verdict.port, [verdict.requirement]) or "the unit"
    rests_on = [
        (f"#{anchor}" if anchor in here else f"?sessions=all#{anchor}", f"{_where(one)}, {_occasion(one)}")
        for one in by_envelope.values()
        if one["envelope"] in result.get("rests_on", ()) and (not one["port"] or verdict.port in ("", one["port"]))
        for anchor in [_anchor(one)]
    ]
    said = _said(blocks)
    return Opened(
        anchor=f"j-{verdict.requirement}-{verdict.port}",
        head=f"{requirement_in_words(verdict.requirement)}, {where}",
        outcome=_outcome(verdict, accepted),
        said=_without(opening(where), said.partition(". ")[2] or said),
        aside=_decided_by(result),
        body=render_all(block for block in blocks if not (isinstance(block, Sentence) and block.text == said)),
        rests_on=rests_on,
    )


def _without(port: str, said: str) -> str:
    """What is said, without the port that stands before it already."""
    text = said.removeprefix(f"{port}: ")
    return text[:1].upper() + text[1:]


def _decided_by(result: Mapping[str, Any]) -> str:
    """Limits, clause, decision rule and the rule's version, as far as they are there."""
    parts = []
    if result.get("verdict") and result.get("unit") == "1" and (result.get("low"), result.get("high")) != (None, None):
        limits = (result["low"], result["high"])
        parts.append(f"limits {limits_in_words(*limits, signed=_is_of_a_deviation(result['requirement'], *limits))}")
    if result.get("clause"):
        parts.append(str(result["clause"]))
    if result.get("rule"):
        parts.append(RULE_WORDS.get(result["rule"], str(result["rule"])).partition(":")[0])
    parts.append(f"rule version {result.get('rule_version', '?')}")
    return "; ".join(parts)


def _is_of_a_deviation(requirement: str, low: float | None, high: float | None) -> bool:
    """Whether limits lie about a design; those of a share, such as an effectiveness or a leakage, lie above nothing."""
    return low <= 0.0 if low is not None else requirement in _OF_DESIGN


def _sessions(
    measurements: Sequence[dict[str, Any]], verdicts: Sequence[CurrentVerdict], display: str, zone: str
) -> list[Session]:
    """Newest first. Only lines of sessions that are looked at are made into HTML."""
    groups: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for one in measurements:
        groups.setdefault((one["session"], one["purpose"]), []).append(one)
    first = {key: datetime.fromisoformat(held[0]["observed_at"]) for key, held in groups.items()}
    as_left = [key for key in groups if key[1] == "as_left"]
    of_airflow = [key for key in as_left if any(one["port"] for one in groups[key])]  # these alone set the state
    standing = max(of_airflow, key=lambda key: (first[key], key[0]), default=None)
    return [
        Session(
            title=_title(name, purpose, held),
            stands=(name, purpose) == standing,
            when=moment(first[name, purpose], zone),
            lines=[_measurement(one, display, zone) for one in sorted(held, key=lambda m: m["stage"] != "final")],
        )
        for (name, purpose), held in sorted(groups.items(), key=lambda item: first[item[0]], reverse=True)
    ]


def _title(name: str, purpose: str, held: Sequence[Mapping[str, Any]]) -> str:
    kinds = {one["kind"] for one in held}
    alone = kinds.pop() if len(kinds) == 1 else ""
    return KINDS[alone].TITLE if alone in _WITHOUT_SESSION else f"Session {name}, {purpose.replace('_', ' ')}"


def _occasion(one: Mapping[str, Any]) -> str:
    if one["kind"] in _WITHOUT_SESSION:
        return printing.moment(one["observed_at"])
    return f"{one['stage']} of session {one['session']}"


def _measurement(one: Mapping[str, Any], display: str, zone: str) -> Opened:
    blocks = [block for block in show_measurement(one, display) if not _is_lead(block)]
    grade = GRADES.get(one["grade"], one["grade"])
    method = METHODS.get(one["method"], one["method"].replace("_", " "))
    named = one.get("instruments") or [one["instrument"] or "no instrument of ours"]
    tools = f", {listed(named)}" if one["port"] or one["instrument"] or one["calibration"] != "not_applicable" else ""
    return Opened(
        anchor=_anchor(one),
        head=_where(one),
        outcome=SafeString(""),
        said=headline(one, display) + ("" if one["kind"] in _WITHOUT_SESSION else f", {one['stage']}"),
        aside=f"{method}, {grade}{tools}; {moment(datetime.fromisoformat(one['observed_at']), zone)}",
        body=render_all([*_doubts(one), *blocks]),
    )


def _anchor(one: Mapping[str, Any]) -> str:
    return f"m-{one['envelope']}-{one['port']}"


def _where(one: Mapping[str, Any]) -> str:
    """The port of an airflow; of another record, what it is a record of."""
    return PORTS[one["port"]] if one["port"] else KINDS[one["kind"]].TITLE


def _is_lead(block: Block) -> bool:
    return isinstance(block, Sentence) and block.weight != "aside"


def _doubts(one: Mapping[str, Any]) -> list[Block]:
    said: list[Block] = [Sentence(f"No verdict can rest on it: {fault}.") for fault in one.get("faults", ())]
    if one.get("unseen"):
        said.append(Sentence(f"Nobody looked at: {', '.join(one['unseen'])}.", "aside"))
    return said
