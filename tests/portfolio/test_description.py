"""The API's description is valid, complete, and the committed copy is what the server publishes."""

import json
from pathlib import Path
from typing import Any

import pytest
from openapi_spec_validator import validate

from portfolio.api import description
from portfolio.api.description import describe
from tests.architecture import matrix
from tests.cast import Cast

COMMITTED = Path(__file__).resolve().parents[2] / "docs" / "openapi.json"
METHODS = ("get", "post", "put", "patch", "delete")


@pytest.fixture(scope="module")
def document() -> dict[str, Any]:
    found: dict[str, Any] = json.loads(json.dumps(describe()))
    return found


def operations(document: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {
        f"{method.upper()} {path}": operation
        for path, item in document["paths"].items()
        for method, operation in item.items()
        if method in METHODS
    }


def test_it_is_valid_openapi_3_1(document: dict[str, Any]) -> None:
    validate(document)
    assert document["openapi"] == "3.1.1"
    assert "nullable" not in json.dumps(document)


def test_making_it_warns_of_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    from drf_spectacular.drainage import GENERATOR_STATS, reset_generator_stats

    reset_generator_stats()
    describe()
    assert not GENERATOR_STATS, capsys.readouterr().err


def test_it_names_every_route_of_the_api_and_no_other(document: dict[str, Any]) -> None:
    served = {
        f"{method} /{route.path}"
        for route in matrix.routes()
        for method in route.methods
        if route.path.startswith("api/") and not route.path.endswith("openapi.json")
    }

    def bare(operation: str) -> str:
        method, path = operation.split()
        return method + " " + "/".join("*" if part[:1] in ("<", "{") else part for part in path.split("/"))

    assert {bare(one) for one in served} == {bare(one) for one in operations(document)}


def test_every_operation_says_how_it_refuses(document: dict[str, Any]) -> None:
    for name, operation in operations(document).items():
        assert {"400", "401", "403", "404", "default"} <= set(operation["responses"]), name
        for status in ("400", "401", "403", "404"):
            assert list(operation["responses"][status]["content"]) == ["application/problem+json"], name
        assert operation["summary"], name
        assert operation["security"] or name.endswith("openapi.json"), name


def test_the_committed_copy_is_what_the_server_publishes(document: dict[str, Any]) -> None:
    """Made again by `manage.py write_openapi`."""
    assert json.loads(COMMITTED.read_text()) == document


@pytest.mark.django_db
def test_the_server_publishes_it_to_everyone(cast: Cast, document: dict[str, Any]) -> None:
    assert cast.actor("anonymous", "").call("GET", "openapi.json").json() == document


@pytest.mark.django_db
def test_it_is_made_once_however_often_it_is_asked_for(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    first = cast.actor("anonymous", "").call("GET", "openapi.json")
    monkeypatch.setattr(description, "describe", dict)
    assert cast.actor("anonymous", "").call("GET", "openapi.json").content == first.content
