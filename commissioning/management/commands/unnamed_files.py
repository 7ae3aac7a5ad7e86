"""Lists the kept files that nothing names any more, and takes them away when it is told to."""

from argparse import ArgumentParser
from datetime import timedelta
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from commissioning.evidence.unnamed_files import unnamed
from portfolio.blobs import removal


class Command(BaseCommand):
    help = "List files that no record, issue, schedule, log or binder names, and with --delete remove them."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--days", type=int, default=90, help="only what was last kept so many days ago")
        parser.add_argument("--delete", action="store_true")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["days"] < 1:
            raise CommandError("--days is 1 at least: a photo may arrive before the record that names it.")
        before = timezone.now() - timedelta(days=options["days"])
        found = unnamed(before=before)
        for one in found:
            kept = f"{one.kept_at:%Y-%m-%d}" if one.kept_at else ""
            self.stdout.write(f"{one.sha256} {kept} {one.size:>12,} {one.media_type or 'no row'}")
        self.stdout.write(f"{len(found)} files that nothing names, {sum(one.size for one in found):,} bytes in rows.")
        if options["delete"]:
            gone = sum(removal.remove(one.sha256, before=before) for one in found)
            left = removal.tidy(before=before)
            self.stdout.write(f"{gone} removed, and {left} left over from a crash.")
