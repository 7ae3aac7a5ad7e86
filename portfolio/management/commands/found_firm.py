"""The first write, which cannot come by HTTP: a firm needs a first lead before anyone can ask for anything."""

import sys
from argparse import ArgumentParser
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.core.validators import validate_email
from django.db import transaction

from portfolio import audit
from portfolio.door import tokens
from portfolio.models import Firm, Membership, Person
from portfolio.models.people import Role


class Command(BaseCommand):
    help = "Make a firm with its first lead, and print a device token for that person, once."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--name", required=True, help="of the firm")
        parser.add_argument("--lead-name", required=True)
        parser.add_argument("--email", required=True, help="of the lead")
        parser.add_argument("--password-stdin", action="store_true", help="read the lead's password from the input")
        parser.add_argument("--token-only", action="store_true", help="print nothing but the token")

    def handle(self, *args: Any, **options: Any) -> None:
        email = options["email"].strip().lower()
        password = sys.stdin.readline().rstrip("\n") if options["password_stdin"] else None
        self._check(email, password)
        with transaction.atomic():
            if Firm.objects.filter(name=options["name"]).exists():
                raise CommandError(f"There is a firm called {options['name']} already.")
            if Person.objects.filter(email__iexact=email).exists():
                raise CommandError(f"{email} belongs to somebody already.")
            firm = Firm.objects.create(name=options["name"])
            lead = Person.objects.create_person(email, options["lead_name"], password)
            Membership.objects.create(person=lead, role=Role.LEAD, firm=firm)
            _, secret = tokens.make(person=lead, label="first token", scope="act")
            audit.note(request=None, person=lead, verb="found_firm", obj=firm)
        if options["token_only"]:
            self.stdout.write(secret)
        else:
            self.stdout.write(f"Firm {firm.name} ({firm.pk}), lead {lead.name} ({lead.pk}).")
            self.stdout.write(f"Device token, shown this once and good for 90 days:\n{secret}")

    def _check(self, email: str, password: str | None) -> None:
        try:
            validate_email(email)
            if password is not None:
                validate_password(password)
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from error
