"""Recompute every position's standing whole, and say what the kept one said differently."""

from typing import Any

from django.core.management.base import BaseCommand
from django.db import transaction

from commissioning import standing
from portfolio.models import Position

BATCH = 500


class Command(BaseCommand):
    help = "Recompute the standing of every position; prints what differed. Exit code 1 if anything did."

    def handle(self, *args: Any, **options: Any) -> None:
        ids = list(Position.objects.order_by("pk").values_list("pk", flat=True))
        differed = 0
        for start in range(0, len(ids), BATCH):
            batch = ids[start : start + BATCH]
            with transaction.atomic():
                told = standing.differences(batch)
                standing.refresh(batch)
            differed += len(told)
            for line in told:
                self.stdout.write(line)
        self.stdout.write(f"{len(ids)} positions, {differed} differed")
        if differed:
            raise SystemExit(1)
