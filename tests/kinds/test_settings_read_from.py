"""Settings that came through a mapping: the record says from which file, and shows every name that gave no setting."""

from __future__ import annotations

import json
from typing import Any

from commissioning import judging
from commissioning.blocks import Sentence, Table
from commissioning.dossier.settings.applying import import_file, provenance
from commissioning.dossier.settings.mapping import read_mapping
from commissioning.kinds import settings
from tests.judging import builder
from tests.judging.builder import position
from tests.kinds.settings_records import record

READ_FROM: dict[str, Any] = {
    "file": "export.csv",
    "sha256": "ab" * 32,
    "mapping": {"family": "Tarnbeck T2", "version": 3, "sha256": "cd" * 32},
    "ignored": ["panel.brightness"],
    "not_set": ["outward.least"],
    "unknown": [{"name": "drain.heater", "value": "auto", "unit": ""}],
}


def sent(**changes: Any) -> dict[str, Any]:
    made = record()
    made["payload"]["read_from"] = READ_FROM | changes
    return made


def test_the_record_shows_file_mapping_and_every_name_that_gave_no_setting() -> None:
    result = builder.judged(sent(), place=position({"supply": {}}))
    [measured] = [one for one in result.measurements if one["kind"] == "settings"]
    assert measured["facts"]["read_from"] == READ_FROM
    blocks = settings.show(measured, "ip")
    text = " ".join(one.text for one in blocks if isinstance(one, Sentence))
    assert "Read from export.csv (SHA-256 abababababababab…) through the mapping of Tarnbeck T2, version 3." in text
    assert "Left out by the mapping: panel.brightness. Without a value: outward.least." in text
    tables = {one.caption: one.rows for one in blocks if isinstance(one, Table)}
    assert tables["Names that the mapping does not know"] == (("drain.heater", "auto"),)


def test_a_typed_record_says_nothing_of_a_file() -> None:
    result = builder.judged(record(), place=position({"supply": {}}))
    [measured] = [one for one in result.measurements if one["kind"] == "settings"]
    assert "read_from" not in measured["facts"]


def test_a_secret_among_the_names_that_nobody_knows_is_refused_like_any_other() -> None:
    read = judging.read_envelope(json.dumps(sent(unknown=[{"name": "remark", "value": "pin: 4711"}])).encode())
    assert read.holds_secret
    assert [one.value for one in read.problems] == ["(not shown)"]


def test_a_long_name_without_spaces_is_no_key_and_what_is_too_long_for_a_record_is_cut() -> None:
    """A key mixes capitals, small letters and digits in twenty characters or more; so does many a name."""
    raw = f"gain,0.8\nSupplyFanMinimumSpeed01Setpoint,70\nhelp,{'turn ' * 200}\n".encode()
    found = import_file(raw, read_mapping(mapping_text("Tarnbeck").encode()))
    assert found.problems == ()
    made = sent()
    made["payload"]["read_from"] = provenance(found, file="ErvRoofBay3Export20260504", sha256="ab" * 32)
    read = judging.read_envelope(json.dumps(made).encode())
    assert not read.problems
    assert [len(one["value"]) for one in made["payload"]["read_from"]["unknown"]] == [2, 400]


def mapping_text(family: str) -> str:
    head = f'schema = "ventfolio/settings-mapping/1"\nfamily = "{family}"\nversion = 1\n'
    return f'{head}[[settings]]\nsource = "gain"\nsetting = "supply_gain"\n'
