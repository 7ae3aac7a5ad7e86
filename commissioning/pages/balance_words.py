"""The sentences of the balance page: what a building's air comes to, made from the balance and from nothing else."""

from collections.abc import Sequence

from commissioning.dossier import printing
from commissioning.dossier.balance import Balance, Relation
from commissioning.engineering.building_balance import Offset
from portfolio.dashboards.words import count, listed, opening, units

NAMED = 4


def first_sentence(
    name: str, balance: Balance, required: Relation | None, display: str, *, all_conform: bool, has_units: bool
) -> str:
    """What the reader came for. Flows may all conform and the offset still reverse: then it says so."""
    if not has_units:
        return f"{name} has no unit in scope yet."
    if balance.offset is None:
        return f"The offset of {name} cannot be told: {_nothing_in(balance, display)}"
    if not balance.is_complete:
        return (
            f"The offset of {name} cannot be told yet: {_missing(balance)} "
            f"As far as they stand, it {_moves(balance.offset, display)}."
        )
    said = f"{name} {_moves(balance.offset, display)}"
    if required is None:
        return f"{said}; no sign is agreed for it.{_uncertain(balance.offset)}"
    return _judged(said, balance, required, display, all_conform=all_conform)


def _judged(said: str, balance: Balance, required: Relation, display: str, *, all_conform: bool) -> str:
    wanted = relation_in_words(required, display)
    assert balance.offset is not None
    if balance.verdict is None:
        return f"{said}; agreed is {wanted}, without a size that could be judged."
    if balance.verdict == "conforms":
        return f"{said}, as agreed: {wanted}."
    if balance.verdict == "inconclusive":
        return f"{said}; agreed is {wanted}, and that is not certain.{_uncertain(balance.offset)}"
    if all_conform:
        return f"Every airflow conforms, and yet {said}; agreed is {wanted}."
    return f"{said}; agreed is {wanted}: it does not conform."


def relation_in_words(required: Relation, display: str) -> str:
    """
    >>> relation_in_words(Relation("positive", 0.0944, "23 05 93, 3.7"), "ip")
    'positive, at least 200 cfm more in than out (23 05 93, 3.7)'
    >>> relation_in_words(Relation("neutral", None, ""), "si")
    'neutral'
    """
    clause = f" ({required.clause})" if required.clause else ""
    if required.least_m3_s is None:
        return f"{required.relation}{clause}"
    least = f"{printing.airflow(required.least_m3_s, display)} {printing.airflow_unit(display)}"
    how = {
        "positive": f"at least {least} more in than out",
        "negative": f"at least {least} more out than in",
        "neutral": f"within {least}",
    }
    return f"{required.relation}, {how[required.relation]}{clause}"


def _moves(offset: Offset, display: str) -> str:
    unit = printing.airflow_unit(display)
    size = printing.airflow(abs(offset.offset_m3_s), display)
    wide = printing.airflow_uncertainty(offset.expanded_uncertainty_m3_s, display)
    if offset.offset_m3_s >= 0.0:
        return f"brings in {size} ± {wide} {unit} more than it takes out"
    return f"takes out {size} ± {wide} {unit} more than it brings in"


def _uncertain(offset: Offset) -> str:
    return "" if offset.sign_is_certain else " The uncertainty hides its sign."


def _nothing_in(balance: Balance, display: str) -> str:
    if balance.missing:
        return _missing(balance)
    unit = printing.airflow_unit(display)
    return f"nothing is supplied, and {printing.airflow(balance.exhausted_only_m3_s, display)} {unit} are taken out."


def _missing(balance: Balance) -> str:
    tags = list(dict.fromkeys(side.tag for side in balance.missing))
    named = [*tags[:NAMED], f"{count(len(tags) - NAMED)} more"] if len(tags) > NAMED else tags
    verb = "has" if len(tags) == 1 else "have"
    return f"{count(len(tags))} {units(len(tags))} {verb} no final that stands ({listed(named)})."


def riser_sentence(name: str, total: int, without: Sequence[str], older: Sequence[str], newest: str) -> str:
    """
    >>> riser_sentence("Riser B", 3, ["ERV-7"], ["ERV-9"], "ERV-8 in AL-2")
    'Riser B: finals of one of three units count. ERV-7 has none that stands; ERV-9 was read before ERV-8 in AL-2.'
    >>> riser_sentence("Riser B", 2, [], [], "")
    'Riser B: the finals of all two units count.'
    """
    good = total - len(set(without) | set(older))
    if good == total:
        return f"{name}: the finals of all {count(total)} {units(total)} count."
    parts = []
    if without:
        parts.append(f"{listed(without)} {'has' if len(without) == 1 else 'have'} none that stands")
    if older:
        parts.append(f"{listed(older)} {'was' if len(older) == 1 else 'were'} read before {newest}")
    which = f"finals of {count(good)} of {count(total)} {units(total)} count" if good else "no final counts yet"
    return f"{name}: {which}. {opening('; '.join(parts))}."
