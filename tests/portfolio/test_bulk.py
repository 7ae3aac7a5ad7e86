"""Rows by plain statements are the rows that the ORM would have written."""

import json
from datetime import UTC, date, datetime
from typing import Any

import pytest

from portfolio.models import AuditEvent, Company, Position, Standing, TagAlias, bulk
from tests.cast import Cast

pytestmark = pytest.mark.django_db
NAMES = (
    "position", "code", "sentence", "mover", "company", "since", "due", "band", "live_issues", "last_observed_at",
    "building", "tag", "outcomes",
)  # fmt: skip
AT = datetime(2026, 5, 4, 16, 15, tzinfo=UTC)


def _row(position: Position, company: Company | None, **changes: Any) -> tuple[Any, ...]:
    held = {
        "code": "signable",
        "sentence": "Sign: “%s” ± 5 %.",
        "mover": "lead",
        "since": date(2026, 5, 4),
        "due": None,
    }
    held |= {"band": '{"measured":97.5}', "live_issues": 2, "last_observed_at": AT}
    held |= {"building": position.building_id, "tag": position.tag, "outcomes": "conforms:design_airflow"} | changes
    return (position.pk, *(held[name] for name in NAMES[1:4]), company and company.pk, *(held[n] for n in NAMES[5:]))


def test_rows_come_back_as_they_were_written_and_one_that_is_there_gets_the_new_values(cast: Cast) -> None:
    first, second = cast.things["position"], Position.objects.exclude(pk=cast.things["position"].pk)[0]
    company = cast.things["company"]
    bulk.insert(
        Standing, NAMES, [_row(first, None, band=None, since=None), _row(second, company)], unique=("position",)
    )
    found = Standing.objects.get(pk=second.pk)
    assert (found.sentence, found.since, found.band) == ("Sign: “%s” ± 5 %.", date(2026, 5, 4), {"measured": 97.5})
    assert (found.company, found.last_observed_at, found.live_issues) == (company, AT, 2)
    assert Standing.objects.filter(pk=first.pk, band__isnull=True, company__isnull=True, since__isnull=True).exists()
    bulk.insert(Standing, NAMES, [_row(second, None, live_issues=0, last_observed_at=None)], unique=("position",))
    found.refresh_from_db()
    assert (found.company, found.live_issues, found.last_observed_at) == (None, 0, None)


def test_keys_come_back_in_the_order_of_the_rows_over_many_statements(db: None) -> None:
    names = ("at", "request_id", "verb", "object_type", "object_id", "detail")
    rows = [(AT, "", "see", "thing", str(number), "{}") for number in range(1200)]
    keys = bulk.insert(AuditEvent, names, rows, returning=True)
    there = dict(AuditEvent.objects.filter(pk__in=keys).values_list("pk", "object_id"))
    assert [there[key] for key in keys] == [str(number) for number in range(1200)]


def test_no_rows_are_no_statement(django_assert_num_queries: Any) -> None:
    with django_assert_num_queries(0):
        assert bulk.insert(Standing, NAMES, [], unique=("position",)) == []


@pytest.mark.parametrize("text", ['"', "\\", "{a,b}", "NULL", "", "100 %s % of 'x'", "é — ¼", "two\nlines"])
def test_a_text_comes_back_as_it_was_whatever_is_in_it(cast: Cast, text: str) -> None:
    first = cast.things["position"]
    band = json.dumps({"label": text})
    bulk.insert(Standing, NAMES, [_row(first, None, sentence=text, band=band)], unique=("position",))
    found = Standing.objects.get(pk=first.pk)
    assert (found.sentence, found.band) == (text, {"label": text})


def test_among_finds_the_rows_of_these_ids_and_no_others(cast: Cast) -> None:
    every = list(Position.objects.order_by("pk"))
    wanted = [one.pk for one in every[::2]]
    assert len(every) > len(wanted) > 1
    assert list(Position.objects.filter(bulk.among("pk", wanted)).order_by("pk")) == every[::2]
    by_key = TagAlias.objects.bulk_create(TagAlias(position=one, tag=one.tag) for one in every)
    found = TagAlias.objects.filter(bulk.among("position", wanted))
    assert set(found) == {one for one in by_key if one.position_id in wanted}
    assert not Position.objects.filter(bulk.among("pk", [])).exists()
