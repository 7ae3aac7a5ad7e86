"""The server's settings, and beside it the plain insert that the benchmarks compare it with."""

from portfolio.settings import *  # noqa: F403
from portfolio.settings import INSTALLED_APPS, JOB_HANDLERS

INSTALLED_APPS += ["rest_framework.authtoken", "tests.bench.nested"]
JOB_HANDLERS["bench"] = "tests.bench.starts.note"
ROOT_URLCONF = "tests.bench.nested.urls"
