"""A draw is fixed by its seed and its list, kept as it was, and only ever extended."""

import hashlib

import pytest
from django.db import transaction
from django.db.utils import DatabaseError

from commissioning.models import Sample, SampleUnit
from commissioning.samples.draw import NotDrawn, Terms, earlier_of_the_same, enlarge, foresee, is_drawn_again_the_same
from portfolio.models import AuditEvent, Position
from tests.pages import world
from tests.pages.world import World
from tests.samples.world import built, drawn, repeated, tags_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def firm() -> World:
    """Ten units without a reading: a draw asks for none."""
    made = world.found()
    for n in range(1, 11):
        made.unit(f"ERV-{n}", "Sorrel Hall", designed=False)
    return made


def test_the_units_drawn_are_the_first_by_the_hash_of_seed_and_id(firm: World) -> None:
    sample = drawn(firm, seed="2026-05-05 A")
    by_hash = sorted(
        firm.units.values(), key=lambda unit: hashlib.sha256(f"2026-05-05 A{unit.pk}".encode()).hexdigest()
    )
    assert tags_of(sample, only_drawn=False) == [unit.tag for unit in by_hash]
    assert tags_of(sample) == [unit.tag for unit in by_hash[:3]]  # 3: C(5, 3) / C(10, 3) = 0.083; with 2, 0.222
    assert is_drawn_again_the_same(sample)


def test_another_seed_is_another_draw_and_the_earlier_one_is_told(firm: World) -> None:
    first, second = drawn(firm, seed="A"), drawn(firm, seed="B")
    assert tags_of(first, only_drawn=False) != tags_of(second, only_drawn=False)
    assert [one.number for one in earlier_of_the_same(second)] == [1]
    assert list(earlier_of_the_same(first)) == []


def test_an_order_that_the_seed_does_not_give_is_noticed(firm: World) -> None:
    sample = drawn(firm)
    rows = list(sample.units.order_by("rank"))
    forged = Sample.objects.create(
        project=sample.project, number=9, title="forged", seed=sample.seed, seed_by="typed", plan=sample.plan,
        drawn_by=sample.drawn_by, drawn_at=sample.drawn_at,
    )  # fmt: skip
    for rank, row in enumerate(reversed(rows), start=1):
        SampleUnit.objects.create(sample=forged, position=row.position, stratum=row.stratum, rank=rank, drawn=rank <= 3)
    assert not is_drawn_again_the_same(forged)


def test_the_server_makes_a_seed_where_none_is_typed_and_keeps_who_made_it(firm: World) -> None:
    made, typed = drawn(firm, seed=""), drawn(firm, seed="by the lead")
    assert len(made.seed) == 16
    assert (made.seed_by, typed.seed_by) == ("server", "typed")
    note = AuditEvent.objects.get(verb="draw_sample", object_id=str(made.pk))
    assert note.person_id == firm.people["lead"].pk
    assert note.detail["seed"] == made.seed


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE commissioning_sample SET seed = 'another'",
        "UPDATE commissioning_sampleunit SET drawn = NOT drawn",
        "DELETE FROM commissioning_sampleunit",
        "DELETE FROM commissioning_sample",
    ],
)
def test_the_database_refuses_to_change_a_draw(firm: World, statement: str) -> None:
    from django.db import connection

    before = tags_of(drawn(firm))
    with pytest.raises(DatabaseError, match="never changed or deleted"), transaction.atomic():
        connection.cursor().execute(statement)
    assert tags_of(Sample.objects.get()) == before


def test_units_that_do_not_count_are_not_in_the_population(firm: World) -> None:
    firm.unit("ERV-11", "Sorrel Hall", designed=False, scope="by_others")
    assert "ERV-11" not in tags_of(drawn(firm), only_drawn=False)


def test_kinds_are_drawn_apart_and_what_is_named_is_taken_whole(firm: World) -> None:
    for n in (1, 2):
        firm.unit(f"AHU-{n}", "Sorrel Hall", designed=False)
    Position.objects.filter(tag__startswith="AHU").update(kind="ahu")
    central = firm.units["ERV-4"].pk
    sample = drawn(firm, whole=frozenset({"ahu"}), central=frozenset({central}))
    told = {one["stratum"]: (one["population"], one["sample"], one["whole"]) for one in sample.strata}
    # nine like units, D = 5: C(4, 2) / C(9, 2) = 6 / 36 = 0.17 with two
    assert told == {"ahu": (2, 2, True), "central": (1, 1, True), "erv": (9, 2, False)}
    assert {"AHU-1", "AHU-2", "ERV-4"} <= set(tags_of(sample))


def test_what_is_foreseen_is_what_is_drawn(firm: World) -> None:
    units = list(firm.units.values())
    (seen,) = foresee(units, Terms(0.80, 0.50))
    assert (seen.population, seen.sample) == (10, 3)
    chances = {point.defective: point.acceptance_probability for point in seen.points}
    assert chances[0] == 1.0
    assert chances[5] == pytest.approx(10 / 120)
    assert chances[1] == pytest.approx(7 / 10)  # the one is among the seven that are not drawn


@pytest.mark.parametrize(
    ("terms", "why"),
    [
        (Terms(0.3, 0.1), "confidence is 0.3"),
        (Terms(0.95, 1.5), "largest defective share is 1.5"),
        (Terms(0.95, 0.1, accept=-1), "accepted failures is -1"),
    ],
)
def test_terms_that_cannot_be_are_refused_in_words(firm: World, terms: Terms, why: str) -> None:
    with pytest.raises(NotDrawn, match=why):
        foresee(list(firm.units.values()), terms)


def test_nothing_is_drawn_of_nothing(firm: World) -> None:
    with pytest.raises(NotDrawn, match="name a building"):
        foresee([], Terms(0.95, 0.1))


def test_a_failure_enlarges_the_same_order_twice_as_many_then_all() -> None:
    firm = built()
    first = drawn(firm)
    for tag in tags_of(first):
        repeated(firm, tag, {"supply": 800})
    firm.judged()
    second = enlarge(sample=first, person=firm.people["lead"])
    assert (second.first, second.enlargement, second.number) == (first, 1, 2)
    assert tags_of(second) == tags_of(first, only_drawn=False)[:6]
    assert is_drawn_again_the_same(second)
    with pytest.raises(NotDrawn, match="enlarged already"):
        enlarge(sample=first, person=firm.people["lead"])
    third = enlarge(sample=second, person=firm.people["lead"])
    assert (third.first, third.enlargement) == (first, 2)
    assert len(tags_of(third)) == 10
    assert list(Sample.objects.standing()) == [third]
    assert list(earlier_of_the_same(third)) == []
    with pytest.raises(NotDrawn, match="none is due"):
        enlarge(sample=third, person=firm.people["lead"])


def test_without_a_failure_nothing_is_enlarged(firm: World) -> None:
    with pytest.raises(NotDrawn, match="none is due"):
        enlarge(sample=drawn(firm), person=firm.people["lead"])
