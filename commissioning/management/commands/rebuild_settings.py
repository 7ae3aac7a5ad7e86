"""Make the table in which settings are searched again from what was measured, and say what differed."""

from typing import Any

from django.core.management.base import BaseCommand
from django.db import transaction

from commissioning.verdicts import settings_now
from portfolio.models import Position

BATCH = 200


class Command(BaseCommand):
    help = "Make the settings of every position searchable anew; prints what differed. Exit code 1 if anything did."

    def handle(self, *args: Any, **options: Any) -> None:
        ids = list(Position.objects.order_by("pk").values_list("pk", flat=True))
        differed = 0
        for start in range(0, len(ids), BATCH):
            with transaction.atomic():
                told = settings_now.rebuild(ids[start : start + BATCH])
            differed += len(told)
            for line in told:
                self.stdout.write(line)
        self.stdout.write(f"{len(ids)} positions, {differed} differed")
        if differed:
            raise SystemExit(1)
