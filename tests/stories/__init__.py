"""What is judged, by kind of record: each module has STORIES, and every one of them has to show itself.

`tests/judging/test_show.py` looks at them all. A new kind has a module here and a line in `BY_KIND`.
"""

from __future__ import annotations

from tests.judging.builder import Result
from tests.stories import (
    airflow,
    checklist,
    electrical,
    exchanger,
    functional,
    outlets,
    pressure,
    settings,
    startup,
    trend,
)

BY_KIND: dict[str, dict[str, Result]] = {
    "airflow": airflow.STORIES,
    "checklist": checklist.STORIES,
    "electrical": electrical.STORIES,
    "exchanger": exchanger.STORIES,
    "outlets": outlets.STORIES,
    "pressure": pressure.STORIES,
    "settings": settings.STORIES,
    "startup": startup.STORIES,
    "test_run": functional.STORIES,
    "trend": trend.STORIES,
}
