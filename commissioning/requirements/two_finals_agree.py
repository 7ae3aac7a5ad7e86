"""Two finals agree: of the finals that stand, none differs from its repeat by more than both uncertainties allow.

Only where somebody verified: a sample is repeated, and a port outside of it owes nothing. A dispute lasts until a new
as-left session: then a single final stands again, and nothing is left that it could disagree with.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block, Working, WorkingLine
from commissioning.dossier import printing, shows
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.view import Agreement, View
from commissioning.engineering.conformity import Verdict

CODE = "two_finals_agree"
TITLE = "Two finals agree"
VERSION = 1
PRIORITY = "performance"
FAILS = "two finals disagree"
LARGEST = 1.0


def judge(view: View) -> Iterator[Judgement]:
    for port in view.ports:
        if view.verifications(port):
            yield _judge(view, port)


def _judge(view: View, port: str) -> Judgement:
    if not view.place.is_counted:
        return Judgement(CODE, port, VERSION, absence=view.not_counted())
    agreement = view.agreement(port)
    if agreement is None:
        return _alone(view, port)
    difference = agreement.normalised_difference
    return Judgement(
        CODE,
        port,
        VERSION,
        verdict=Verdict.CONFORMS if difference <= LARGEST else Verdict.DOES_NOT_CONFORM,
        provisional=view.is_provisional(agreement.standing, agreement.verifying),
        value=difference,
        unit="1",
        high=LARGEST,
        clause="normalised difference at most 1 (ISO 13528, from memory)",
        rule="simple",
        margin=LARGEST - difference,
        rests_on=(agreement.standing.envelope, agreement.verifying.envelope),
        facts=_facts(agreement),
        look_next=_STEPS if difference > LARGEST else (),
    )


_STEPS = (
    "Operating state: was it the same at both times, the other units on the riser included?",
    "The unit: was anything touched between the two?",
    "Instruments, factors, duct dimensions and air basis: read both records side by side.",
    "Then retest together; the two are never averaged.",
)


def _alone(view: View, port: str) -> Judgement:
    """No pair to compare: the final was renewed since the last verification, or one of the two cannot count."""
    ground = view.ground(port)
    last = view.verifications(port)[-1]
    if isinstance(ground, Absence):
        return Judgement(CODE, port, VERSION, absence=ground)
    if last.when < ground.when:
        return Judgement(
            CODE,
            port,
            VERSION,
            verdict=Verdict.CONFORMS,
            provisional=view.is_provisional(ground),
            clause="a single final stands",
            rule="simple",
            rests_on=(ground.envelope,),
            facts={"session": ground.session},
        )
    doubt = view.doubt(last)
    if doubt is not None:
        absence = Absence("not_judged", f"The verification cannot count. {doubt.text}")
    else:
        absence = Absence("not_due", "The verification was made in another mode of operation than the final.")
    return Judgement(CODE, port, VERSION, absence=absence)


def _facts(agreement: Agreement) -> dict[str, Any]:
    pair = {"standing": agreement.standing, "verifying": agreement.verifying}
    return {
        name: {
            "envelope": one.envelope,
            "airflow_m3_s": one.airflow_m3_s,
            "expanded_uncertainty_m3_s": one.expanded_uncertainty_m3_s,
            "method": one.method,
            "grade": one.grade,
            "session": one.session,
        }
        for name, one in pair.items()
    } | {"correlation": agreement.correlation}


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    absent = shows.absent(judgement, TITLE)
    if absent:
        return absent
    facts = judgement["facts"]
    if "session" in facts:
        text = (
            f"{shows.port_of(judgement)}: a single final stands, of session {facts['session']}, newer than any repeat."
        )
        return (shows.lead(judgement, text),)
    printed = {
        name: shows.airflow_with_uncertainty(
            facts[name]["airflow_m3_s"], facts[name]["expanded_uncertainty_m3_s"], display
        )
        for name in ("standing", "verifying")
    }
    lines = [
        WorkingLine(
            label,
            f"{name}, U",
            _exact(facts[key], display),
            f"session {facts[key]['session']}, {facts[key]['method']}, {facts[key]['grade']}",
        )
        for label, name, key in (("As-left final", "a", "standing"), ("Verification", "b", "verifying"))
    ]
    text = f"{shows.port_of(judgement)}: {printed['standing']} as left, {printed['verifying']} on verification."
    return (
        shows.lead(judgement, text),
        Working(
            (
                *lines,
                WorkingLine(
                    "Shared error", "r, of one instrument used for both", printing.minus(f"{facts['correlation']:.4f}")
                ),
                WorkingLine(
                    "Normalised difference",
                    "E = |a - b| / √(U_a² + U_b² - 2 r U_a U_b)",
                    f"{judgement['value']:.4f}",
                    judgement["clause"],
                ),
                *shows.decision(judgement),
            ),
            TITLE,
        ),
        *shows.next_steps(judgement),
    )


def _exact(one: Mapping[str, Any], display: str) -> str:
    flow, wide = (printing.airflow_exact(one[name], display) for name in ("airflow_m3_s", "expanded_uncertainty_m3_s"))
    return f"{flow} ± {wide} {printing.airflow_unit(display)}"
