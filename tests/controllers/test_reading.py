"""A whole controller read through its objects: what it holds, in which unit, how it is set apart from the one beside.

Expected values are those that tests/controllers/objects.py puts into the objects; the device answers by bacpypes3.
"""

import asyncio
import doctest
import importlib
import pkgutil
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from bacpypes3.basetypes import Reliability, StatusFlags

import commissioning.controllers
from commissioning.controllers.device import Device, Reading
from commissioning.controllers.points import Point
from commissioning.controllers.record import Visit, payload_of, raw_of, sources_of
from commissioning.controllers.sources import Source
from commissioning.controllers.visit import Found, Way, list_by, read_by
from commissioning.dossier.canonical import sha256_hex
from commissioning.dossier.settings.mapping import SettingsMapping, read_mapping
from tests.controllers import objects
from tests.controllers.simulated import HOST, PORT, Simulated, Wires, unsegmented

MAPPING = Path(__file__).resolve().parents[2] / "fixtures" / "controllers" / "tarnbeck-t2-bacnet.toml"
WAY = Way(f"{HOST}:{PORT}", objects.DEVICE)
VISIT = Visit("as_found", "AL-1")
AT = datetime(2026, 5, 4, 15, 0, tzinfo=UTC)


def mapping(text: str = "") -> SettingsMapping:
    """The firm's mapping, or one of these lines alone."""
    head = 'schema = "ventfolio/settings-mapping/1"\nfamily = "A family"\nversion = 1\n'
    return read_mapping((head + text).encode() if text else MAPPING.read_bytes())


def read(*devices: Simulated, sources: Sequence[Source] = (), way: Way = WAY) -> Found:
    return asyncio.run(read_by(Wires(*devices), way, sources or sources_of(mapping())))


def payload(found: Found, held: SettingsMapping | None = None) -> dict[str, Any]:
    return payload_of(found.reading, held or mapping(), VISIT, address=found.address, at=found.at)


def of(text: str) -> Source:
    kind, number = text.split()
    return Source(kind, int(number))


@pytest.mark.parametrize("name", [m.name for m in pkgutil.iter_modules(commissioning.controllers.__path__)])
def test_the_examples_hold(name: str) -> None:
    assert doctest.testmod(importlib.import_module(f"commissioning.controllers.{name}")).failed == 0


def test_sixty_objects_are_read_with_their_units() -> None:
    made = objects.controller()
    assert len(made) + 1 > 60
    found = asyncio.run(list_by(Wires(Simulated(made)), WAY))
    held = {point.source: (point.value, point.unit) for point in found.reading.points}
    assert len(held) == len(made)
    assert found.reading.problems == ()
    assert found.names[of("analog-value 12")] == "Duct pressure setpoint"
    assert {source: held[of(source)] for source in (
        "analog-value 12", "analog-value 20", "analog-input 3", "binary-value 3", "multi-state-value 2",
        "characterstring-value 1", "integer-value 1", "schedule 1",
    )} == {
        "analog-value 12": (0.75, "in_wc"),
        "analog-value 20": (400.1, "cfm"),  # as four bytes 400.100006..., and told as it was put in
        "analog-input 3": (23.0, "degC"),
        "binary-value 3": (True, ""),
        "multi-state-value 2": (6, ""),
        "characterstring-value 1": ("America/Chicago", ""),
        "integer-value 1": (-3, ""),
        "schedule 1": (2, ""),
    }  # fmt: skip


def test_objects_become_settings_by_the_firms_mapping() -> None:
    found = read(Simulated(objects.controller()))
    made = payload(found)
    assert made["grade"] == "controller"
    assert made["controller"] == "Tarnbeck T2"
    assert made["moment"] == "as_found"
    assert len(made["values"]) == 30
    assert made["values"]["supply_airflow"] == {"value": 1000.0, "unit": "cfm"}
    assert made["values"]["frost_limit"] == {"value": 28.4, "unit": "degF"}
    assert made["values"]["supply_control"] == "airflow_reset_on_co2"  # state 6
    assert made["values"]["option_frost_control"] is True
    assert made["values"]["option_heating"] is False
    assert made["values"]["occupied_days"] == 5
    assert made["read_from"]["sha256"] == sha256_hex(raw_of(found.reading, found.address, found.at))
    assert made["read_from"]["file"] == f"BACnet/IP, device 1234 at {HOST}:{PORT}, 30 objects"


def test_the_controllers_clock_is_read_with_ours() -> None:
    device = Device(1, "T2", datetime(2026, 5, 4, 10, 0, 20))
    points = (Point(of("analog-value 7"), 900.0, "ppm", "parts-per-million"),)
    held = mapping('[[settings]]\nsource = "analog-value 7"\nsetting = "co2_setpoint"\nunit = "ppm"\n')
    made = payload_of(Reading(device, points), held, VISIT, address="there", at=AT)
    assert made["controller_time"] == "2026-05-04T10:00:20"
    assert made["true_time"] == "2026-05-04T15:00:00+00:00"
    dumb = payload_of(Reading(Device(1), points), held, VISIT, address="there", at=AT)
    assert not {"controller_time", "true_time"} & set(dumb)


def test_what_a_point_says_of_its_own_state_is_kept_as_a_remark() -> None:
    ill = objects.analog_value(
        7, statusFlags=StatusFlags([0, 1, 0, 1]), reliability=Reliability("no-sensor"), outOfService=True
    )
    made = payload(read(Simulated(objects.controller(ill))))
    assert made["values"]["co2_setpoint"] == {"value": 900.0, "unit": "ppm"}
    assert made["note"] == "Analog-value 7: in fault, out of service, reliability no-sensor"


FEW = [of("analog-value 2"), of("binary-value 3"), of("multi-state-value 2"), of("positive-integer-value 1")]


@pytest.mark.parametrize("silent", [False, True])
def test_a_device_that_reads_one_property_at_a_time_is_read_so(silent: bool) -> None:
    """Some say that they lack the service, some let such a question pass by."""
    device = Simulated(objects.controller(), lacks=() if silent else (14,))
    if silent:
        device.hears = lambda datagram: None if datagram[6] == 0 and datagram[9] == 14 else datagram
    points = read(device, sources=FEW).reading.points
    assert {point.source: point.value for point in points} == dict(zip(FEW, (400.0, True, 6, 5), strict=True))


def test_an_answer_that_is_too_long_is_asked_for_in_parts() -> None:
    device = Simulated(objects.controller(), says=unsegmented)
    assert len(asyncio.run(list_by(Wires(device), WAY)).reading.points) == 61


def test_every_second_datagram_may_be_lost() -> None:
    count = iter(range(10_000))
    device = Simulated(objects.controller(), hears=lambda datagram: datagram if next(count) % 2 else None)
    assert len(payload(read(device))["values"]) == 30


@pytest.mark.parametrize(("knows", "questions"), [(True, 1), (False, 2)])
def test_a_device_that_does_not_say_who_is_there_is_read_all_the_same(knows: bool, questions: int) -> None:
    """Some tell it by broadcast only, which does not come back to the port that asked. It is then asked for its name
    as device 4194303; the library's does not know that number for itself, and knows it where it is turned into 1234."""
    anybody, itself = b"\x0c\x02\x3f\xff\xff", b"\x0c\x02\x00\x04\xd2"

    def hears(datagram: bytes) -> bytes | None:
        if datagram[6] == 0x10:
            return None
        return datagram.replace(anybody, itself) if knows else datagram

    device = Simulated(objects.controller(), hears=hears)
    assert len(read(device, sources=FEW).reading.points) == len(FEW)
    assert device.heard.count((0, 12)) == questions


def test_a_device_behind_a_router_is_read_through_it() -> None:
    """Station 21 of network 2001: the router takes the destination off and puts the source on (clause 6.2)."""
    source = b"\x08\x07\xd1\x01\x15"

    def onward(datagram: bytes) -> bytes | None:
        if not datagram[5] & 0x20:
            return None
        assert datagram[6:11] == b"\x07\xd1\x01\x15\xff"
        npdu = b"\x01" + bytes([datagram[5] & ~0x20]) + datagram[11:]
        return datagram[:2] + (len(npdu) + 4).to_bytes(2) + npdu

    def back(datagram: bytes) -> bytes:
        npdu = b"\x01" + source + datagram[6:]
        return datagram[:2] + (len(npdu) + 4).to_bytes(2) + npdu

    device = Simulated(objects.controller(), hears=onward, says=back)
    way = Way(f"2001:21@{HOST}", objects.DEVICE)
    assert len(payload(read(device, way=way))["values"]) == 30


def test_what_this_controller_does_not_have_can_be_left_out() -> None:
    asked = sources_of(mapping(), ["Analog-Value  12"])
    assert of("analog-value 12") not in asked
    made = payload(read(Simulated(objects.controller()), sources=asked))
    assert "supply_duct_pressure" not in made["values"]
    assert made["note"] == "Not read, though the mapping names them: analog-value 12"
