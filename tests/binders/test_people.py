"""A person whom judging names by id stands in the binder by the name that the manifest has."""

from __future__ import annotations

import json
from typing import Any

from commissioning.binders.render.people import with_names
from commissioning.dossier.settings.words import person
from tests.dossier.test_settings_drift import AFTER, BEFORE, FINALS, RATIO, snapshot
from tests.judging.builder import PERSON, judged, position


def frozen(*records: dict[str, Any], name: str = "Noor Whitlock") -> dict[str, Any]:
    found = judged(*records, place=position())
    texts = [{"text": one["absence"]["text"]} for one in found.judgements if one["absence"]]
    return {
        "judged": {"positions": [{"judgements": found.judgements}]},
        "not_tested": texts,
        "judging": {"envelopes": [json.dumps(one) for one in records]},
        "manifest": [{"id": one["id"], "observed_by": name} for one in records],
    }


def test_whoever_read_a_changed_setting_is_named_in_reasons_and_working() -> None:
    given = frozen(snapshot(BEFORE), FINALS, snapshot(AFTER, "follow_up", **RATIO))
    shown = with_names(given)
    assert any(f"by {person(PERSON)}. Measure again." in one["text"] for one in given["not_tested"])
    assert any("by Noor Whitlock. Measure again." in one["text"] for one in shown["not_tested"])
    assert PERSON not in json.dumps([shown["judged"], shown["not_tested"]])
    assert PERSON in json.dumps(given["judged"])  # what is handed over keeps the id


def test_where_nobody_is_named_the_document_is_drawn_as_it_is() -> None:
    given = frozen(FINALS)
    assert with_names(given) is given
