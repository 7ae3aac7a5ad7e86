"""A part of a job in a process of its own, which has its own limits: whatever it breaks, the worker stays.

The child is told by a file, answers on its output and complains on the other; it never outlives who waits for it.
"""

import json
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings

from portfolio.jobs import queue
from portfolio.jobs.queue import Claim

_LOOK_S = 5.0
_WALL = 3  # the wall's time may be that many times the processor's
_TELLS = 2000


class TooLong(Exception):
    """It was ended by the clock on the wall."""

    def __init__(self, waited_s: float) -> None:
        self.waited_s = waited_s
        super().__init__(f"ended after {waited_s:.0f} s")


@dataclass(frozen=True)
class Ended:
    code: int
    said: bytes
    complaint: str


def run(claim: Claim, module: str, order: Mapping[str, Any], *, seconds: float) -> Ended | None:
    """How `python -m module ORDER` ended, the lease stretched meanwhile; None where the claim was lost.

    Raises TooLong where it takes several times the seconds of the processor that it may have.
    """
    with tempfile.TemporaryDirectory(prefix="child-") as folder:
        place = Path(folder) / "order.json"
        place.write_text(json.dumps(order), "utf-8")
        with (Path(folder) / "answer").open("w+b") as answer, (Path(folder) / "complaint").open("w+b") as complaint:
            child = subprocess.Popen(  # noqa: S603  (a module and a path of ours)
                [sys.executable, "-m", module, str(place)],
                cwd=settings.BASE_DIR,
                env={"POLARS_MAX_THREADS": "2", "OPENBLAS_NUM_THREADS": "1", "PATH": ""},
                stdin=subprocess.DEVNULL,
                stdout=answer,
                stderr=complaint,
            )
            if not _ended(claim, child, seconds):
                return None
            answer.seek(0)
            complaint.seek(0)
            told = complaint.read()[-_TELLS:].decode("utf-8", "replace")
            return Ended(child.returncode, answer.read(), told)


def _ended(claim: Claim, child: "subprocess.Popen[bytes]", seconds: float) -> bool:
    waited = 0.0
    try:
        while True:
            try:
                child.wait(_LOOK_S)
                return True
            except subprocess.TimeoutExpired:
                waited += _LOOK_S
            if waited > seconds * _WALL:
                raise TooLong(waited)
            if not queue.progress(claim, done=0, whole=1):
                return False
    finally:
        if child.poll() is None:
            child.kill()
            child.wait()
