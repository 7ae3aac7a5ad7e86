"""Tries at the login are counted, by account and by address, and a thousand at once are counted too."""

import threading
from datetime import timedelta

import pytest
from django.conf import settings
from django.db import connection
from django.http import HttpRequest
from django.test import RequestFactory
from django.utils import timezone

from portfolio.door.limits import count_login_try, forget_login_tries
from portfolio.door.problems import Problem
from portfolio.models import LoginTries


def asking(address: str = "192.0.2.7") -> HttpRequest:
    return RequestFactory().post("/login", REMOTE_ADDR=address)


def passed(tries: int, email: str, address: str = "192.0.2.7") -> int:
    let_through, refused = 0, list[Problem]()
    for _ in range(tries):
        try:
            count_login_try(asking(address), email)
            let_through += 1
        except Problem as problem:
            refused.append(problem)
    assert all(problem.status == 429 and int(problem.headers["Retry-After"]) > 0 for problem in refused)
    return let_through


@pytest.mark.django_db
def test_an_account_has_ten_tries_in_a_window_and_another_is_not_touched() -> None:
    assert passed(15, "a@cast.example") == settings.LOGIN_TRIES_PER_ACCOUNT
    assert passed(1, " A@Cast.example ") == 0
    assert passed(1, "b@cast.example") == 1
    LoginTries.objects.update(since=timezone.now() - timedelta(minutes=16))
    assert passed(15, "a@cast.example") == settings.LOGIN_TRIES_PER_ACCOUNT


@pytest.mark.django_db
def test_an_address_that_tries_many_accounts_is_held_too() -> None:
    assert sum(passed(1, f"{n}@cast.example") for n in range(60)) == settings.LOGIN_TRIES_PER_ADDRESS
    assert passed(1, "new@cast.example", "192.0.2.8") == 1


@pytest.mark.django_db
def test_who_got_in_starts_anew_and_no_address_lies_in_the_table() -> None:
    passed(10, "a@cast.example")
    forget_login_tries("A@cast.example")
    assert passed(1, "a@cast.example") == 1
    assert not LoginTries.objects.filter(who__contains="cast").exists()


@pytest.mark.django_db(transaction=True)
def test_tries_at_once_are_all_counted() -> None:
    if connection.vendor == "sqlite":
        assert passed(30, "a@cast.example") == settings.LOGIN_TRIES_PER_ACCOUNT  # one writer: they queue
        return
    let_through: list[int] = []

    def work() -> None:
        let_through.append(passed(10, "a@cast.example"))
        connection.close()

    threads = [threading.Thread(target=work) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sum(let_through) == settings.LOGIN_TRIES_PER_ACCOUNT
