"""Carries due jobs to the workers; without a broker it keeps one child process that does them."""

import signal
import subprocess
import sys
import time
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand
from django.db import InterfaceError, OperationalError, connection

from portfolio.jobs import queue, relay, runner

SWEEP_S = 5.0
IDLE_S = 0.005


class Command(BaseCommand):
    help = "Publish due jobs to the broker and sweep; without BROKER_URL, run them in a child process."

    def handle(self, *args: Any, **options: Any) -> None:
        self.stopped = False
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, self._stop)
        if settings.BROKER_URL:
            self._publish_for_ever()
        else:
            self._keep_a_child()

    def _stop(self, *_: object) -> None:
        self.stopped = True

    def _publish_for_ever(self) -> None:
        swept = 0.0
        while not self.stopped:
            try:
                if not swept:
                    queue.want_renewal()
                if time.monotonic() - swept > SWEEP_S:
                    queue.sweep()
                    runner.beat("relay")
                    swept = time.monotonic()
                if not relay.publish():
                    time.sleep(IDLE_S)
            except (OperationalError, InterfaceError) as error:
                self.stderr.write(f"the database does not answer ({error}); trying again")
                connection.close()
                time.sleep(1)

    def _keep_a_child(self) -> None:
        """A job that kills its process must not take the sweeper with it."""
        while not self.stopped:
            child = subprocess.Popen([sys.executable, sys.argv[0], "run_jobs", "--of-relay"])  # noqa: S603
            while not self.stopped and child.poll() is None:
                time.sleep(0.1)
            if child.poll() is None:
                child.terminate()
                child.wait()
            elif not self.stopped:
                self.stderr.write(f"the process that does the jobs ended ({child.returncode}); starting another")
                time.sleep(0.5)
