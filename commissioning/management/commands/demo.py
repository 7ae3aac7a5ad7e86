"""`manage.py demo`: the invented scenario, played through the real server from schedule to binder.

A web server and a process that does the jobs are started for it. Everything is asked of the server by HTTP, each
person with a token of its own; only the firm and its first lead are made by `found_firm`, as in any installation.
Exit code 0: all that is planted was found, and nothing else; 1: something was missed, false, or unexpected.
"""

import signal
import subprocess
import sys
from datetime import UTC, datetime
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError

from portfolio.models import Firm


class Command(BaseCommand):
    help = "Play the demo scenario through the server, and hold what was found against what was planted."

    def handle(self, *args: Any, **options: Any) -> None:
        if find_spec("fixtures") is None:
            raise CommandError("The scenario is not here: the demo runs in a clone, not in an image.")
        from fixtures.demo import run
        from fixtures.demo.client import Unexpected

        self._look_at_the_clock(run.ENDS)
        folder = Path(settings.VAR_DIR) / "demo"
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        signal.signal(signal.SIGTERM, _stop)
        try:
            good = run.run(
                root=settings.BASE_DIR,
                folder=folder,
                say=self._say,
                found_firm=None if self._is_founded(run.FIRM) else self._found_firm,
            )
        except Unexpected as error:
            raise CommandError(f"{error}\nThe logs are in {folder}.") from error
        except KeyboardInterrupt:
            raise CommandError("Stopped. Run it again: it goes on from here.") from None
        if not good:
            sys.exit(1)

    def _say(self, line: str) -> None:
        self.stdout.write(line)
        self.stdout.flush()

    def _look_at_the_clock(self, ends: datetime) -> None:
        """A record from the future is kept and not judged, so the story has to lie in the past."""
        if datetime.now(UTC) < ends:
            raise CommandError(f"The scenario plays until {ends:%d %B %Y}; this machine's clock is before that.")

    def _is_founded(self, name: str) -> bool:
        try:
            return Firm.objects.filter(name=name).exists()
        except DatabaseError as error:
            raise CommandError(f"The database is not ready ({error}): run `manage.py migrate` first.") from error

    def _found_firm(self, name: str, lead: str, email: str, password: str) -> str:
        """The first lead's token. A process of its own: the command takes the password from its input."""
        command = [sys.executable, str(settings.BASE_DIR / "manage.py"), "found_firm", "--name", name]
        command += ["--lead-name", lead, "--email", email, "--password-stdin", "--token-only"]
        done = subprocess.run(command, input=f"{password}\n", capture_output=True, text=True, check=False)  # noqa: S603
        if done.returncode:
            raise CommandError(done.stderr.strip())
        return done.stdout.strip()


def _stop(*_: object) -> None:
    """As Ctrl-C: the processes that were started here are ended in order."""
    raise KeyboardInterrupt
