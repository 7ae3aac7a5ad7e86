"""A device token for somebody who has lost the last one, made by who runs the server."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from portfolio import audit
from portfolio.door import tokens
from portfolio.models import DeviceToken, Person


class Command(BaseCommand):
    help = "Make a device token for a person and print it, once."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--email", required=True)
        parser.add_argument("--label", default="made on the server")
        parser.add_argument("--scope", choices=DeviceToken.Scope.values, default=DeviceToken.Scope.ACT.value)
        parser.add_argument("--days", type=int, default=90)

    def handle(self, *args: Any, **options: Any) -> None:
        person = Person.objects.filter(email__iexact=options["email"].strip(), is_active=True).first()
        if person is None:
            raise CommandError(f"Nobody has the address {options['email']}.")
        if not 1 <= options["days"] <= tokens.LONGEST_DAYS:
            raise CommandError(f"A token lives 1 to {tokens.LONGEST_DAYS} days.")
        with transaction.atomic():
            token, secret = tokens.make(
                person=person, label=options["label"], scope=options["scope"], days=options["days"]
            )
            audit.note(request=None, person=person, verb="make_token", obj=token, detail={"scope": token.scope})
        self.stdout.write(secret)
