"""What a procedure names of the settings, of the expectations and of the plan of trend logs, and they have not."""

from collections.abc import Iterator

from commissioning.catalogue.procedures import Procedure, Step
from commissioning.dossier.procedures.expected import EXPECTATIONS
from commissioning.dossier.settings.catalogue import CATALOGUE
from commissioning.dossier.trends.kinds import KINDS


def strange(procedure: Procedure) -> Iterator[str]:
    """Each thing that it names and that is not there."""
    named = {code for way in procedure.when for code in way.settings} | set(procedure.settings)
    for step in procedure.steps:
        named |= {code for way in step.when for code in way.settings}
        if step.expects and step.expects not in EXPECTATIONS:
            yield f"{step.id}: nothing expects {step.expects}"
        yield from (f"{step.id}: {fault}" for fault in faults_of_trend(step))
    yield from (f"no setting is called {code}" for code in sorted(named - set(CATALOGUE.settings)))


def faults_of_trend(step: Step) -> Iterator[str]:
    """What a step names that the plan of trend logs has not: field, value, reason, remedy."""
    for named in step.trend:
        code, at = split(named)
        kind = KINDS.get(code)
        if kind is None:
            yield f'trend "{named}": no expectation over a trend is called {code}; name one of {", ".join(KINDS)}'
        elif at not in kind.ats:
            there = ", ".join(".".join(filter(None, (code, one))) for one in kind.ats)
            yield f'trend "{named}": {code} is not asked of {at or "the unit as a whole"}; name one of {there}'
    if len(set(step.trend)) < len(step.trend):
        yield f'trend "{", ".join(step.trend)}": an expectation stands twice; name each once'


def split(named: str) -> tuple[str, str]:
    """
    >>> split("hunts.supply_temperature"), split("heat_and_cool")
    (('hunts', 'supply_temperature'), ('heat_and_cool', ''))
    """
    code, _, at = named.partition(".")
    return code, at
