"""The frozen document: read strictly, published as a schema, hashed without who asked."""

import copy
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator  # type: ignore[import-untyped]

from commissioning.binders import document
from commissioning.dossier.canonical import canonical_json, sha256_hex
from tests.binders import examples

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def held() -> dict[str, Any]:
    return examples.frozen(1, issues=1)


def test_the_published_schema_is_made_from_the_models() -> None:
    kept = (ROOT / "docs" / "binder-schema.json").read_text(encoding="utf-8")
    assert kept == document.schema_text(), "run python -m commissioning.binders.document docs/binder-schema.json"


def test_every_member_is_told_in_the_papers() -> None:
    told = (ROOT / "docs" / "binder.md").read_text(encoding="utf-8")
    names = {field.alias or name for name, field in document.BinderModel.model_fields.items()} - {"schema"}
    assert {name for name in names if f"`{name}`" not in told} == set()


def test_a_frozen_document_fits_its_schema(held: dict[str, Any]) -> None:
    import json

    Draft202012Validator(json.loads(document.schema_text())).validate(held)


def test_who_asked_is_no_part_of_the_hash(held: dict[str, Any]) -> None:
    other = {**held, "asked": {"by": "Somebody else", "at": "2031-01-01T00:00:00+00:00"}}
    assert document.input_hash(other) == document.input_hash(held) == sha256_hex(document.handed_over(held))
    assert document.input_hash({**held, "title": "Another"}) != document.input_hash(held)


@pytest.mark.parametrize(
    ("change", "where"),
    [
        (lambda held: held.pop("manifest"), "/manifest"),
        (lambda held: held.update(more=1), "/more"),
        (lambda held: held.update(schema="ventfolio/binder/2"), "/schema"),
        (lambda held: held["units"][0].update(tag=7), "/units/0/tag"),
        (lambda held: held["manifest"][0].update(sha256="zz"), "/manifest/0/sha256"),
        (lambda held: held["issues"][0]["story"][0].pop("who"), "/issues/0/story/0/who"),
    ],
)
def test_what_does_not_belong_is_refused_with_its_place(held: dict[str, Any], change: Any, where: str) -> None:
    other = copy.deepcopy(held)
    change(other)
    with pytest.raises(document.Unreadable) as refused:
        document.read(canonical_json(other))
    assert refused.value.problem.pointer == where


@pytest.mark.parametrize("data", [b"", b"[]", b"{", b'{"a":1,"a":2}', b'{"a":NaN}', b"\xff", b"null"])
def test_what_is_no_document_is_refused(data: bytes) -> None:
    with pytest.raises(document.Unreadable):
        document.read(data)
