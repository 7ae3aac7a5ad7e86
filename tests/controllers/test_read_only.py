"""That a controller is asked and never changed: by what can be sent, by what is imported, by what a device hears."""

import ast
import asyncio
from contextlib import nullcontext
from pathlib import Path

import pytest

import commissioning.controllers
from commissioning.controllers.questions import NotAQuestion, Question
from commissioning.controllers.visit import list_by
from tests.controllers import objects
from tests.controllers.simulated import Simulated, Wires, unsegmented
from tests.controllers.test_reading import WAY, of, read

ROOM = Path(commissioning.controllers.__file__).parent
ALLOWED = {
    *("APDU", "APCISequence", "NPDU", "PDU"),
    *("ReadPropertyRequest", "ReadPropertyACK", "ReadPropertyMultipleRequest", "ReadPropertyMultipleACK"),
    *("WhoIsRequest", "IAmRequest", "PropertyReference", "ReadAccessSpecification"),
    *("ObjectIdentifier", "PropertyIdentifier", "EngineeringUnits", "Reliability", "TagClass"),
}
READS = {(0, 12), (0, 14), (1, 8)}  # ReadProperty, ReadPropertyMultiple, Who-Is


def test_a_device_hears_no_service_but_those_that_read() -> None:
    """In all the ways that lead to an answer: at once, one by one, in parts, again, by its whole list."""
    asked = [of(f"{kind} 1") for kind in ("analog-value", "binary-value", "multi-state-value", "schedule")]
    for device in (
        Simulated(objects.controller()),
        Simulated(objects.controller(), lacks=(14,)),
        Simulated(objects.controller(), says=unsegmented),
    ):
        read(device, sources=asked)
        assert {(0, 12), (1, 8)} < set(device.heard) <= READS
    asyncio.run(list_by(Wires(device), WAY))
    assert set(device.heard) == READS


def test_no_other_service_becomes_a_question() -> None:
    """All 256 of each kind: confirmed behind its four bytes of head, unconfirmed behind one."""
    for service in range(256):
        for kind, apdu in ((0, bytes([0x00, 0x05, 1, service, 0x0C])), (1, bytes([0x10, service]))):
            with nullcontext() if (kind, service) in READS else pytest.raises(NotAQuestion):
                Question(apdu)


@pytest.mark.parametrize("start", [b"", b"\x08\x05\x01\x0c\x00\x01", b"\x20\x01\x0f", b"\x00\x05\x01"])
def test_neither_segments_nor_answers_nor_torn_bytes_become_a_question(start: bytes) -> None:
    with pytest.raises(NotAQuestion):
        Question(start)


def test_of_the_library_only_the_codec_of_what_reads_is_imported() -> None:
    imported = {
        alias.name
        for path in ROOM.glob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("bacpypes3")
        for alias in node.names
    }
    assert imported == ALLOWED


def test_the_library_is_imported_in_no_other_way() -> None:
    for path in ROOM.glob("*.py"):
        text = path.read_text(encoding="utf-8")
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.Import):
                assert not any(alias.name.startswith("bacpypes3") for alias in node.names), path
        assert "importlib" not in text, path


def test_a_link_sends_nothing_but_questions() -> None:
    """One place of the room has a socket, and what it sends is a question's datagram."""
    calls = [
        (path.name, ast.unparse(node))
        for path in ROOM.glob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and ast.unparse(node.func).endswith((".sendto", ".sendmsg", ".write"))
    ]
    sent = "self._transport.sendto(question.datagram(to.network, to.station), (to.host, to.port))"
    assert calls == [("link.py", sent)]
