"""Does due jobs in this process: the whole of an installation without a broker."""

import os
import signal
import time
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandParser
from django.db import InterfaceError, OperationalError, connection

from portfolio.jobs import queue, runner

IDLE_S = 0.005
SWEEP_S = 5.0


class Command(BaseCommand):
    help = "Claim due jobs and do them; --drain ends when none is left."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--drain", action="store_true", help="end when nothing is due")
        parser.add_argument("--of-relay", action="store_true", help="end when the process that started this one ends")

    def handle(self, *args: Any, **options: Any) -> None:
        self.stopped = False
        signal.signal(signal.SIGTERM, self._stop)
        signal.signal(signal.SIGINT, self._stop)
        if options["drain"]:
            self.stdout.write(f"{runner.drain()} jobs done")
            return
        swept = 0.0
        parent = os.getppid()
        while not self.stopped and not (options["of_relay"] and os.getppid() != parent):
            try:
                if not swept:
                    queue.want_renewal()
                if time.monotonic() - swept > SWEEP_S:
                    queue.sweep()
                    runner.beat("run_jobs")
                    swept = time.monotonic()
                # Looking is a read; claiming what is not there would take the database's one writer each time.
                due = queue.due_kinds()
                if not (due and runner.drain([kind for kind in settings.JOB_HANDLERS if kind in due], seconds=1.0)):
                    time.sleep(IDLE_S)
            except (OperationalError, InterfaceError) as error:
                self.stderr.write(f"the database does not answer ({error}); trying again")
                connection.close()
                time.sleep(1)

    def _stop(self, *_: object) -> None:
        self.stopped = True
