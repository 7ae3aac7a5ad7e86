"""What the standing of a unit says when nothing is left to do about it."""

from datetime import UTC, datetime

from commissioning.models import Signature
from commissioning.standing import Seen, decide
from portfolio.models import Position


def said(outcome: str, *, accepted: bool = False, **others: str) -> tuple[str, str]:
    held = ("design_airflow", "supply")
    beside = {(code, ""): one for code, one in others.items()}
    one = Seen(Position(scope="in_scope"), True, {held: outcome, ("one_session", ""): "conforms", **beside})
    one.accepted = {held} if accepted else set()
    one.last_observed_at = datetime(2026, 5, 4, tzinfo=UTC)
    place = decide(one)
    return place.code, place.sentence


def test_a_unit_that_conforms_can_be_signed() -> None:
    assert said("conforms") == ("signable", "Everything that is due conforms: it can be signed.")


def test_what_was_accepted_as_it_is_is_not_said_to_conform() -> None:
    words = "Everything that is due conforms or is accepted as it is: it can be signed."
    assert said("does_not_conform", accepted=True) == ("signable", words)


def test_what_does_not_conform_and_was_not_accepted_cannot_be_signed() -> None:
    code, sentence = said("does_not_conform")
    assert code != "signable"
    assert "signed" not in sentence


def test_a_start_that_is_open_comes_before_what_is_to_be_measured() -> None:
    """As after a change of machine: the start, then the airflow."""
    assert said("recheck", started="recheck") == ("recheck", "The start is due again: see what of it.")
    words = "The start is not complete: see what of it is open, and who is next."
    assert said("not_due", started="not_due") == ("preliminary", words)
    assert said("not_due", started="conforms") == ("preliminary", "Final readings are missing at supply.")
    assert said("disputed", started="not_due")[0] == "disputed"


def season_of(*, test: str = "not_due", deferred: bool = True, signed: bool = False) -> Seen:
    """A unit of which everything conforms but a functional test, told in the zone of Denver."""
    one = Seen(Position(scope="in_scope"), True, {("design_airflow", "supply"): "conforms"}, zone="America/Denver")
    one.outcomes["functional_tests", "frost"] = test
    one.deferred = {"frost"} if deferred else set()
    one.last_observed_at = datetime(2026, 5, 4, tzinfo=UTC)
    one.lines = [("design_airflow", "supply", "conforms", "a1"), ("functional_tests", "frost", test, "b1")]
    if signed:
        late = datetime(2026, 5, 12, 3, tzinfo=UTC)  # 11 May, 21:00, at the site
        one.signature = Signature(signed_at=late, statement=one.statement)
    return one


def test_a_test_that_waits_for_its_season_lets_the_unit_be_signed_and_one_that_does_not_holds_it() -> None:
    place = decide(season_of())
    words = "Everything that is due conforms: it can be signed. Seasonal test outstanding: frost."
    assert (place.code, place.sentence) == ("signable", words)
    assert decide(season_of(deferred=False)).code == "preliminary"


def test_accepted_with_a_seasonal_test_outstanding_is_a_state_of_its_own() -> None:
    place = decide(season_of(signed=True))
    assert (place.code, place.sentence, place.mover) == (
        "season",
        "Accepted 11 May 2026; seasonal test outstanding: frost.",
        "",
    )
    assert decide(season_of(test="conforms", deferred=False, signed=True)).sentence == (
        "Signed 11 May 2026: everything that was due conforms."
    )


def test_a_signature_is_void_once_a_judgement_is_another_and_it_says_which() -> None:
    one = season_of(signed=True)
    one.lines[1] = ("functional_tests", "frost", "conforms", "b2")
    one.outcomes["functional_tests", "frost"] = "conforms"
    one.deferred = set()
    void = "The signature of 11 May 2026 is void, since this changed: functional tests frost."
    place = decide(one)
    assert (place.code, place.sentence) == ("signable", f"Everything that is due conforms: it can be signed. {void}")
    one.outcomes["functional_tests", "frost"] = "does_not_conform"
    assert decide(one).code != "signable"
    assert decide(one).sentence.endswith(void)


def test_a_signature_is_void_once_what_was_accepted_as_it_is_is_so_no_longer() -> None:
    one = season_of()
    one.accepted = {("design_airflow", "supply")}
    one.signature = Signature(signed_at=datetime(2026, 5, 12, tzinfo=UTC), statement=one.statement)
    assert decide(one).code == "season"
    one.accepted = set()
    assert one.broken == [("design_airflow", "supply")]
