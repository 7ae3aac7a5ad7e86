"""The standing repeats building and tag of its position: it goes along with it, and a whole recomputation tells."""

import itertools
from io import StringIO

import pytest
from django.core.management import call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.db.models import Count

from commissioning import standing
from commissioning.dossier.shows import ABSENCES, VERDICTS
from commissioning.judging.registry import RULES
from portfolio.dashboards import buildings, worklist
from portfolio.models import Building, Position, Standing
from portfolio.models.people import Role
from portfolio.models.standing import as_text
from tests.cast import Cast


def _stand(cast: Cast) -> Position:
    position: Position = cast.things["position"]
    standing.refresh([position.pk])
    return position


@pytest.mark.django_db
def test_a_position_that_moves_or_is_named_anew_takes_its_standing_along(cast: Cast) -> None:
    position = _stand(cast)
    other = Building.objects.create(site=position.building.site, name="The other one")
    position.building, position.tag = other, "ERV-99"
    position.save()
    held = Standing.objects.get(pk=position.pk)
    assert (held.building, held.tag) == (other, "ERV-99")
    assert standing.differences([position.pk]) == []


@pytest.mark.django_db
def test_lists_count_a_moved_position_where_it_is_now(cast: Cast) -> None:
    position, lead = _stand(cast), cast.person("own", "lead")
    before = position.building
    other = Building.objects.create(site=before.site, name="The other one")

    def counted() -> dict[Building, int]:
        return {one.building: one.counted for one in buildings.pictures(lead)}

    was = counted()
    position.building = other
    position.save()
    assert counted() == was | {before: was[before] - 1, other: 1}
    found = worklist.work_list(lead, {Role.LEAD}, {"building": str(other.pk)})
    assert [row.position for row in found.page_rows] == [position]


@pytest.mark.django_db
def test_rebuilding_tells_what_differed_and_mends_it(cast: Cast) -> None:
    position = _stand(cast)
    standing.refresh(list(Position.objects.values_list("pk", flat=True)))
    kept = Standing.objects.get(pk=position.pk)
    Standing.objects.filter(pk=position.pk).update(outcomes="conforms:design_airflow", code="signable")
    said = StringIO()
    with pytest.raises(SystemExit):
        call_command("rebuild_standing", stdout=said)
    assert f"{position.tag}: kept signable, is {kept.code}" in said.getvalue()
    mended = Standing.objects.get(pk=position.pk)
    assert (mended.outcomes, mended.code) == (kept.outcomes, kept.code)
    call_command("rebuild_standing", stdout=StringIO())


def test_every_requirement_at_its_longest_fits_into_the_row_twice_over() -> None:
    """The longest has every outcome that there is, each beside one requirement or more."""
    outcomes = sorted({*VERDICTS, *ABSENCES, "accepted"})
    longest = as_text(dict(zip(RULES, itertools.cycle(outcomes), strict=False)))
    assert all(f"{outcome}:" in longest for outcome in outcomes)
    most = Standing._meta.get_field("outcomes").max_length
    assert most is not None
    assert 2 * len(longest) < most


@pytest.mark.django_db
@pytest.mark.parametrize("asked", [("building", "code", "outcomes"), ("building", "mover", "code", "company")])
def test_lists_are_counted_from_an_index_alone(cast: Cast, asked: tuple[str, ...]) -> None:
    rows = Standing.objects.filter(building__in=list(Building.objects.values_list("pk", flat=True)))
    alone = "USING COVERING INDEX standing_by_"
    if connection.vendor == "postgresql":  # with so few rows it would read the table, or any index and sort
        alone = "Index Only Scan using standing_by_"
        with connection.cursor() as cursor:
            for dearer in ("seqscan", "bitmapscan", "sort", "incremental_sort", "hashagg"):
                cursor.execute(f"SET LOCAL enable_{dearer} = off")
    assert alone in rows.values(*asked).annotate(n=Count("pk")).order_by().explain()


@pytest.mark.django_db(transaction=True)
def test_standings_kept_before_get_what_lists_need() -> None:
    """From the tables as they were first made."""
    position = Cast.assemble().things["position"]
    executor = MigrationExecutor(connection)
    executor.migrate([("portfolio", "0001_first")])
    old = executor.loader.project_state([("portfolio", "0001_first")]).apps
    old.get_model("portfolio", "Standing").objects.create(position_id=position.pk, code="signable", sentence="Sign.")
    for requirement, outcome in (("one_session", "not_due"), ("design_airflow", "conforms")):
        old.get_model("portfolio", "RequirementStanding").objects.create(
            position_id=position.pk, requirement=requirement, outcome=outcome
        )
    call_command("migrate", verbosity=0)
    held = Standing.objects.get(pk=position.pk)
    assert (held.building_id, held.tag) == (position.building_id, position.tag)
    assert held.outcomes == "conforms:design_airflow not_due:one_session"
