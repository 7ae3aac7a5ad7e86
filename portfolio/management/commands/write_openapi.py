"""The committed copy of the API's description; a test compares it with what the server publishes."""

import json
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

from portfolio.api.description import describe


class Command(BaseCommand):
    help = "Write docs/openapi.json anew."

    def handle(self, *args: Any, **options: Any) -> None:
        path = settings.BASE_DIR / "docs" / "openapi.json"
        path.write_text(json.dumps(describe(), indent=1, ensure_ascii=False, sort_keys=True) + "\n")
        self.stdout.write(f"Wrote {path.relative_to(settings.BASE_DIR)}.")
