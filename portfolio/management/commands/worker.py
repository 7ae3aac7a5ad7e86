"""Keeps one Celery worker at work: starts it again when it ended, or when it hears nothing any longer.

A worker may survive the restart of its broker and yet consume nothing. That is told from the job table: work waits,
was published, and nobody takes it.
"""

import signal
import subprocess
import sys
import time
from datetime import timedelta
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.db import DatabaseError, connection
from django.db.models.functions import Now

from portfolio.jobs import queue

DEAF_S = 20
LOOK_S = 2.0


class Command(BaseCommand):
    help = "Run a Celery worker and restart it when it ends or goes deaf."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--processes", type=int, default=2)
        parser.add_argument("--name", default="worker")

    def handle(self, *args: Any, **options: Any) -> None:
        self.stopped = False
        signal.signal(signal.SIGTERM, self._stop)
        signal.signal(signal.SIGINT, self._stop)
        command = [sys.executable, "-m", "celery", "-A", "portfolio.celery", "worker", "--pool", "prefork"]
        command += ["-c", str(options["processes"]), "-n", f"{options['name']}@%h", "-l", "INFO"]
        command += ["--without-mingle", "--without-gossip"]
        while not self.stopped:
            child = subprocess.Popen(command)  # noqa: S603
            self._watch(child)
            if not self.stopped:
                self.stderr.write("the worker ended or heard nothing; starting another")
                time.sleep(1)

    def _stop(self, *_: object) -> None:
        self.stopped = True

    def _watch(self, child: "subprocess.Popen[bytes]") -> None:
        began = looked = time.monotonic()
        while child.poll() is None:
            time.sleep(0.1)
            if self.stopped:
                break
            if time.monotonic() - looked > LOOK_S:
                looked = time.monotonic()
                if looked - began > DEAF_S and self._nobody_takes_what_waits():
                    break
        if child.poll() is None:
            child.terminate()
            try:
                child.wait(30)
            except subprocess.TimeoutExpired:
                child.kill()
                child.wait()

    def _nobody_takes_what_waits(self) -> bool:
        """Jobs of which every one was wanted long ago, and none is being done."""
        try:
            late = queue.waiting().filter(changed_at__lt=Now() - timedelta(seconds=DEAF_S)).exists()
            return late and not queue.held().exists()
        except DatabaseError:
            connection.close()
            return False
