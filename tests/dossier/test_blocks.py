"""Blocks survive JSON unchanged, each kind of them."""

import dataclasses
import json

import pytest

from commissioning import blocks as b

EXAMPLES: list[b.Block] = [
    b.Sentence("It conforms.", "lead"),
    b.Caution("Lock the disconnect out.", "rotating parts"),
    b.Table((b.Column("Port"), b.Column("Airflow", "cfm", "right")), (("Supply", "480"),), "Finals", "No finals yet."),
    b.Band("Supply at 97 %.", 90.0, None, 80.0, 97.0, 4.2, (70.0, 88.0), "conforms"),
    b.Plot(
        "Pressure over flow.",
        b.Axis("Flow", "cfm"),
        b.Axis("Pressure", "Pa"),
        (b.Series("curve", (1.0, 2.0), (3.0, 4.0), True),),
    ),
    b.TimePlot(
        "Three days of EF-3, and one mark.",
        259200.0,
        (b.Tick(0.0, "Mon 4 May"), b.Tick(86400.0, "Tue 5 May")),
        (
            b.Panel(
                "Temperature",
                "°C",
                (b.TimeLine("supply air", (0.0, 60.0, 120.0), (20.0, None, 21.0)),),
                (b.Limit("at most 23 °C", 23.0),),
            ),
            b.Panel("States", "", (b.TimeLine("supply fan command", (0.0, 900.0), (0.0, 1.0), True),), (), True),
        ),
        (
            b.Mark("Mon 4 May, 06:00: the fan is started.", 21600.0, 21660.0),
            b.Mark("The damper stays shut.", 9.0, 99.0, True),
        ),
    ),
    b.Working((b.WorkingLine("Mean", "mean(v)", "5.2 m/s", "ISO 3966"),), "From readings"),
    b.Photo("0" * 64, "The damper."),
]


def test_there_is_an_example_of_each() -> None:
    assert [type(one) for one in EXAMPLES] == list(b.BLOCKS)


@pytest.mark.parametrize("block", EXAMPLES, ids=lambda one: type(one).__name__)
def test_a_block_survives_json(block: b.Block) -> None:
    assert b.from_json(json.loads(json.dumps(b.to_json(block)))) == block


@pytest.mark.parametrize("block", EXAMPLES, ids=lambda one: type(one).__name__)
def test_a_block_cannot_be_changed(block: b.Block) -> None:
    field = dataclasses.fields(block)[0].name
    with pytest.raises(dataclasses.FrozenInstanceError):
        setattr(block, field, "")


def test_every_block_has_a_name_of_its_own() -> None:
    names = [b.to_json(one)["block"] for one in EXAMPLES]
    assert len(set(names)) == len(b.BLOCKS)
