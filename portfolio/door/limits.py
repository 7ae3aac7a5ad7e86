"""Counting tries at the login, answers through a link and submissions: in the database, so that none is missed.

An account is counted whether it exists or not: the answer tells nothing about who has one. How many are let through is
a setting; a broker is not needed for it.
"""

import hashlib
import math
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from uuid import UUID

from django.conf import settings
from django.db import connection
from django.http import HttpRequest
from django.utils import timezone

from portfolio.door.problems import Problem

WINDOW = timedelta(minutes=15)


def count_login_try(request: HttpRequest, email: str) -> None:
    """Call before the password is looked at; raises 429 with Retry-After once there were too many.

    One atomic statement counts and reads. Outside of a transaction of the caller's, or a refused try is forgotten.
    """
    counted = (
        (f"account {email.strip().lower()}", settings.LOGIN_TRIES_PER_ACCOUNT),
        (f"address {request.META.get('REMOTE_ADDR', '')}", settings.LOGIN_TRIES_PER_ADDRESS),
    )
    _refuse_beyond(counted)


def count_link_try(request: HttpRequest, secret: str, *, known: bool) -> None:
    """The same for a link that answers without an account: what is sent through it, and guesses from an address."""
    address = (f"guesses {request.META.get('REMOTE_ADDR', '')}", settings.LOGIN_TRIES_PER_ADDRESS)
    _refuse_beyond(((f"link {secret}", settings.ANSWERS_PER_LINK),) if known else (address,))


def wait_to_submit_s(person: UUID, envelopes: int) -> int:
    """Count what a person sends now; 0, or how many seconds to wait [s] where there was enough before it.

    Within the transaction that keeps it, as its last statement: what is refused is rolled back, and so is its count.
    A batch that begins within the limit is taken whole.
    """
    now = timezone.now()
    count, since = _count(f"sender {person}", by=envelopes)
    if count - envelopes < settings.SUBMISSIONS_PER_PERSON:
        return 0
    return max(1, math.ceil((since + WINDOW - now).total_seconds()))


def _refuse_beyond(counted: Sequence[tuple[str, int]]) -> None:
    over = [_count(who)[0] > most for who, most in counted]  # all are counted, always
    if any(over):
        wait_s = int(WINDOW.total_seconds())
        raise Problem(
            429, "too_many_tries", "Too many tries", "Wait a quarter of an hour.", headers={"Retry-After": str(wait_s)}
        )


def forget_login_tries(email: str) -> None:
    """After a login that succeeded: the account's count starts anew, the address's does not."""
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM portfolio_logintries WHERE who = %s", [_key(f"account {email.strip().lower()}")])


def _count(who: str, *, by: int = 1) -> tuple[int, datetime]:
    """How many since the window began, these among them; and when it began."""
    now = timezone.now()
    begins = connection.ops.adapt_datetimefield_value(now)
    stale = connection.ops.adapt_datetimefield_value(now - WINDOW)
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO portfolio_logintries (who, tries, since) VALUES (%s, %s, %s) ON CONFLICT (who) DO UPDATE SET"
            " tries = CASE WHEN portfolio_logintries.since < %s THEN excluded.tries"
            " ELSE portfolio_logintries.tries + excluded.tries END,"
            " since = CASE WHEN portfolio_logintries.since < %s THEN excluded.since"
            " ELSE portfolio_logintries.since END RETURNING tries, since",
            [_key(who), by, begins, stale, stale],
        )
        tries, since = cursor.fetchone()
    return int(tries), _moment(since)


def _moment(kept: datetime | str) -> datetime:
    """SQLite gives text without a zone."""
    moment = datetime.fromisoformat(kept) if isinstance(kept, str) else kept
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def _key(who: str) -> str:
    """No address or mail lies in the table, only what they hash to."""
    return hashlib.sha256(who.encode()).hexdigest()
