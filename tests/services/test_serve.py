"""`make serve` and the backup, as docs/operations.md tells them."""

import os
import re
import signal
import sqlite3
import subprocess
from contextlib import closing
from pathlib import Path

from portfolio.models import insert_only
from tests.live import ROOT, Installation, Web, free_port, installed, wait_until


def served(here: Installation) -> Web:
    """As a person at a terminal starts it: one group, which Ctrl-C reaches."""
    port = free_port()
    running = here.start("serve", ["make", "--no-print-directory", "serve", f"PORT={port}"])
    web = Web(running.name, running.process, running.log, f"http://127.0.0.1:{port}")
    wait_until(lambda: web.answers() or not web.is_alive, "it serves")
    assert web.is_alive, web.output()
    return web


def are_gone(pids: list[int]) -> bool:
    return not any(Path(f"/proc/{pid}").exists() for pid in pids)


def test_serve_runs_web_and_relay_and_ctrl_c_stops_both(tmp_path: Path) -> None:
    with installed(tmp_path) as here:
        web = served(here)
        wait_until(lambda: here.rows("SELECT count(*) FROM portfolio_beat") == [(1,)], "somebody looks for work")
        children = web.children()
        assert len(children) >= 5, "the shell, gunicorn, its two workers, the relay and its child"
        os.killpg(web.pid, signal.SIGINT)
        wait_until(lambda: are_gone(children), "all have ended")


def test_serve_ends_when_the_web_server_does(tmp_path: Path) -> None:
    with installed(tmp_path) as here:
        web = served(here)
        children = web.children()
        (master,) = re.findall(r"Listening at: .*?\((\d+)\)", web.output())
        os.kill(int(master), signal.SIGKILL)
        wait_until(lambda: not web.is_alive, "make has ended")
        assert web.process.returncode != 0
        wait_until(lambda: are_gone(children), "nothing was left running")


def test_the_backup_of_an_sqlite_file_holds_everything(tmp_path: Path) -> None:
    page = (ROOT / "docs" / "operations.md").read_text()
    (command,) = re.findall(r"^    (python3 -c 'import sqlite3; .*\.backup\(.*)$", page, re.MULTILINE)
    with installed(tmp_path, database_url=f"sqlite:///{tmp_path / 'var' / 'ventfolio.sqlite3'}") as here:
        here.migrate()
        here.manage("found_firm", "--name", "Firm", "--lead-name", "Lead", "--email", "lead@firm.example")
        subprocess.run(command, shell=True, cwd=tmp_path, check=True)
        kept = Installation(tmp_path, f"sqlite:///{tmp_path / 'backup.sqlite3'}")
        for table in ("portfolio_firm", "portfolio_person", "portfolio_auditevent", "portfolio_devicetoken"):
            rows = here.rows(f"SELECT * FROM {table}")
            assert rows
            assert kept.rows(f"SELECT * FROM {table}") == rows
        kept.manage("check", "--database", "default")
    with closing(sqlite3.connect(tmp_path / "backup.sqlite3")) as backup:
        triggers = {name for (name,) in backup.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")}
    assert {insert_only.INSERT_ONLY[0] + "_refuse_update"} <= triggers
