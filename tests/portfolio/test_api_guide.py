"""docs/api.md is a story: its commands are run from top to bottom against a real server."""

import re
import shutil
import subprocess
from pathlib import Path

from tests.live import ROOT, installed


def script() -> str:
    text = (ROOT / "docs/api.md").read_text()
    return "set -euo pipefail\n" + "\n".join(re.findall(r"^```sh\n(.*?)^```$", text, re.S | re.M))


def test_the_guide_runs_from_top_to_bottom(tmp_path: Path) -> None:
    assert shutil.which("curl"), "the guide uses curl"
    with installed(tmp_path) as here:
        here.migrate()
        token = here.manage(
            "found_firm", "--name", "Guide", "--lead-name", "Ada Venn", "--email", "ada@guide.example", "--token-only"
        ).stdout.strip()
        web, _ = here.web(), here.relay()
        told = subprocess.run(
            ["bash", "-c", script()],
            cwd=tmp_path,
            env={"HOST": web.url, "TOKEN": token, "PATH": "/usr/local/bin:/usr/bin:/bin"},
            capture_output=True,
            text=True,
            check=False,
            timeout=120,
        )
        assert told.returncode == 0, told.stdout[-3000:] + told.stderr
    assert '"state":"kept"' in told.stdout
    assert "design_airflow supply does_not_conform" in told.stdout
    assert "design_airflow exhaust conforms" in told.stdout
    assert told.stdout.count('"status":201') == 1  # the batch: one line kept under its own bytes ...
    assert '"status": 400' in told.stdout  # ... and one that is no envelope
    assert "closed\n" in told.stdout
    assert "it can be signed" in told.stdout
    assert "It stands.\n" in told.stdout
