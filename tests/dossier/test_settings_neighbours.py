"""A unit's address held against those of the other units of its site: what contradicts, what is only worth a look."""

from __future__ import annotations

from typing import Any

import pytest

from commissioning import judging
from tests.judging.builder import Result, document, position
from tests.kinds.settings_records import fired, judged, record, values

SAME = {"tag": "ERV-2", "device_instance": 30021, "network_protocol": "bacnet_ip", "network_address": 4}


def result(near: list[dict[str, Any]] | None, **changes: Any) -> Result:
    return judged(record(values(**changes)), place=position({"supply": {}}, neighbours=near))


@pytest.mark.parametrize(
    ("near", "changes", "codes"),
    [
        ([SAME], {}, ["E07"]),
        ([SAME], {"device_instance": 30022}, []),
        ([SAME], {"network_protocol": "modbus_serial"}, []),  # it has no device instance to be found by
        ([{**SAME, "network_protocol": "modbus_tcp"}], {}, []),
        ([{"tag": "ERV-2", "device_instance": 30021}], {}, ["E07"]),  # of a protocol that was not read
        ([{**SAME, "device_instance": 4194303}], {"device_instance": 4194303}, ["E12"]),  # names any device
        ([{"tag": "ERV-2", "network_address": 21, "network_protocol": "bacnet_mstp"}], {}, ["E08"]),
        ([{"tag": "ERV-2", "network_address": 21, "network_protocol": "modbus_serial"}], {}, []),
        ([{"tag": "ERV-2", "network_address": 21}], {"network_protocol": "bacnet_ip"}, []),
        (
            [{"tag": "ERV-2", "internet_address": "10.0.0.7"}],
            {"internet_address": "10.0.0.7 ", "network_protocol": "bacnet_ip"},
            ["E09"],
        ),
        ([], {}, []),
        (None, {}, []),
    ],
)
def test_one_address_at_two_units_is_found_where_it_names_one_thing(
    near: list[dict[str, Any]] | None, changes: dict[str, Any], codes: list[str]
) -> None:
    assert fired(result(near, **changes)) == codes


def test_one_device_instance_fails_and_one_address_on_a_wire_is_worth_a_look() -> None:
    assert result([SAME]).outcome("settings_consistent") == "does_not_conform"
    wire = {"tag": "ERV-2", "network_address": 21, "network_protocol": "bacnet_mstp"}
    assert result([wire]).outcome("settings_consistent") == "conforms"


def test_the_other_is_named_where_its_name_may_be_told() -> None:
    found = result([SAME, {**SAME, "tag": None}])
    shown = judging.show_judgement(found.judgement("settings_consistent"), [], "ip")
    assert "the same at ERV-2, a unit in another building of the site" in str(shown)


def test_a_neighbour_with_a_field_that_is_none_is_refused() -> None:
    given = document(place=position({"supply": {}}, neighbours=[{**SAME, "password": "1234"}]))
    with pytest.raises(judging.DocumentError) as told:
        judging.judge_document(given)
    assert told.value.problems[0].pointer == "/positions/0/neighbours/0/password"
