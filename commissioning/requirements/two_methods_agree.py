"""Two methods agree: a port that was measured for good by two methods in one session gives one airflow by both.

Two methods are two envelopes of one session. The last final stands and decides, whatever the other one says: neither is
averaged into a verdict. Where they agree the weighted mean is shown, for information; where they do not, one of them
is wrong, and a station is asked whether its factor is another size's.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from commissioning.blocks import Block, Column, Sentence, Table, Working, WorkingLine
from commissioning.dossier import printing, shows
from commissioning.dossier.results import Absence, Judgement, Measurement
from commissioning.dossier.view import Agreement, View, agreement_of
from commissioning.engineering.agreement import weighted_best_estimate
from commissioning.engineering.conformity import Verdict
from commissioning.engineering.stations import neighbouring_factors

CODE = "two_methods_agree"
TITLE = "Two methods agree"
VERSION = 1
PRIORITY = "performance"
FAILS = "two methods disagree"
LARGEST = 1.0
_STEPS = (
    "Operating state: did anything change between the two, dampers and filters included?",
    "Factors, duct dimensions, air basis and units: read both records side by side.",
    "Each method at its weak point: the traverse plane, the hood's back pressure, dirt on what a drop was read over.",
    "Then repeat the one that is easier to doubt; the two are never averaged while they differ.",
)


def judge(view: View) -> Iterator[Judgement]:
    for port in view.ports:
        finals = view.finals(port, view.standing_session)
        if len({one.method for one in finals}) > 1:
            yield _judge(view, port, finals)


def _judge(view: View, port: str, finals: Sequence[Measurement]) -> Judgement:
    if not view.place.is_counted:
        return Judgement(CODE, port, VERSION, absence=view.not_counted())
    pairs = [agreement_of(a, b) for a, b in _pairs([one for one in finals if view.doubt(one) is None])]
    if not pairs:
        return Judgement(CODE, port, VERSION, absence=_nothing_to_compare(view, finals))
    return _compare(view, port, max(pairs, key=lambda pair: pair.normalised_difference))


def _pairs(finals: Sequence[Measurement]) -> Iterator[tuple[Measurement, Measurement]]:
    """In each mode the last final, and the last one by every other method."""
    for mode in dict.fromkeys(one.mode for one in finals):
        last = {one.method: one for one in finals if one.mode == mode}
        stands = [one for one in finals if one.mode == mode][-1]
        yield from ((stands, other) for other in last.values() if other.method != stands.method)


def _nothing_to_compare(view: View, finals: Sequence[Measurement]) -> Absence:
    doubt = next((found for one in finals if (found := view.doubt(one)) is not None), None)
    if doubt is not None:
        return Absence("not_judged", f"One of the two cannot be compared. {doubt.text}")
    return Absence("not_due", "The two methods were used in different modes of operation.")


def _compare(view: View, port: str, pair: Agreement) -> Judgement:
    difference = pair.normalised_difference
    agrees = difference <= LARGEST
    neighbours = [] if agrees else _neighbours(pair)
    asked = tuple(_question(one, view.conventions.display) for one in neighbours)
    return Judgement(
        CODE,
        port,
        VERSION,
        verdict=Verdict.CONFORMS if agrees else Verdict.DOES_NOT_CONFORM,
        provisional=view.is_provisional(pair.standing, pair.verifying),
        value=difference,
        unit="1",
        high=LARGEST,
        clause="normalised difference at most 1 (ISO 13528, from memory)",
        rule="simple",
        margin=LARGEST - difference,
        rests_on=(pair.standing.envelope, pair.verifying.envelope),
        facts={
            "stands": _told(pair.standing),
            "other": _told(pair.verifying),
            "correlation": pair.correlation,
            "best": _best(pair) if agrees else None,
            "neighbours": neighbours,
        },
        look_next=() if agrees else (*asked, *_STEPS),
    )


def _told(one: Measurement) -> dict[str, Any]:
    return {
        "envelope": one.envelope,
        "method": one.method,
        "airflow_m3_s": one.airflow_m3_s,
        "expanded_uncertainty_m3_s": one.expanded_uncertainty_m3_s,
    }


def _best(pair: Agreement) -> dict[str, float] | None:
    a, b = pair.standing, pair.verifying
    if min(a.expanded_uncertainty_m3_s, b.expanded_uncertainty_m3_s) <= 0.0:
        return None
    best = weighted_best_estimate(
        a=a.airflow_m3_s,
        expanded_uncertainty_a=a.expanded_uncertainty_m3_s,
        b=b.airflow_m3_s,
        expanded_uncertainty_b=b.expanded_uncertainty_m3_s,
        correlation=pair.correlation,
    )
    return {
        "airflow_m3_s": best.value,
        "expanded_uncertainty_m3_s": best.expanded_uncertainty,
        "weight_of_what_stands": best.weight_a,
    }


def _neighbours(pair: Agreement) -> list[dict[str, Any]]:
    """Factors of other sizes of the station, of those that its record names, that would explain the difference."""
    both = (pair.standing, pair.verifying)
    for station, other in (both, both[::-1]):
        others = {one["k"]: one["said"] for one in station.facts.get("other_factors", ())}
        if not others or min(one.airflow_m3_s * one.expanded_uncertainty_m3_s for one in both) <= 0.0:
            continue
        found = neighbouring_factors(
            used_factor=station.facts["station_factor"],
            factors=list(others),
            airflow_m3_s=station.airflow_m3_s,
            expanded_uncertainty_m3_s=station.expanded_uncertainty_m3_s,
            other_airflow_m3_s=other.airflow_m3_s,
            other_expanded_uncertainty_m3_s=other.expanded_uncertainty_m3_s,
        )
        if found:
            return [
                {
                    "factor": others[one.factor],
                    "airflow_m3_s": one.airflow_m3_s,
                    "normalised_difference": one.normalised_difference,
                }
                for one in found
            ]
    return []


def _question(neighbour: Mapping[str, Any], display: str) -> str:
    flow = f"{printing.airflow(neighbour['airflow_m3_s'], display)} {printing.airflow_unit(display)}"
    return (
        f"The station's size on its nameplate: with K = {neighbour['factor']}, that of another size, it would read "
        f"{flow} and agree (E = {neighbour['normalised_difference']:.2f})."
    )


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    absent = shows.absent(judgement, TITLE)
    if absent:
        return absent
    facts = judgement["facts"]
    stands, other = facts["stands"], facts["other"]
    text = (
        f"{shows.port_of(judgement)}: {_printed(stands, display)} by {shows.METHODS[stands['method']]}, which stands, "
    )
    text += f"{_printed(other, display)} by {shows.METHODS[other['method']]}."
    return (
        shows.lead(judgement, text),
        *_best_block(facts["best"], display),
        Working(_lines(judgement, display), TITLE),
        *_table(facts["neighbours"], display),
        *shows.next_steps(judgement),
    )


def _printed(one: Mapping[str, Any], display: str) -> str:
    return shows.airflow_with_uncertainty(one["airflow_m3_s"], one["expanded_uncertainty_m3_s"], display)


def _best_block(best: Mapping[str, Any] | None, display: str) -> tuple[Block, ...]:
    if best is None:
        return ()
    return (Sentence(f"For information, both together: {_printed(best, display)}. No verdict rests on it.", "aside"),)


def _lines(judgement: Mapping[str, Any], display: str) -> tuple[WorkingLine, ...]:
    facts = judgement["facts"]
    lines = [
        WorkingLine(label, f"{name}, U", _exact(facts[key], display), shows.METHODS[facts[key]["method"]])
        for label, name, key in (("Last final, stands", "a", "stands"), ("Other method", "b", "other"))
    ]
    correlation = printing.minus(f"{facts['correlation']:.4f}")
    lines += [
        WorkingLine("Shared error", "r, of instruments used for both", correlation),
        WorkingLine(
            "Normalised difference",
            "E = |a - b| / √(U_a² + U_b² - 2 r U_a U_b)",
            f"{judgement['value']:.4f}",
            "ISO 13528, from memory",
        ),
        WorkingLine("Largest", "", "1", judgement["clause"]),
    ]
    best = facts["best"]
    if best is not None:
        weight = f"w = {best['weight_of_what_stands']:.3f} of what stands"
        lines.append(
            WorkingLine("Best estimate", f"w a + (1 - w) b, {weight}", _exact(best, display), "JCGM 100:2008, 5.2.2")
        )
    return (*lines, *shows.decision(judgement))


def _exact(one: Mapping[str, Any], display: str) -> str:
    unit = printing.airflow_unit(display)
    flow, wide = (printing.airflow_exact(one[name], display) for name in ("airflow_m3_s", "expanded_uncertainty_m3_s"))
    return f"{flow} ± {wide} {unit}"


def _table(neighbours: Sequence[Mapping[str, Any]], display: str) -> tuple[Block, ...]:
    if not neighbours:
        return ()
    rows = tuple(
        (one["factor"], printing.airflow(one["airflow_m3_s"], display), f"{one['normalised_difference']:.2f}")
        for one in neighbours
    )
    columns = (
        Column("Factor of another size"),
        Column("The station would read", printing.airflow_unit(display), "right"),
        Column("Normalised difference", "", "right"),
    )
    return (Table(columns, rows, "A question for the nameplate, not a correction"),)
