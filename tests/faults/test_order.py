"""Shuffled, repeated, on either database: the same end state by hash."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.live import ROOT, Installation, installed


def end_of(here: Installation, seed: int, repeats: int) -> dict[str, object]:
    here.migrate()
    done = subprocess.run(
        [sys.executable, "-m", "tests.faults.world", str(seed), str(repeats)],
        cwd=ROOT, env=here.environment, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    held: dict[str, object] = json.loads(done.stdout.splitlines()[-1])
    return held


def test_any_order_and_any_repetition_end_in_the_same_state(tmp_path: Path) -> None:
    ends = []
    for seed, repeats in ((1, 1), (2, 3)):
        folder = tmp_path / str(seed)
        folder.mkdir()
        with installed(folder) as here:
            ends.append(end_of(here, seed, repeats))
    assert ends[0]["counts"]["submissions"] == 1000  # type: ignore[index]
    assert ends[0]["counts"]["jobs due"] == 0  # type: ignore[index]
    assert ends[0] == ends[1]


@pytest.mark.services
def test_postgresql_and_sqlite_end_in_the_same_state(tmp_path: Path, live: Installation) -> None:
    with installed(tmp_path / "embedded") as embedded:
        embedded.folder.mkdir()
        on_sqlite = end_of(embedded, 3, 2)
    assert end_of(live, 4, 2) == on_sqlite
