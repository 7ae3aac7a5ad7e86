"""Tries at the login, counted where a thousand at once cannot slip past."""

from django.db import models


class LoginTries(models.Model):
    who = models.CharField(primary_key=True, max_length=64)  # a hash: of an account's address, or of a host's
    tries = models.PositiveIntegerField()
    since = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.tries} tries since {self.since}"
