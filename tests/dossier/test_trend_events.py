"""What happened at a unit while its log ran, as its measurements say it."""

from typing import Any

from commissioning.dossier.trend_events import events, inside
from tests.judging.builder import Result, judged
from tests.kinds import startup_records, test_run_records
from tests.kinds.settings_records import NOTHING, q, record, values

MONDAY, TUESDAY, WEDNESDAY = (f"2026-05-{day:02}T10:00:00-05:00" for day in (4, 5, 6))
MONDAY_S = 1777906800.0  # 2026-05-04T15:00Z
DAY_S = 86400.0


def told(*records: dict[str, Any], display: str = "ip") -> list[tuple[float, float, str]]:
    result: Result = judged(*records, place=test_run_records.place())
    return [tuple(one) for one in events(result.measurements, display)]  # type: ignore[misc]


def settings(at: str, moment: str = "as_left", **changes: Any) -> dict[str, Any]:
    return record(values(**changes), name=f"settings {at}", at=at, moment=moment, controller_time=None)


def test_each_reading_of_the_settings_says_what_is_another_than_before() -> None:
    later = settings(
        WEDNESDAY, "follow_up", exhaust_ratio=q(70.0, "%"), local_switch="hand", frost_limit=q(-3.0, "degC")
    )
    found = told(settings(MONDAY, "as_found"), settings(TUESDAY), later)
    assert [words for *_, words in found] == [
        "settings read as found",
        "settings read as left: as before",
        "settings read at a follow-up: local switch from automatic to hand, exhaust to supply ratio from 90 % to 70 %, "
        "and 1 more",
    ]
    assert [at for at, *_ in found] == [MONDAY_S, MONDAY_S + DAY_S, MONDAY_S + 2 * DAY_S]


def test_a_reading_of_a_few_is_held_against_all_that_were_read_before() -> None:
    left_out: dict[str, Any] = {code: NOTHING for code in values() if code != "local_switch"}
    few = settings(TUESDAY, **left_out)
    back = settings(WEDNESDAY, exhaust_ratio=q(70.0, "%"))
    assert [words for *_, words in told(settings(MONDAY), few, back)][1:] == [
        "settings read as left: as before",
        "settings read as left: exhaust to supply ratio from 90 % to 70 %",
    ]


def test_what_was_ordered_is_no_event() -> None:
    assert told(settings(MONDAY, "as_ordered")) == []


def test_a_test_lasts_from_its_first_timed_answer_to_its_last() -> None:
    made = test_run_records.run("power", at=TUESDAY)
    first, last = made["payload"]["answers"][0], made["payload"]["answers"][-1]
    first["at"], last["at"] = "2026-05-05T09:10:00-05:00", "2026-05-05T09:50:00-05:00"
    [(begin, end, words)] = told(made)
    assert (begin, end) == (MONDAY_S + DAY_S - 3000.0, MONDAY_S + DAY_S - 600.0)  # 50 and 10 minutes before ten
    assert words == "test “Power loss and return”, run FT-1, carried through"


def test_a_start_stands_where_its_command_was_given() -> None:
    [(begin, end, words)] = told(startup_records.record(at=TUESDAY, start_command="2026-05-05T09:00:00-05:00"))
    assert (begin, end) == (MONDAY_S + DAY_S - 3600.0,) * 2
    assert words == "start recorded: supply fan, air moves; exhaust fan, air moves"


def test_a_window_has_what_reaches_into_it() -> None:
    found = events(judged(settings(MONDAY), settings(WEDNESDAY), place=test_run_records.place()).measurements, "ip")
    assert [one.from_s for one in inside(found, MONDAY_S, MONDAY_S + DAY_S)] == [MONDAY_S]
    assert inside(found, MONDAY_S + 1.0, MONDAY_S + DAY_S) == []


def test_at_another_unit_its_tag_is_named() -> None:
    [one] = events(judged(settings(MONDAY), place=test_run_records.place()).measurements, "ip")
    assert one.mark("America/Chicago", "ERV-2").words == "Mon 4 May, 10:00: ERV-2, settings read as left."
    assert one.mark("America/Chicago").words == "Mon 4 May, 10:00: settings read as left."
