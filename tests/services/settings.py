"""The project's settings with jobs that take their time, for tests that kill who does them."""

from portfolio.settings import *  # noqa: F403

JOB_HANDLERS = {
    "judge": "tests.services.jobs.quick",
    "binder": "tests.services.jobs.slow",
    "rejudge": "tests.services.jobs.deadly",
}
