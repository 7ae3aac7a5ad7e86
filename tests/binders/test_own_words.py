"""A binder carries the firm's own words for equipment, and its verdicts are worked out again from it alone."""

import json

import pytest

from commissioning.binders import verify
from commissioning.binders.freeze import freeze
from commissioning.models import Binder, OwnChecks
from portfolio.models import DesignEntry
from tests.binders.conftest import Stage
from tests.dossier.test_own_equipment import OWN

pytestmark = pytest.mark.django_db(transaction=True)
HELD = {"options": ["own_sash"], "field_sensors": ["own_radon"], "own_kind": "own_lab_unit"}


def test_what_is_frozen_is_called_and_judged_by_the_firm_s_words_and_verifies(stage: Stage) -> None:
    firm, lead = stage.project.firm, stage.cast.person("own", "lead")
    OwnChecks.objects.create(firm=firm, version=1, text="", document=OWN, made_by=lead)
    stage.position.kind = "hrv"
    stage.position.save()
    entry = DesignEntry.objects.get(revision=stage.revision, position=stage.position)
    entry.fields = {**entry.fields, "equipment": {"unit": HELD}}
    entry.save()
    asked = Binder.objects.create(project=stage.project, title="Closeout", asked_by=lead)
    asked.positions.add(stage.position)
    held = json.loads(freeze(asked).json)
    assert held["units"][0]["kind"] == "Laboratory unit (heat recovery ventilator)"
    judgements = held["judged"]["positions"][0]["judgements"]
    ready = next(one for one in judgements if one["requirement"] == "ready_for_test")
    assert {item for one in ready["facts"]["items"] if (item := one["item"]).startswith("own_")} == {
        "own_by_option",
        "own_by_sensor",
        "own_by_kind",
        "own_in_group",
    }
    assert list(verify._verdicts(held)) == []
    held["judging"]["conventions"]["own_checks"]["add"].pop()  # as if the version had been another
    assert [one.item for one in verify._verdicts(held)]
