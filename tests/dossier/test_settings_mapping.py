"""A firm's mapping of a controller family: what a file amounts to through it, and what is refused, with where and why.

The file is of the invented family in fixtures/controllers; expected values are worked out beside each check.
"""

import doctest
import json
import tomllib
from pathlib import Path
from typing import Any

import pytest

from commissioning.dossier.settings import applying, mapping
from commissioning.dossier.settings.applying import Imported, apply, import_file, provenance
from commissioning.dossier.settings.exports import Export, Given
from commissioning.dossier.settings.mapping import MappingRefused, SettingsMapping, read_mapping

CONTROLLERS = Path(__file__).resolve().parents[2] / "fixtures" / "controllers"
EXAMPLE = (CONTROLLERS / "tarnbeck-t2.toml").read_bytes()
CSV, JSON = ((CONTROLLERS / f"tarnbeck-t2-export.{form}").read_bytes() for form in ("csv", "json"))


def entry(source: str = "a", setting: str = "supply_gain", **rest: Any) -> dict[str, Any]:
    return {"source": source, "setting": setting, **rest}


def document(*settings: Any, **rest: Any) -> dict[str, Any]:
    made = {"schema": "ventfolio/settings-mapping/1", "family": "Tarnbeck T2", "version": 1, "settings": list(settings)}
    return {**made, **rest}


def read(*settings: Any, **rest: Any) -> SettingsMapping:
    return read_mapping(json.dumps(document(*settings, **rest)).encode())


def refused(given: Any) -> list[tuple[str, str]]:
    """Where and why; every problem has a remedy."""
    raw = given if isinstance(given, bytes) else json.dumps(given).encode()
    with pytest.raises(MappingRefused) as fault:
        read_mapping(raw)
    assert all(one.reason and one.remedy for one in fault.value.problems)
    return [(one.pointer, one.reason) for one in fault.value.problems]


# The example


@pytest.mark.parametrize("raw", [CSV, JSON], ids=["csv", "json"])
def test_both_exports_of_the_example_amount_to_the_same_settings(raw: bytes) -> None:
    """1415.8 tenths of a litre are 141.58 L/s; 6:30 is 6.5 h; ---, or null, is not set."""
    found = import_file(raw, read_mapping(EXAMPLE))
    assert found.problems == ()
    assert found.values == {
        "time_zone": "America/Denver",
        "enabling": "schedule",
        "occupied_days": 5,
        "occupied_from": {"value": 6.5, "unit": "h"},
        "occupied_to": {"value": 18.0, "unit": "h"},
        "option_dampers": True,
        "supply_control": "airflow_reset_on_co2",
        "supply_minimum_airflow": {"value": 141.58, "unit": "L/s"},
        "supply_maximum_airflow": {"value": 471.9, "unit": "L/s"},
        "exhaust_ratio": {"value": 92.5, "unit": "%"},
        "damper_to_fan_delay": {"value": 90.0, "unit": "s"},
        "frost_limit": {"value": 35.6, "unit": "degF"},
    }
    assert [one.given.source for one in found.those("ignored")] == ["panel.brightness"]
    assert [one.given.source for one in found.those("not_set")] == ["outward.least"]
    assert [(one.given.source, one.given.value) for one in found.those("unknown")] == [("drain.heater", "auto")]
    assert [one.setting.code for one in found.absent] == ["exhaust_minimum_airflow", "co2_setpoint"]


def test_every_name_of_a_file_is_told_of_in_the_record() -> None:
    found = import_file(CSV, read_mapping(EXAMPLE))
    told = provenance(found, file="export.csv", sha256="0" * 64)
    named = len(found.values) + len(told["ignored"]) + len(told["not_set"]) + len(told["unknown"])
    assert named == len(CSV.decode("utf-8-sig").splitlines()) - 1
    assert told["unknown"] == [{"name": "drain.heater", "value": "auto", "unit": ""}]
    assert (told["mapping"]["family"], told["mapping"]["version"]) == ("Tarnbeck T2 (invented)", 1)


def test_a_mapping_says_the_same_in_json_as_in_toml() -> None:
    as_json = json.dumps(tomllib.loads(EXAMPLE.decode())).encode()
    assert read_mapping(as_json).lines == read_mapping(EXAMPLE).lines


def test_the_mapping_that_the_papers_show_is_one() -> None:
    paper = (CONTROLLERS.parents[1] / "docs" / "settings-import.md").read_text(encoding="utf-8")
    lines = paper.split("at most 256 KB:", 1)[1].split("| field |", 1)[0].splitlines()
    found = read_mapping("\n".join(line.removeprefix("    ") for line in lines).encode())
    assert [(one.source, one.setting.code) for one in found.lines] == [
        ("inward.least", "supply_minimum_airflow"),
        ("start.by", "enabling"),
    ]


def test_values_from_a_network_go_through_the_same_mapping() -> None:
    """A reader calls an object by its type and instance; its unit may be said in words."""
    given = (Given("Device 4194302  Analog-Value 12", 900.0, "parts per million"),)
    found = apply(read_mapping(EXAMPLE), Export(given))
    assert found.values == {"co2_setpoint": {"value": 900.0, "unit": "ppm"}}


@pytest.mark.parametrize("module", [applying, mapping])
def test_the_examples_hold(module: Any) -> None:
    told = doctest.testmod(module)
    assert told.attempted
    assert told.failed == 0


# Mappings that are refused


@pytest.mark.parametrize(
    ("given", "where", "why"),
    [
        (b"", "/schema", "missing"),
        (b"\xff\xfe", "", "not UTF-8"),
        (b"version = 1\nfamily", "", "neither JSON nor TOML"),
        (b'{"a": 1, "a": 2}', "/a", "twice"),
        (b"[]", "", "A mapping is an object"),
        (document(), "/settings", "at least 1"),
        (document(entry(), schema="ventfolio/settings-mapping/9"), "/schema", "not known here"),
        ({key: held for key, held in document(entry()).items() if key != "family"}, "/family", "missing"),
        (document(entry(), version="2"), "/version", "no whole number"),
        (document(entry(), version=0), "/version", "at least 1"),
        (document(entry(), maker="X"), "/maker", "no such field"),
        (document(entry(), decimal="dot"), "/decimal", "not known here"),
        (document(entry(), settings=3), "/settings", "no list"),
        (document({"source": "a"}), "/settings/0/setting", "missing"),
        (document(entry("")), "/settings/0/source", "at least 1"),
        (document(entry(setting="suply_gain")), "/settings/0/setting", "No setting has this name"),
        (document(entry("a"), entry(" A ", "exhaust_gain")), "/settings/1/source", "twice; first at /settings/0"),
        (document(entry("a"), entry("b")), "/settings/1/setting", "Two names"),
        (document(entry("a"), ignored=["A"]), "/ignored/0", "twice"),
        (document(entry(setting="frost_limit")), "/settings/0/unit", "unit is missing"),
        (document(entry(setting="frost_limit", unit="cfm")), "/settings/0/unit", "unit of airflow; here it takes temp"),
        (document(entry(setting="frost_limit", unit="smoots")), "/settings/0/unit", "No such unit"),
        (document(entry(unit="cfm")), "/settings/0/unit", "has no unit"),
        (document(entry(setting="frost_limit", unit="as_exported", scale=0.1)), "/settings/0/unit", "scale needs"),
        (document(entry(scale=0)), "/settings/0/scale", "nothing"),
        (document(entry(scale="0.1")), "/settings/0/scale", "no number"),
        (document(entry(setting="enabling", scale=2)), "/settings/0/scale", "nothing to scale"),
        (document(entry(setting="enabling", words={"1": "magic"})), "/settings/0/words/1", "never this"),
        (document(entry(setting="option_dampers", words={"1": "maybe"})), "/settings/0/words/1", "never this"),
        (document(entry(setting="option_dampers", words={"A": "yes", "a": "no"})), "/settings/0/words/a", "twice"),
        (document(entry(words={"1": "one"})), "/settings/0/words", "no words"),
        (document(entry("service_pin", "network_address")), "/settings/0/source", "password"),
        (document(entry(), ignored=["Installer Password"]), "/ignored/0", "password"),
        (document(entry(), note="pin 4711"), "/note", "seems to be in it"),
    ],
)
def test_a_bad_mapping_says_where_and_why(given: Any, where: str, why: str) -> None:
    assert [one for one in refused(given) if one[0] == where and why in one[1]], refused(given)


def test_everything_that_is_wrong_with_a_mapping_is_told_at_once() -> None:
    given = document(
        entry(setting="suply_gain"), {"source": "b"}, entry("c", "frost_limit", unit="cfm"), version=0, colour="blue"
    )
    assert [where for where, _ in refused(given)] == [
        "/version",
        "/settings/1/setting",
        "/colour",
        "/settings/0/setting",
        "/settings/2/unit",
    ]


def test_a_name_that_looks_like_a_secret_is_not_repeated() -> None:
    with pytest.raises(MappingRefused) as fault:
        read(entry("unlock_code", "network_address"))
    assert [one.value for one in fault.value.problems] == ["(not shown)"]


# Exports: what is read


PLAIN = (
    entry("flow", "supply_airflow", unit="cfm"),
    entry("gain", "supply_gain"),
    entry("days", "occupied_days"),
    entry("damper", "option_dampers"),
    entry("by", "enabling"),
    entry("zone", "time_zone"),
    entry("from", "occupied_from", unit="h"),
)


def taken(raw: bytes | str, *settings: Any, **rest: Any) -> Imported:
    return import_file(raw if isinstance(raw, bytes) else raw.encode(), read(*(settings or PLAIN), **rest))


@pytest.mark.parametrize(
    "raw",
    [
        "name,value\nflow,1000\ngain,0.8\n",
        "flow,1000\ngain,0.8\n",
        "flow;1000;cfm\ngain;0,8;\n",
        "flow\t1000\t\r\ngain\t0.8\r\n",
        "flow,gain\n1000,0.8\n",
        "Point;Eng. note;Value;Units\nflow;x;1000;CFM\ngain;y;0,8;no-units\n",
        "Exported 4 May 2026\n\nname,value\nFlow ,1000 cfm\nGAIN,8e-1\n",
        'name,value\nflow,"1000,0"\ngain,"0,80"\n',
        '{"flow": 1000, "gain": 0.8}',
        '[{"name": "flow", "value": "1000", "unit": "cfm"}, {"name": "gain", "value": 0.8}]',
        '{"flow": {"value": 1000, "unit": "cfm"}, "gain": "0.8"}',
        "flow,1000\ngain,0.8".encode("utf-16"),
        "flow;1000;\ngain;0,8;\nnote;\u00fcber Dach".encode("cp1252"),
    ],
)
def test_these_forms_of_an_export_are_read(raw: bytes | str) -> None:
    found = taken(raw)
    assert found.problems == ()
    assert found.values == {"supply_airflow": {"value": 1000.0, "unit": "cfm"}, "supply_gain": 0.8}


def test_the_unit_beside_a_value_goes_before_that_of_the_mapping() -> None:
    assert taken("flow,470,L/s").values == {"supply_airflow": {"value": 470.0, "unit": "L/s"}}


def test_scale_and_offset_lead_into_the_mappings_unit() -> None:
    """250 × 0.1 − 40 = −15 °C."""
    found = taken("ice,250", entry("ice", "frost_limit", unit="degC", scale=0.1, offset=-40))
    assert found.values == {"frost_limit": {"value": -15.0, "unit": "degC"}}


def test_columns_have_the_names_that_the_mapping_gives_them() -> None:
    found = taken("Nr,What,Now,Default\n1,gain,0.8,0.5\n", columns={"name": "what", "value": "now"})
    assert found.values == {"supply_gain": 0.8}
    assert found.columns_not_read == ("Nr", "Default")


def test_a_file_in_which_one_number_has_a_decimal_comma_has_them_everywhere() -> None:
    """1,250 alone might be 1250; beside 12,5 it is one and a quarter."""
    assert taken("flow;1,250\ngain;12,5\n").values["supply_airflow"] == {"value": 1.25, "unit": "cfm"}
    assert taken("flow;1,250\n", decimal="comma").values["supply_airflow"] == {"value": 1.25, "unit": "cfm"}
    assert taken("flow;1,250\n").values == {}


def test_a_password_without_a_value_is_no_secret_and_is_listed() -> None:
    found = taken("gain,0.8\nservice_pin,****\nPassword,\n")
    assert found.problems == ()
    assert [one.given.source for one in found.those("unknown")] == ["service_pin", "Password"]


# Exports: what is refused


@pytest.mark.parametrize(
    ("raw", "where", "why"),
    [
        ("", "", "empty"),
        (b"PK\x03\x04\x00\x00", "", "no text"),
        ("{", "", "not JSON"),
        ("{}", "", "no value in it"),
        ('{"flow": 1, "flow": 2}', "/flow", "twice"),
        ('{"flow": {"value": [1]}}', "/flow", "further values"),
        ('[{"name": 3, "value": 1}]', "/0", "no text"),
        ('flow,"1000', "line 2", "cannot be parted"),
        ("name,value\n", "line 1", "nothing under it"),
        ("name,value\n,12\n", "line 2", "without a name"),
        ("name,value\nflow,12,5\n", "line 2", "3 cells under 2 columns"),
        ("flow,12,5\n", "line 1", "where the unit should stand"),
        ("flow,gain\n1,2,3\n", "line 2", "2 names and 3 values"),
        ("a,b,c,d\n1,2,3,4\n5,6,7,8\n", "line 1", "which column"),
        ("flow,1\nflow,2\n", "line 2", "twice with two values"),
        ("flow,fast\n", "line 1, flow", "no number"),
        ("flow;1.234,5\n", "line 1, flow", "Thousands"),
        ("flow;1,250\n", "line 1, flow", "decimal one or parts thousands"),
        ("flow;1.250\ngain;0,8\n", "line 1, flow", "decimal comma holds"),
        ("flow,1 000\n", "line 1, flow", "Thousands"),
        ("flow,1e999\n", "line 1, flow", "finite"),
        ("flow,1000,Pa\n", "line 1, flow", "one of pressure; this setting takes airflow"),
        ("flow,1000,furlongs\n", "line 1, flow", "not known"),
        ("flow,1000 cfm,L/s\n", "line 1, flow", "Two units"),
        ("flow,1e9\n", "line 1, flow", "lies outside"),
        ("gain,3 V\n", "line 1, gain", "no unit"),
        ("days,2.5\n", "line 1, days", "whole number"),
        ("days,8\n", "line 1, days", "lies outside"),
        ("damper,2\n", "line 1, damper", "does not say what this means"),
        ('{"damper": 1}', "/damper, damper", "does not say what this means"),
        ("by,magic\n", "line 1, by", "does not say what this means"),
        ("from,25:00\n", "line 1, from", "lies outside"),
        ('{"flow": true}', "/flow, flow", "no number"),
        ("colour,blue\n", "", "Nothing in it is a setting"),
        ("gain,0.8\nservice_pin,4711\n", "line 2", "password"),
        ('{"gain": 0.8, "service": {"pin": 4711}}', "/service/pin", "password"),
        ("gain,0.8\nremark,password=horse77\n", "line 2", "seems to be in it"),
        ("Password:,4711\nname,value\ngain,0.8\n", "line 1", "seems to be in it"),
        ("name,value,Password\ngain,0.8,x\n", "the header", "password"),
    ],
)
def test_a_bad_export_says_where_and_why_and_gives_nothing(raw: bytes | str, where: str, why: str) -> None:
    found = taken(raw)
    assert [one for one in found.problems if one.pointer == where and why in one.reason], found.problems
    assert all(one.remedy for one in found.problems)
    assert found.values == {}


def test_an_export_without_the_columns_of_the_mapping_is_refused() -> None:
    found = taken("a,b\ngain,1\n", columns={"name": "what", "value": "now"})
    assert [(one.pointer, one.remedy[:34]) for one in found.problems] == [
        ("line 1", "The mapping looks for what, now: c")
    ]


def test_a_scaled_value_in_another_unit_is_refused() -> None:
    found = taken("flow,100,L/s", entry("flow", "supply_airflow", unit="cfm", scale=0.1))
    assert "the mapping scales it into cfm" in found.problems[0].reason


def test_all_bad_values_are_told_at_once_and_no_secret_is_repeated() -> None:
    found = taken("flow,fast\ngain,0.8\ndays,9\nservice_pin,4711\nzone,pin: 4711\n")
    assert [one.pointer for one in found.problems] == ["line 4", "line 5", "line 1, flow", "line 3, days"]
    assert not any("4711" in f"{one.value}{one.reason}" for one in found.problems)
    assert [one.given.source for one in found.lines] == ["gain"]
