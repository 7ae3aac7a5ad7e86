"""What every requirement's page has in common: the sentence it opens with, the decision, and what to look at next.

All of it is made from the judgement as it is kept (plain JSON values), never from anything computed again.
"""

from collections.abc import Mapping
from typing import Any

from commissioning.blocks import Block, Column, Sentence, Table, WorkingLine
from commissioning.dossier import printing

VERDICTS = {
    "conforms": "Conforms",
    "does_not_conform": "Does not conform",
    "inconclusive": "Inconclusive",
}
ABSENCES = {
    "not_due": "Not due yet",
    "not_given": "Not given",
    "not_judged": "Not judged",
    "recheck": "Re-check",
    "disputed": "Disputed",
    "not_counted": "Not counted",
}
RULES = {
    "simple": "simple acceptance: the limits themselves decide, the uncertainty is printed beside them",
    "guarded_acceptance": "guarded acceptance: the limits are drawn in by the guard",
    "guarded_rejection": "guarded rejection: the limits are moved out by the guard",
}
GRADES = {
    "measured": "measured by us",
    "witnessed": "witnessed",
    "transcribed": "transcribed from another's report",
    "controller": "read off the controller",
    "contractor": "the contractor's own word",
}
CALIBRATIONS = {
    "in_date": "in date",
    "lapsed": "lapsed",
    "failed": "found outside its limits afterwards",
    "none": "none on record",
    "not_applicable": "not applicable",
}
METHODS = {
    "traverse": "duct traverse",
    "hood": "capture hood",
    "station": "flow station",
    "direct": "direct reading",
    "reported": "another firm's report",
    "pressure_drop": "pressure drop of a rated part",
    "fan_curve": "fan curve",
    "outdoor_fraction": "fraction of the supply air",
    "pressure_readings": "pressures read at taps and in spaces",
}
"""How a record was made, in the trade's words."""
PORTS = {
    "supply": "Supply air",
    "return": "Return air",
    "outdoor": "Outdoor air",
    "exhaust": "Exhaust air",
    "": "The unit",
}


def port_of(data: Mapping[str, Any]) -> str:
    return PORTS[data["port"]]


def absent(judgement: Mapping[str, Any], title: str) -> tuple[Block, ...]:
    """The whole page of a judgement without a verdict; empty where there is one."""
    absence = judgement["absence"]
    if absence is None:
        return ()
    return (Sentence(f"{title}, {_lower(port_of(judgement))}: {_lower(ABSENCES[absence['code']])}. {absence['text']}"),)


def lead(judgement: Mapping[str, Any], text: str) -> Sentence:
    provisional = ", provisionally" if judgement["provisional"] else ""
    return Sentence(f"{VERDICTS[judgement['verdict']]}{provisional}. {text}", "lead")


def airflow_with_uncertainty(flow_m3_s: float, expanded_m3_s: float, display: str) -> str:
    unit = printing.airflow_unit(display)
    return f"{printing.airflow(flow_m3_s, display)} ± {printing.airflow_uncertainty(expanded_m3_s, display)} {unit}"


def limits_in_words(low: float | None, high: float | None, *, signed: bool = True) -> str:
    """Of a deviation with its sign, of a share (an effectiveness, a load) without.

    >>> limits_in_words(-0.05, 0.1), limits_in_words(0.0, None), limits_in_words(None, 0.125)
    ('−5 % to +10 %', '0 % or more', 'at most +12.5 %')
    >>> limits_in_words(0.68, None, signed=False), limits_in_words(None, 0.0236299765808, signed=False)
    ('68 % or more', 'at most 2.363 %')
    """

    def told(fraction: float) -> str:
        return _exact_percent(fraction) if signed else f"{printing.minus(f'{100.0 * fraction:.4g}')} %"

    if low is None:
        assert high is not None
        return f"at most {told(high)}"
    if high is None:
        return f"{told(low)} or more"
    return f"{told(low)} to {told(high)}"


def source_of(judgement: Mapping[str, Any], field: str) -> str:
    return str(judgement["sources"].get(field, ""))


def decision(judgement: Mapping[str, Any]) -> tuple[WorkingLine, ...]:
    """The last lines of a working: rule, probability, outcome, version of the rule."""
    rule = RULES[judgement["rule"]]
    multiplier = judgement["facts"].get("guard_multiplier")
    guard = f"guard {multiplier:g} U" if multiplier is not None and judgement["rule"] != "simple" else "no guard"
    probability = judgement["conformance_probability"]
    lines = [WorkingLine("Decision rule", guard, rule, "JCGM 106:2012, 8.2 and 8.3")]
    if probability is not None:
        lines.append(
            WorkingLine(
                "Probability of conformity", "Φ over the limits", f"{100 * probability:.1f} %", "JCGM 106:2012, 7.4"
            )
        )
    version = f"{judgement['requirement'].replace('_', ' ')}, version {judgement['rule_version']}"
    lines.append(WorkingLine("Verdict", "", VERDICTS[judgement["verdict"]].lower(), version))
    return tuple(lines)


def next_steps(judgement: Mapping[str, Any]) -> tuple[Block, ...]:
    """What to look at next, in the order of diagnosis, and the remedy that was worked out, if any."""
    blocks: list[Block] = []
    if judgement["look_next"]:
        rows = tuple((str(number), step) for number, step in enumerate(judgement["look_next"], start=1))
        blocks.append(Table((Column("", align="right"), Column("Look at, in this order")), rows))
    if judgement["remedy"]:
        blocks.append(Sentence(judgement["remedy"]))
    return tuple(blocks)


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def _exact_percent(fraction: float) -> str:
    value = round(100.0 * fraction, 6)
    sign = "+" if value > 0 else ""
    return f"{sign}{value:g} %".replace("-", printing.MINUS)
