"""The parts that read words: headings, tags, cells, numbers, air. Tables of what is written and what it means.

What the words stand for is common practice of the trade, no source.
"""

import doctest
from importlib import import_module

import pytest

from portfolio.schedules.reading.cells import Address
from portfolio.schedules.understanding.air import basis_in
from portfolio.schedules.understanding.headings import read_heading
from portfolio.schedules.understanding.meanings import MEANINGS, meaning_choices
from portfolio.schedules.understanding.numbers import style_of
from portfolio.schedules.understanding.places import building_in
from portfolio.schedules.understanding.tags import close_to, kind_of_tag, kind_of_title, looks_like_tag, read_tags
from portfolio.schedules.understanding.values import cites_in, read_value, scope_word

PURE = (
    "reading.cells reading.formats understanding.words understanding.headings understanding.tags understanding.values"
)
PURE += " understanding.equipment understanding.numbers understanding.air understanding.places understanding.stored"


@pytest.mark.parametrize("name", PURE.split())
def test_examples_in_the_docstrings(name: str) -> None:
    failed, tried = doctest.testmod(import_module(f"portfolio.schedules.{name}"))
    assert failed == 0
    assert tried > 0


@pytest.mark.parametrize(
    ("path", "meaning", "unit"),
    [
        ("TAG", "tag", ""),
        ("Unit No.", "tag", ""),
        ("UNIT|NO.", "tag", ""),
        ("MARK", "tag", ""),
        ("MFR./MODEL", "maker_and_model", ""),
        ("SERVES", "serves", ""),
        ("QTY.", "quantity", ""),
        ("SA CFM", "supply.airflow", "cfm"),
        ("S/A (CFM)", "supply.airflow", "cfm"),
        ("OA|L/s", "outdoor.airflow", "L/s"),
        ("O.A. CFM", "outdoor.airflow", "cfm"),
        ("RA|m³/h", "return.airflow", "m3/h"),
        ("EXH. AIR|CFM", "exhaust.airflow", "cfm"),
        ("AIRFLOW (CFM)|OSA", "outdoor.airflow", "cfm"),
        ("RELIEF AIR CFM", "exhaust.airflow", "cfm"),
        ("OUTSIDE AIR|MIN. CFM", "outdoor.minimum", "cfm"),
        ("OUTSIDE AIR|MAX. CFM", "outdoor.airflow", "cfm"),
        ("OUTDOOR AIR|CFM MAX/MIN", "outdoor.airflow_and_minimum", "cfm"),
        ("EXHAUST AIR|QUANTITY|CFM", "exhaust.airflow", "cfm"),
        ("SUPPLY AIR|QTY. (L/s)", "supply.airflow", "L/s"),
        ("EXHAUST CFM MIN/MAX", "exhaust.minimum_and_airflow", "cfm"),
        ("SUPPLY FAN|E.S.P. IN. W.G.", "supply.static_pressure", "in_wc"),
        ("EXHAUST|ESP (IN.)", "exhaust.static_pressure", "in_wc"),
        ("SUPPLY FAN|EXT. STATIC PRESS.|IN. W.C.", "supply.static_pressure", "in_wc"),
        ("SUPPLY FAN|T.S.P. (PA)", "supply.total_static_pressure", "Pa"),
        ("E.S.P. Pa", "static_pressure", "Pa"),
        ("SUPPLY FAN|MOTOR|HP", "fan.supply.motor_power", "hp"),
        ("SUPPLY FAN|MOTOR kW", "fan.supply.motor_power", "kW"),
        ("EXHAUST FAN|BHP", "fan.exhaust.brake_power", "hp"),
        ("SUPPLY FAN|RPM", "fan.supply.speed", "rpm"),
        ("SUPPLY FAN|MOTOR|RPM", "fan.supply.motor_speed", "rpm"),
        ("SUPPLY FAN|MAX RPM", "fan.supply.max_speed", "rpm"),
        ("SUPPLY FAN|FLA", "fan.supply.amps", "A"),
        ("MCA", "electrical.minimum_circuit_amps", "A"),
        ("V/PH/HZ", "electrical.supply", ""),
        ("ELECTRICAL|VOLTS/PHASE/HERTZ", "electrical.supply", ""),
        ("SUPPLY FAN|V-PH-HZ", "fan.supply.electrical", ""),
        ("ELECTRICAL|VOLTS", "electrical.volts", "V"),
        ("EXHAUST FAN|DRIVE", "fan.exhaust.drive", ""),
        ("SUPPLY FAN|VFD", "fan.supply.variable_speed", ""),
        ("SENSIBLE EFFECTIVENESS|WINTER (%)", "exchanger.sensible_winter", "%"),
        ("SUMMER|TOTAL EFF. %", "exchanger.total_summer", "%"),
        ("EATR (%)", "exchanger.eatr", "%"),
        ("OACF", "exchanger.oacf", "1"),
        ("ENERGY WHEEL|SUPPLY PD IN. W.G.", "exchanger.supply_pressure_drop", "in_wc"),
        # not understood, though a word in them is known
        ("SUPPLY AIR TEMP °F", "", ""),
        ("HEATING COIL|EAT", "", ""),
        ("FILTER|PD IN WG", "", ""),
        ("MOTOR EFFICIENCY %", "", ""),
        ("SUPPLY DUCT SIZE", "", ""),
        ("SUPPLY CFM OCCUPIED", "", ""),
        ("COOLING|CFM", "", ""),
        ("RETURN FAN|HP", "", ""),
        ("SUPPLY FAN|TYPE", "", ""),
        ("WEIGHT LBS", "", ""),
        ("ELECTRICAL|KW", "", ""),
        ("SUPPLY / EXHAUST CFM", "", ""),
        ("MIN RPM", "", ""),
        ("SUPPLY FAN|LOCATION", "", ""),
    ],
)
def test_headings(path: str, meaning: str, unit: str) -> None:
    heading = read_heading(tuple(path.split("|")))
    assert (heading.meaning, heading.unit) == (meaning, unit)


def test_headings_name_notes_and_air() -> None:
    heading = read_heading(("SUPPLY SCFM (NOTES 2, 5)",))
    assert (heading.meaning, heading.basis, heading.cites) == ("supply.airflow", "standard", ("2", "5"))
    assert read_heading(("EXHAUST FAN", "ACFM")).basis == "actual"
    assert read_heading(("CFM",), "exhaust").meaning == "exhaust.airflow"


def test_every_meaning_has_a_label_of_its_own() -> None:
    labels = [label for _, label in meaning_choices()]
    assert len(labels) == len(set(labels))
    assert all(code == meaning.code for code, meaning in MEANINGS.items())


@pytest.mark.parametrize(
    ("text", "tags"),
    [
        ("ERV-1 thru 3", "ERV-1 ERV-2 ERV-3"),
        ("ERV-1 THRU ERV-3", "ERV-1 ERV-2 ERV-3"),
        ("ERV-1 to ERV-2", "ERV-1 ERV-2"),
        ("ERV-9 through 11", "ERV-9 ERV-10 ERV-11"),
        ("ERV-09 thru 11", "ERV-09 ERV-10 ERV-11"),
        ("ERV-1 – ERV-3", "ERV-1 ERV-2 ERV-3"),
        ("ERV-1,2,5", "ERV-1 ERV-2 ERV-5"),
        ("ERV-1, ERV-2 & ERV-5", "ERV-1 ERV-2 ERV-5"),
        ("ERV-1 AND 2", "ERV-1 ERV-2"),
        ("ERV-1 THRU 3, 7", "ERV-1 ERV-2 ERV-3 ERV-7"),
        ("ERV-1A thru 1C", "ERV-1A ERV-1B ERV-1C"),
        ("ERV-1A, B", "ERV-1A ERV-1B"),
        ("ERV-2-1 thru 2-3", "ERV-2-1 ERV-2-2 ERV-2-3"),
        ("ERV-1\nERV-2", "ERV-1 ERV-2"),
        ("ERV-1-6", "ERV-1-6"),
        ("AHU 1", "AHU 1"),
        ("ERV-1*", "ERV-1"),
        ("ERV-1 (NOTE 2)", "ERV-1"),
        ("ERV-3 (DELETED)", "ERV-3"),
        ("ERV-6 thru 1", ""),
        ("ERV-1 thru AHU-6", ""),
        ("ERV-1, ERV-1", ""),
        ("(TYP. OF 3)", ""),
        ("ERV-1 thru 5000", ""),
    ],
)
def test_tags(text: str, tags: str) -> None:
    reading = read_tags(text)
    assert " ".join(reading.tags) == tags
    assert bool(reading.problem) == (not tags)


def test_a_known_tag_is_read_as_it_is() -> None:
    assert read_tags("ROOF, NORTH", frozenset({"ROOF, NORTH"})).tags == ("ROOF, NORTH",)
    assert close_to("ERV 01", frozenset({"ERV-1", "ERV-10"})) == "ERV-1"
    assert looks_like_tag("DOAS-R-01")
    assert not looks_like_tag("NOTES:")
    assert not looks_like_tag("ISSUED FOR CONSTRUCTION 2026")


@pytest.mark.parametrize(
    ("tag", "kind"),
    [
        ("ERV-1", "erv"),
        ("HRV-02", "hrv"),
        ("DOAS-1", "doas"),
        ("AHU-3", "ahu"),
        ("RTU-1", "ahu"),
        ("2-EF-1", "exhaust_fan"),
        ("MAU-1", "makeup_fan"),
        ("SF-2", "makeup_fan"),
        ("VAV-1", ""),
    ],
)
def test_kinds_by_tag(tag: str, kind: str) -> None:
    assert kind_of_tag(tag) == kind


def test_kinds_by_title() -> None:
    assert kind_of_title("EXHAUST FAN SCHEDULE") == "exhaust_fan"
    assert kind_of_title("ENERGY AND HEAT RECOVERY UNIT SCHEDULE") == ""
    assert kind_of_title("FAN SCHEDULE") == ""


@pytest.mark.parametrize(
    ("text", "meaning", "value", "unit"),
    [
        ("1,200", "supply.airflow", 1200, "cfm"),
        ("1 200", "supply.airflow", 1200, "cfm"),
        ("1200 cfm", "supply.airflow", 1200, "cfm"),
        ("250 L/s", "supply.airflow", 250, "L/s"),
        ("1,200 (3)", "supply.airflow", 1200, "cfm"),
        ("1200*", "supply.airflow", 1200, "cfm"),
        ("1200 SEE NOTE 3", "supply.airflow", 1200, "cfm"),
        (".75", "supply.static_pressure", 0.75, "in_wc"),
        ('0.75"', "supply.static_pressure", 0.75, "in_wc"),
        ("-0.5", "exhaust.static_pressure", -0.5, "in_wc"),
        ("1-1/2", "fan.supply.motor_power", 1.5, "hp"),
        ("1 1/2 HP", "fan.supply.motor_power", 1.5, "hp"),
        ("½", "fan.supply.motor_power", 0.5, "hp"),
        ("1½", "fan.supply.motor_power", 1.5, "hp"),
        ("2 kW", "fan.supply.motor_power", 2, "kW"),
        ("2 @ 7.5", "fan.supply.motor_power", 7.5, "hp"),
        ("3Ø", "fan.supply.phases", 3, "1"),
        ("THREE PHASE", "fan.supply.phases", 3, "1"),
        ("208/230", "fan.supply.volts", 208, "V"),
        ("460V", "fan.supply.volts", 460, "V"),
        ("3.6 A", "fan.supply.amps", 3.6, "A"),
        ("72%", "exchanger.sensible", 72, "%"),
    ],
)
def test_cells_with_a_value(text: str, meaning: str, value: float, unit: str) -> None:
    units = {
        "airflow": "cfm",
        "pressure": "in_wc",
        "power": "hp",
        "": "1",
        "voltage": "V",
        "current": "A",
        "ratio": "%",
    }
    reading = read_value(text, meaning, units[MEANINGS[meaning].quantity], "point")
    assert (reading.value, reading.unit, reading.problem) == (value, unit, "")


@pytest.mark.parametrize(
    "text",
    ["-", "--", "—", "N/A", "n.a.", "NONE", "TBD", "BY OTHERS", "SEE NOTE 3", "SEE PLANS", "NIC", "EXISTING", "INCL."],
)
def test_cells_that_expressly_give_nothing(text: str) -> None:
    reading = read_value(text, "supply.airflow", "cfm", "point")
    assert reading.value is None
    assert reading.open
    assert not reading.problem


@pytest.mark.parametrize(
    "text", ["VARIES", "?", "12OO", "1,20", "1.2.3", "500 furlongs", "-500", '"', "1e3", "٥٠٠", "NaN", "0x10"]
)
def test_cells_that_are_errors(text: str) -> None:
    reading = read_value(text, "supply.airflow", "cfm", "point")
    assert reading.value is None
    assert reading.problem
    assert reading.remedy
    assert reading.code


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("460/3/60", (460, 3, 60)),
        ("460V-3Ø-60HZ", (460, 3, 60)),
        ("208-230/1/60", (208, 1, 60)),
        ("120V, 1PH, 60HZ", (120, 1, 60)),
        ("400/3/50", (400, 3, 50)),
        ("208/1", (208, 1, None)),
    ],
)
def test_electrical_supplies(text: str, found: tuple[float, float, float | None]) -> None:
    reading = read_value(text, "electrical.supply", "", "point")
    assert (reading.value, reading.second, reading.third) == found


@pytest.mark.parametrize(
    ("texts", "delimiter", "style", "sure"),
    [
        (["1,200", "0.75"], ",", "point", True),
        (["1.200", "0,75"], ";", "comma", True),
        (["1,200,000"], ";", "point", True),
        (["0,750"], "", "comma", True),
        (["1.234.567"], "", "comma", True),
        (["1,200"], ",", "point", True),
        (["1,200"], ";", "point", False),
        (["1.200"], "", "point", False),
        (["1200"], ";", "point", True),
        (["1 200,5"], "", "comma", True),
    ],
)
def test_decimal_style_of_a_file(texts: list[str], delimiter: str, style: str, sure: bool) -> None:
    found = style_of(texts, delimiter=delimiter)
    assert (found.style, found.sure, found.against) == (style, sure, None)


def test_two_decimal_styles_in_a_file() -> None:
    assert style_of(["7", "0.5", "8", "0,5"], delimiter=",").against == (1, 3)
    assert style_of(["1,200", "1.200"], delimiter=",").against == (1, 0)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("AIRFLOWS ARE STANDARD AIR", "standard"),
        ("SCFM", "standard"),
        ("AT 0.075 LB/CU FT", "standard"),
        ("1.2 kg/m³", "standard"),
        ("CAPACITIES AT SEA LEVEL", "standard"),
        ("ACTUAL CFM", "actual"),
        ("CAPACITIES AT 5,280 FT", "actual"),
        ("AIRFLOWS AT SITE ELEVATION", "actual"),
        ("ALL FLOWS ACTUAL AIR, NOT STANDARD AIR", "actual"),
        ("MOUNT AT 10 FT AFF", ""),
        ("STATIC PRESSURES ARE AT STANDARD AIR", ""),
        ("STANDARD MOTOR", ""),
        ("ACFM AND SCFM", "both"),
        ("SELECTED AT 1600 M", ""),
        ("FANS SELECTED AT 1600 M ELEVATION", "actual"),
    ],
)
def test_air_basis_in_a_text(text: str, code: str) -> None:
    found = basis_in(text, Address("S", 1, "A"))
    assert (found.code if found else "") == code


def test_words_about_scope_and_notes() -> None:
    words = ["DELETE", "(E)", "FUTURE", "N.I.C.", "BY TENANT", "ADDED", "EXISTING DUCT", "NEW"]
    assert [scope_word(word) for word in words] == [
        "deleted",
        "existing",
        "deferred",
        "out_of_scope",
        "by_others",
        "added",
        "",
        "",
    ]
    assert cites_in("SEE NOTES 1-3 & 5") == ("1", "2", "3", "5")
    assert cites_in("3 SPEED MOTOR") == ()


def test_buildings_in_titles() -> None:
    assert building_in("PELLHAVEN CLINIC, HARBOR PAVILION") == "HARBOR PAVILION"
    assert building_in("BLDG 3 - ERV SCHEDULE") == "BLDG 3"
    assert building_in("BUILDING AUTOMATION POINTS") == ""
