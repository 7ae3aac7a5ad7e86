"""A number that the engineering refuses costs one requirement its verdict, and the unit no more than that."""

from collections.abc import Iterable

import pytest

from commissioning.dossier.results import Judgement
from commissioning.dossier.view import View
from commissioning.engineering.guards import OutOfRange
from commissioning.judging import RULES
from commissioning.judging.show import show_judgement
from tests.judging.builder import PORTS, envelope, judged


def refuses(view: View) -> Iterable[Judgement]:
    raise OutOfRange("static pressure", 1e9, -1e4, 1e4, "Pa")


@pytest.mark.parametrize("code", RULES)
def test_the_requirement_that_cannot_be_computed_is_not_judged_and_all_others_are_as_ever(
    code: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    reading = envelope(dict.fromkeys(PORTS, 1000.0))
    others = {key: one for key, one in judged(reading).outcomes().items() if key.split()[0] != code}
    monkeypatch.setattr(RULES[code], "judge", refuses)
    result = judged(reading)
    assert {key: one for key, one in result.outcomes().items() if key.split()[0] != code} == others
    assert result.outcome(code) == "not_judged"
    shown = str(show_judgement(result.judgement(code), [], "ip"))
    assert "static pressure is 1e+09 Pa; it must lie in -10000 to 10000 Pa" in shown.replace("−", "-")
