"""Controllers that are not there, answer by halves, talk nonsense or go by another's number: told, and nothing kept."""

import asyncio
import math
from collections.abc import Callable
from contextlib import suppress
from typing import Any

import pytest
from bacpypes3.object import CharacterStringValueObject, MultiStateValueObject
from hypothesis import given, settings
from hypothesis import strategies as st

from commissioning.controllers import wire
from commissioning.controllers.client import Patience
from commissioning.controllers.failures import NotRead, Silent
from commissioning.controllers.link import Datagram, Place
from commissioning.controllers.questions import Question
from commissioning.controllers.record import sources_of
from commissioning.controllers.visit import Way, read_by
from tests.controllers import objects
from tests.controllers.simulated import HOST, PORT, Simulated, Wires
from tests.controllers.test_reading import WAY, mapping, of, payload, read


def refused(do: Callable[[], Any]) -> NotRead:
    with pytest.raises(NotRead) as error:
        do()
    assert error.value.remedy
    return error.value


def with_in_place(*instead: Any) -> Simulated:
    return Simulated(objects.controller(*instead))


def told(device: Simulated, text: str = "") -> list[tuple[str, str, str]]:
    """Pointer, value and reason of everything that stands against a reading."""
    held = mapping(text)
    error = refused(lambda: payload(read(device, sources=sources_of(held)), held))
    assert all(one.remedy for one in error.problems)
    return [(one.pointer, one.value, one.reason) for one in error.problems]


# --- absent, or falling silent ------------------------------------------------------------------------------------
def test_nobody_there_is_told_after_a_bounded_wait() -> None:
    wires = Wires()
    way = Way(f"{HOST}:{PORT}", objects.DEVICE, patience=Patience(0.5, 2))
    error = refused(lambda: asyncio.run(read_by(wires, way, [of("analog-value 1")])))
    assert isinstance(error, Silent)
    assert error.reason == (
        f"{HOST}:{PORT} did not answer for device 4194303 object-identifier: asked 3 times, each time waited 0.5 s. "
        "It had answered 0 questions before."
    )
    assert wires.sent == 4  # who is there, and three times the same question


@pytest.mark.parametrize("answers", [1, 2, 3, 4])
def test_a_device_that_falls_silent_on_the_way_gives_nothing(answers: int) -> None:
    """Who is there, its number, itself, and the first objects are four questions; whichever is its last."""
    left = iter([True] * answers)
    device = Simulated(objects.controller(), hears=lambda datagram: datagram if next(left, False) else None)
    assert isinstance(refused(lambda: read(device)), Silent)


def test_what_it_left_out_of_an_answer_is_asked_for_again() -> None:
    """The first object of every answer about several is taken out of it; asked by itself it is there."""

    def half(datagram: bytes) -> bytes:
        if datagram[6] >> 4 != 3 or datagram[8] != 14:
            return datagram
        body = datagram[datagram.index(b"\x1f", 9) + 1 :]  # behind the end of the first list of results
        npdu = datagram[4:9] + body
        return datagram[:2] + (len(npdu) + 4).to_bytes(2) + npdu

    device = Simulated(objects.controller(), says=half)
    points = read(device, sources=[of("analog-value 2"), of("analog-value 3")]).reading.points
    assert [point.value for point in points] == [400.0, 1000.0]
    assert device.heard.count((0, 14)) == 2  # about the device, and about the two


def test_an_object_that_is_not_there_stops_the_whole() -> None:
    made = [one for one in objects.controller() if str(one.objectIdentifier) != "analog-value,7"]
    assert told(Simulated(made), CO2 + AIRFLOW) == [("analog-value 7", "", "The controller has no such object.")]


# --- another one, or two --------------------------------------------------------------------------------------------
def test_the_device_beside_is_not_read_in_its_place() -> None:
    error = refused(lambda: read(Simulated(objects.controller(), 1301)))
    assert error.reason == f"At {HOST}:{PORT} there is device 1301, not device 1234."


def test_two_devices_of_one_number_are_refused_before_anything_is_read() -> None:
    pair = (Simulated(objects.controller()), Simulated(objects.controller(), place=("192.0.2.77", PORT)))
    way = Way(f"{HOST}:{PORT}", objects.DEVICE, broadcast="192.0.2.255")
    error = refused(lambda: read(*pair, way=way))
    assert error.reason == f"Device 1234 is there more than once: at {HOST}:{PORT}, 192.0.2.77:{PORT}."
    assert [one.heard for one in pair] == [[(1, 8)], [(1, 8)]]


def test_a_number_that_answers_from_elsewhere_is_refused() -> None:
    pair = (
        Simulated(objects.controller(), 1301),
        Simulated(objects.controller(), place=("192.0.2.77", PORT)),
    )
    way = Way(f"{HOST}:{PORT}", objects.DEVICE, broadcast="192.0.2.255")
    error = refused(lambda: read(*pair, way=way))
    assert error.reason == f"Device 1234 answers from 192.0.2.77:{PORT}, not from {HOST}:{PORT}."


@pytest.mark.parametrize("address", ["the roof", "192.0.2.10:0", "192.0.2.300", "70000:1@192.0.2.1", "::1", ""])
def test_what_is_no_address_is_not_asked(address: str) -> None:
    wires = Wires()
    error = refused(lambda: asyncio.run(read_by(wires, Way(address, 1), [of("analog-value 1")])))
    assert "is no address" in error.reason
    assert wires.sent == 0


CO2 = '[[settings]]\nsource = "analog-value 7"\nsetting = "co2_setpoint"\nunit = "ppm"\n'
AIRFLOW = '[[settings]]\nsource = "analog-value 1"\nsetting = "supply_airflow"\nunit = "cfm"\n'
STATE = '[[settings]]\nsource = "multi-state-value 1"\nsetting = "enabling"\nwords = { "2" = "schedule" }\n'


class _Crowd(Wires):
    """Before each answer comes the same from another address, and one to another question; both say 100 for 900."""

    async def send(self, question: Question, to: Place) -> None:
        await super().send(question, to)
        for one in list(self.came):
            if one.data[6] >> 4 == 3:
                forged = one.data.replace(b"\x44\x44\x61\x00\x00", b"\x44\x42\xc8\x00\x00")
                late = forged[:7] + bytes([forged[7] ^ 0x80]) + forged[8:]
                self.came.extendleft((Datagram(forged, "192.0.2.66", one.port), Datagram(late, one.host, one.port)))


def test_answers_from_elsewhere_or_to_another_question_are_let_go() -> None:
    found = asyncio.run(read_by(_Crowd(Simulated(objects.controller())), WAY, [of("analog-value 7")]))
    assert [point.value for point in found.reading.points] == [900.0]


# --- wrong types, no numbers, wrong units ---------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("held", "value", "reason"),
    [
        (objects.analog_value(7, math.nan, "parts-per-million"), "nan", "Its value is no finite number."),
        (objects.analog_value(7, math.inf, "parts-per-million"), "inf", "Its value is no finite number."),
        (
            CharacterStringValueObject(
                objectIdentifier=("analog-value", 7), objectName="X", presentValue="nine hundred", **objects.WELL
            ),
            "nine hundred",
            "Its value is a text, where a number is expected.",
        ),
        (
            objects.analog_value(7, 900.0, "cubic-feet-per-minute"),
            "900 cubic-feet-per-minute",
            "The controller states its unit as cfm, the mapping as ppm.",
        ),
    ],
)
def test_what_is_no_value_of_its_kind_stops_the_whole(held: Any, value: str, reason: str) -> None:
    assert told(with_in_place(held), CO2) == [("analog-value 7", value, reason)]


def test_a_state_that_it_does_not_have_stops_the_whole() -> None:
    held = MultiStateValueObject(
        objectIdentifier=("multi-state-value", 1), objectName="X", presentValue=9, numberOfStates=4, **objects.WELL
    )
    assert told(with_in_place(held), STATE) == [
        ("multi-state-value 1", "9", "Its value is none of its states, which are 1 to 4.")
    ]


def test_two_units_of_one_quantity_are_not_guessed_between() -> None:
    """1000 L/s and 1000 cfm are two airflows; one of controller and mapping is wrong."""
    assert told(with_in_place(objects.analog_value(1, unit="liters-per-second")), AIRFLOW) == [
        ("analog-value 1", "1000 liters-per-second", "The controller states its unit as L/s, the mapping as cfm.")
    ]


def test_a_unit_of_another_quantity_is_told() -> None:
    line = '[[settings]]\nsource = "analog-value 13"\nsetting = "co2_setpoint"\nunit = "as_exported"\n'
    ((_, value, reason),) = told(Simulated(objects.controller()), line)
    assert (value, reason) == (
        "28.4",
        "The unit degF is one of temperature; this setting takes mole fraction.",
    )


def test_a_unit_that_is_none_of_ours_is_told() -> None:
    ((_, _, reason),) = told(with_in_place(objects.analog_value(1, unit="tons-refrigeration")), AIRFLOW)
    assert reason == "The unit tons-refrigeration is not known; this setting takes airflow."


def test_where_the_controller_states_no_unit_the_mappings_holds() -> None:
    device = with_in_place(objects.analog_value(1, unit="no-units"))
    made = payload(read(device, sources=[of("analog-value 1")]))
    assert made["values"] == {"supply_airflow": {"value": 1000.0, "unit": "cfm"}}


def test_a_mapping_of_an_export_is_not_one_of_objects() -> None:
    line = '[[settings]]\nsource = "fan.speed"\nsetting = "supply_speed"\nunit = "%"\n'
    error = refused(lambda: sources_of(mapping(line)))
    assert [one.value for one in error.problems] == ["fan.speed"]
    assert "Nothing" in refused(lambda: sources_of(mapping(line.replace("fan.speed", "device 1")), ["device 1"])).reason


# --- nonsense -------------------------------------------------------------------------------------------------------
@settings(max_examples=50)
@given(st.binary(max_size=80))
def test_no_bytes_upset_the_reader(noise: bytes) -> None:
    framed = bytes([0x81, 0x0A]) + (len(noise) + 6).to_bytes(2) + b"\x01\x00" + noise
    for datagram in (noise, framed):
        heard = wire.understand(datagram)
        assert heard is None or isinstance(heard, wire.Heard)


@pytest.mark.parametrize("step", [3, 7, 11, 13])
def test_answers_with_a_flipped_bit_give_a_value_or_a_reason(step: int) -> None:
    """Every so many bytes behind the head of an answer one bit is turned; where it goes wrong, it is told."""

    def flipped(datagram: bytes) -> bytes:
        head, body = datagram[:9], bytearray(datagram[9:])
        for place in range(step, len(body), 29 * step):
            body[place] ^= 1 << place % 8
        return head + bytes(body)

    with suppress(NotRead):  # and nothing else
        assert payload(read(Simulated(objects.controller(), says=flipped)))["values"]
