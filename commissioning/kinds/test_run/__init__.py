"""Runs of functional tests: answers step by step, by whom it was witnessed, or why it was not carried through."""

from commissioning.kinds.test_run.measure import VERSION, instruments, measure
from commissioning.kinds.test_run.payload import RunPayload, facts
from commissioning.kinds.test_run.show import headline, show

CODE = "test_run"
TITLE = "Functional test"
Payload = RunPayload

__all__ = ["CODE", "TITLE", "VERSION", "Payload", "facts", "headline", "instruments", "measure", "show"]
