"""Judges a document without a server: `manage.py judge FILE.json` (or `-` for standard input).

Prints the judgements as JSON. Exit code 0: all conform; 1: some do not; 2: none fails, but something is not settled;
3: the document cannot be read, or judging crashed.
"""

import json
import sys
import traceback
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from commissioning import judging
from commissioning.dossier import strict_json

MOST_BYTES = 512 * 1024 * 1024
UNREADABLE = 3


class Command(BaseCommand):
    help = "Judge a document without a server; exit code 0 conforms, 1 does not, 2 not settled, 3 unreadable."
    requires_system_checks = []
    requires_migrations_checks = False

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", metavar="FILE.json", help="the judging document, or - for standard input")
        parser.add_argument("--indent", type=int, default=None, help="indent the JSON by so many spaces")

    def run_from_argv(self, argv: list[str]) -> None:
        """A call that cannot be understood is no verdict: the parser's own exit code 2 would read as one."""
        self.judged = False
        try:
            super().run_from_argv(argv)
        except SystemExit as stop:
            raise SystemExit(UNREADABLE if stop.code == 2 and not self.judged else stop.code) from None

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            raw = sys.stdin.buffer.read() if options["file"] == "-" else Path(options["file"]).read_bytes()
            result = judging.judge_document(strict_json.parse(raw, most_bytes=MOST_BYTES))
            code = judging.exit_code(result)
        except judging.DocumentError as error:
            result, code = error.to_json(), UNREADABLE
        except (OSError, strict_json.StrictError) as error:
            result, code = _unreadable(error), UNREADABLE
        except Exception:
            self.stderr.write(traceback.format_exc())
            result, code = _unreadable(RuntimeError("Judging crashed; the trace is on standard error.")), UNREADABLE
        self.judged = True
        self.stdout.write(json.dumps(result, ensure_ascii=False, sort_keys=True, indent=options["indent"]))
        if code:
            sys.exit(code)


def _unreadable(error: Exception) -> dict[str, Any]:
    strict = error if isinstance(error, strict_json.StrictError) else None
    problem = {
        "envelope": None,
        "field": strict.pointer if strict else "",
        "value": strict.value if strict else "",
        "reason": strict.reason if strict else getattr(error, "strerror", None) or str(error),
        "remedy": strict.remedy if strict else "See docs/judging-document.md.",
    }
    return {"schema": judging.RESULT_SCHEMA, "positions": [], "problems": [problem]}
