"""A controller that is none: the whole stack of bacpypes3 over objects of ours, fed with datagrams one by one.

It answers by the library's own services, which know nothing of our reader, and notes each service that it is asked
for. `Wires` joins such devices to a reader without a socket and without a clock: who is silent is silent at once.
`on_loopback` gives one a real socket on a port that the system picks.
"""

import asyncio
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from bacpypes3.app import Application
from bacpypes3.appservice import ApplicationServiceAccessPoint
from bacpypes3.comm import Server, bind
from bacpypes3.ipv4.bvll import BVLLCodec
from bacpypes3.ipv4.service import BIPNormal, UDPMultiplexer
from bacpypes3.netservice import NetworkServiceAccessPoint, NetworkServiceElement
from bacpypes3.pdu import PDU, IPv4Address

from commissioning.controllers.link import Datagram, Place
from commissioning.controllers.questions import Question
from tests.controllers.objects import DEVICE, device

HOST, PORT = "192.0.2.10", 47808
READER = ("192.0.2.1", 50000)
Fault = Callable[[bytes], bytes | None]
"""What becomes of a datagram; None: it is lost."""


def whole(datagram: bytes) -> bytes | None:
    return datagram


def unsegmented(datagram: bytes) -> bytes:
    """A device that cannot cut an answer ends the question: abort, reason 4 (segmentation not supported)."""
    return datagram if len(datagram) < 200 else b"\x81\x0a\x00\x09\x01\x00\x71" + datagram[7:8] + b"\x04"


class Simulated:
    """`heard` are the services it was asked for, as (type of PDU, service) of the raw bytes."""

    def __init__(
        self,
        objects: Sequence[Any],
        number: int = DEVICE,
        *,
        place: tuple[str, int] = (HOST, PORT),
        lacks: Sequence[int] = (),
        hears: Fault = whole,
        says: Fault = whole,
    ) -> None:
        self.place, self.hears, self.says, self.lacks = place, hears, says, lacks
        self.heard: list[tuple[int, int]] = []
        self._sent: list[tuple[bytes, tuple[str, int]]] = []
        self._objects, self._number, self._bottom = objects, number, Server()
        self._app: Any = None

    def _stack(self) -> None:
        """Built in the loop in which it is asked: the library looks for a running one."""
        app, itself = Application(), device(self._number)
        self._app = app
        app.asap = ApplicationServiceAccessPoint(itself, app.device_info_cache)
        app.nsap, app.nse = NetworkServiceAccessPoint(), NetworkServiceElement()
        bind(app.nse, app.nsap)
        bind(app, app.asap, app.nsap)
        normal, codec, multiplexer = BIPNormal(), BVLLCodec(), UDPMultiplexer()
        bind(normal, codec, multiplexer.annexJ)
        bind(multiplexer, self._bottom)
        self._bottom.indication = self._send
        app.nsap.bind(normal, address=IPv4Address(f"{self.place[0]}:{self.place[1]}"))
        for one in (itself, *self._objects):
            app.add_object(one)

    async def _send(self, pdu: Any) -> None:
        to = pdu.pduDestination
        self._sent.append((bytes(pdu.pduData), READER if not hasattr(to, "addrTuple") else to.addrTuple))

    async def answers(self, datagram: bytes, source: tuple[str, int]) -> list[bytes]:
        if self._app is None:
            self._stack()
        kept = self.hears(datagram)
        if kept is None:
            return []
        self.heard.append(service_of(kept))
        if self.heard[-1] in [(0, service) for service in self.lacks]:
            return [_frame(bytes([0x60, kept[_start(kept) + 2], 9]))]  # reject, unrecognized-service
        self._sent.clear()
        await self._bottom.response(PDU(kept, source=IPv4Address(source), destination=IPv4Address(self.place)))
        for _ in range(3):  # the library tells who it is in a task of its own, which runs in the loop's next turn
            await asyncio.sleep(0)
        return [said for data, _ in self._sent if (said := self.says(data)) is not None]


def service_of(datagram: bytes) -> tuple[int, int]:
    start = _start(datagram)
    kind = datagram[start] >> 4
    return kind, datagram[start + (3 if kind == 0 else 1)]


def _start(datagram: bytes) -> int:
    """Where the application layer begins, of a question without a router in between."""
    return 6 + (5 if datagram[5] & 0x20 else 0)


def _frame(apdu: bytes) -> bytes:
    return bytes([0x81, 0x0A]) + (len(apdu) + 6).to_bytes(2) + b"\x01\x00" + apdu


class Wires:
    """Joins a reader to devices. A device that answers nothing costs no time: `receive` tells it at once."""

    def __init__(self, *devices: Simulated) -> None:
        self.devices, self.sent = devices, 0
        self.came: deque[Datagram] = deque()

    async def send(self, question: Question, to: Place) -> None:
        self.sent += 1
        for one in self.devices:
            if question.is_broadcast or one.place == (to.host, to.port):
                for data in await one.answers(question.datagram(to.network, to.station), READER):
                    self.came.append(Datagram(data, *one.place))

    async def receive(self, within_s: float) -> Datagram | None:
        return self.came.popleft() if self.came else None

    def now_s(self) -> float:
        return 0.0


class _Mouth(asyncio.DatagramProtocol):
    def __init__(self, device: Simulated) -> None:
        self.device, self.tasks = device, set[Any]()

    def connection_made(self, transport: Any) -> None:
        self.transport = transport

    def datagram_received(self, data: bytes, addr: Any) -> None:
        task = asyncio.ensure_future(self._answer(data, addr))
        self.tasks.add(task)
        task.add_done_callback(self.tasks.discard)

    async def _answer(self, data: bytes, addr: Any) -> None:
        for said in await self.device.answers(data, addr):
            self.transport.sendto(said, addr)


@contextmanager
def on_loopback(device: Simulated) -> Iterator[int]:
    """The device in a thread of its own on 127.0.0.1; gives its port once the socket is bound."""
    bound, port, stop = threading.Event(), [0], []

    async def serve() -> None:
        loop, ended = asyncio.get_running_loop(), asyncio.Event()
        transport, _ = await loop.create_datagram_endpoint(lambda: _Mouth(device), local_addr=("127.0.0.1", 0))
        port[0] = transport.get_extra_info("sockname")[1]
        stop.append(lambda: loop.call_soon_threadsafe(ended.set))
        bound.set()
        await ended.wait()
        transport.close()
        await asyncio.sleep(0)

    thread = threading.Thread(target=lambda: asyncio.run(serve()), daemon=True)
    thread.start()
    assert bound.wait(30)
    try:
        yield port[0]
    finally:
        stop[0]()
        thread.join(30)
