"""A real worker killed in the middle of a binder, twice: the third builds it, once, and it verifies."""

import subprocess
import sys
from functools import partial
from pathlib import Path

from tests.live import ROOT, Installation, installed, wait_until

LEASE_S = 3


def state(here: Installation) -> tuple[int, int, int]:
    """Steps done, tries, whether it is still due."""
    (row,) = here.rows("SELECT steps_done, tries, due FROM portfolio_job WHERE kind = 'binder' AND wanted = 1 LIMIT 1")
    return int(row[0]), int(row[1]), int(row[2])


def begun(here: Installation, tries: int) -> bool:
    steps, tried, _ = state(here)
    return steps > 1 and tried == tries


def test_a_killed_worker_costs_time_and_nothing_else(tmp_path: Path) -> None:
    with installed(tmp_path, extra={"JOB_LEASE_S": str(LEASE_S)}) as here:
        here.migrate()
        subprocess.run([sys.executable, "-m", "tests.binders.asked"], cwd=ROOT, env=here.environment, check=True)
        for tries in (1, 2):
            worker = here.start("worker", [sys.executable, "manage.py", "run_jobs"])
            wait_until(partial(begun, here, tries), "the binder is begun")
            worker.kill()
            assert here.rows("SELECT COUNT(*) FROM commissioning_binder WHERE document_id IS NOT NULL") == [(0,)]
        worker = here.start("worker", [sys.executable, "manage.py", "run_jobs"])
        wait_until(lambda: not state(here)[2], "the third worker has built it")
        worker.stop()
        ((sha256,),) = here.rows("SELECT document_id FROM commissioning_binder WHERE document_id IS NOT NULL")
        assert here.rows("SELECT COUNT(*) FROM portfolio_auditevent WHERE verb = 'binder.built'") == [(1,)]
        file = here.folder / "blobs" / sha256[:2] / sha256[2:]
        assert here.manage("verify_binder", str(file)).stdout.startswith("The same: ")
