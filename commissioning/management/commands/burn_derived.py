"""Throw away all that follows from the evidence, and want it made again. The evidence and the issues stay."""

from typing import Any

from django.core.management.base import BaseCommand
from django.db import transaction

from commissioning.evidence import remake
from commissioning.verdicts import keep
from portfolio.jobs import queue
from portfolio.models import Position, Standing


class Command(BaseCommand):
    help = "Burn records, verdicts and standings, remake the records from the bytes, and queue every judging."

    def handle(self, *args: Any, **options: Any) -> None:
        with transaction.atomic():
            keep.burn()
            Standing.objects.all().delete()
            count = remake.records()
            queue.want("judge", Position.objects.values_list("pk", flat=True))
        self.stdout.write(f"{count} records made again; every position waits for judging")
