"""Verifies a binder from its file alone: `manage.py verify_binder FILE.pdf`.

No database is needed. Exit code 0: it is what it says it is; 1: something differs, each thing named; 3: the file
cannot be read as a binder.
"""

import json
import sys
import traceback
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from commissioning.binders.document import Unreadable
from commissioning.binders.pages import NoBinder
from commissioning.binders.verify import Report, verify

UNREADABLE = 3


class Command(BaseCommand):
    help = "Verify a binder without a database; exit code 0 the same, 1 something differs, 3 unreadable."
    requires_system_checks = []
    requires_migrations_checks = False

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", metavar="FILE.pdf", help="the binder")
        parser.add_argument("--json", action="store_true", help="print the report as JSON")

    def run_from_argv(self, argv: list[str]) -> None:
        """A call that cannot be understood has verified nothing: the parser's own exit code 2 would not say so."""
        try:
            super().run_from_argv(argv)
        except SystemExit as stop:
            raise SystemExit(UNREADABLE if stop.code == 2 else stop.code) from None

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            report = verify(Path(options["file"]).read_bytes())
        except (OSError, NoBinder, Unreadable) as error:
            self._refuse(str(error), as_json=options["json"])
        except Exception:
            self.stderr.write(traceback.format_exc())
            self._refuse("Verifying crashed; the trace is on standard error.", as_json=options["json"])
        else:
            self._tell(report, as_json=options["json"])
            if not report.is_same:
                sys.exit(1)

    def _refuse(self, reason: str, *, as_json: bool) -> None:
        told = (
            json.dumps({"same": False, "unreadable": reason}, ensure_ascii=False)
            if as_json
            else f"Unreadable: {reason}"
        )
        self.stdout.write(told)
        sys.exit(UNREADABLE)

    def _tell(self, report: Report, *, as_json: bool) -> None:
        if as_json:
            self.stdout.write(json.dumps(report.to_json(), ensure_ascii=False))
            return
        for one in report.differences:
            self.stdout.write(f"Differs: {one}")
        for note in report.notes:
            self.stdout.write(f"Note: {note}")
        counted = ", ".join(f"{number} {name}" for name, number in report.counted.items())
        self.stdout.write(
            f"The same: {counted}." if report.is_same else f"{len(report.differences)} differences in {counted}."
        )
