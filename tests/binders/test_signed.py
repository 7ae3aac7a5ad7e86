"""A binder tells who signed for a unit and whether that stands, and verifying looks at both again."""

import json
from typing import Any

import pytest

from commissioning.binders import pages, verify
from commissioning.binders.freeze import freeze
from commissioning.binders.render import render
from commissioning.dossier.canonical import canonical_json
from commissioning.judging import signing
from commissioning.models import Binder, Signature
from commissioning.signatures.actions import of_unit, sign
from portfolio.jobs import runner
from tests.binders import examples
from tests.binders.conftest import Stage

Held = dict[str, Any]


def differing(held: Held) -> list[str]:
    return [f"{one.item}: {one.what}" for one in verify._signatures(held)]


def signed() -> Held:
    """One unit, signed for exactly as it is judged there."""
    held = examples.frozen(1, issues=0)
    said = signing.statement(signing.lines_of(held["judged"]["positions"][0]["judgements"]), (), ())
    held["units"][0]["signature"] = {
        "number": 2,
        "by": "Imre Castellan",
        "at": "2026-06-12T16:41:00-05:00",
        "note": "Seen on site.",
        "sha256": signing.hash_of(said),
        "statement": said,
        "stands": True,
        "void": "",
    }
    return held


def test_the_sheet_says_who_signed_and_the_cover_how_many() -> None:
    held = signed()
    said = " ".join(" ".join(pages.read(render(canonical_json(held)).pdf).pages).split())
    assert "Fri 12 Jun 2026, 16:41, by Imre Castellan, with the note “Seen on site.”, over SHA-256" in said
    assert "One is signed." in said


def test_a_signature_that_was_put_there_afterwards_is_found() -> None:
    held = signed()
    tag = held["units"][0]["tag"]
    assert differing(held) == []
    held["units"][0]["signature"]["stands"] = False
    assert differing(held) == [f"unit {tag}, signature 2: whether it stands"]
    held["units"][0]["signature"]["stands"] = True
    held["units"][0]["signature"]["statement"]["judgements"][0]["sha256"] = "0" * 64
    assert differing(held) == [
        f"unit {tag}, signature 2: what was signed is not that of its hash",
        f"unit {tag}, signature 2: whether it stands",
    ]


@pytest.mark.django_db(transaction=True)
def test_what_is_frozen_stands_as_long_as_the_binder_judges_what_was_signed(stage: Stage) -> None:
    stage.submit("good")
    runner.drain()
    unit, lead = stage.position, stage.cast.person("own", "lead")
    sign(position=unit, person=lead, of=of_unit(unit.pk).signable.sha256)
    asked = Binder.objects.create(project=stage.project, title="Closeout", asked_by=lead)
    asked.positions.add(unit)
    held = json.loads(freeze(asked).json)
    told = held["units"][0]
    assert (told["standing"]["code"], told["signature"]["stands"], told["signature"]["by"]) == (
        "signed",
        True,
        lead.name,
    )
    assert differing(held) == []

    stage.submit("again", session="AL-2", at="2026-05-14T09:00:00-06:00", flows={"supply": 1020})
    after = json.loads(freeze(asked).json)  # not judged on the server yet: the binder's own judging decides
    assert Signature.objects.count() == 1
    assert after["units"][0]["signature"]["stands"] is False
    assert "is void, since this changed:" in after["units"][0]["standing"]["sentence"]
    assert differing(after) == []
