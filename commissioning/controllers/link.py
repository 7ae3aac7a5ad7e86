"""How datagrams go out and come in, and to whom. Only what `wire` made as a question can be sent."""

import asyncio
import ipaddress
import re
from contextlib import AbstractAsyncContextManager
from dataclasses import dataclass
from types import TracebackType
from typing import Any, Protocol

from commissioning.controllers.failures import NotRead
from commissioning.controllers.questions import Question

PORT = 47808
EVERY = str(ipaddress.IPv4Address(0))
"""Of this machine's addresses the one from which the way leads to the controller."""
_FORM = re.compile(r"(?:(?P<network>\d{1,5}):(?P<station>\d{1,3})@)?(?P<host>[0-9.]+)(?::(?P<port>\d{1,5}))?")


@dataclass(frozen=True)
class Place:
    """Where a device is: an IPv4 address and port; behind a router also the network and the station on it."""

    host: str
    port: int = PORT
    network: int | None = None
    station: bytes = b""

    def __str__(self) -> str:
        behind = "" if self.network is None else f"{self.network}:{int.from_bytes(self.station)}@"
        return f"{behind}{self.host}:{self.port}"


def place_of(text: str) -> Place:
    """
    >>> print(place_of("192.0.2.10"), place_of("2001:21@192.0.2.10:47809"))
    192.0.2.10:47808 2001:21@192.0.2.10:47809
    >>> place_of("the roof")
    Traceback (most recent call last):
    commissioning.controllers.failures.NotRead: the roof is no address
    """
    found = _FORM.fullmatch(text.strip())
    try:
        if found is None:
            raise ValueError
        host, port = str(ipaddress.IPv4Address(found["host"])), int(found["port"] or PORT)
        network = int(found["network"]) if found["network"] else None
        station = bytes([int(found["station"])]) if found["station"] else b""
        if not 0 < port < 65536 or (network is not None and not 0 < network < 65535):
            raise ValueError
    except ValueError:
        remedy = (
            "Write it like 192.0.2.10:47808, or like 2001:21@192.0.2.10 for station 21 of network 2001 behind a router."
        )
        raise NotRead(f"{text} is no address", remedy) from None
    return Place(host, port, network, station)


@dataclass(frozen=True)
class Datagram:
    data: bytes
    host: str
    port: int


class Link(Protocol):
    async def send(self, question: Question, to: Place) -> None: ...

    async def receive(self, within_s: float) -> Datagram | None:
        """The next datagram, or None when none came in this time."""

    def now_s(self) -> float: ...


class UdpLink(AbstractAsyncContextManager["UdpLink"]):
    """A socket of its own, with a port that the system picks: nothing else on this machine is in the way."""

    def __init__(self, local: str = EVERY, *, broadcasts: bool = False) -> None:
        self._local, self._broadcasts = local, broadcasts
        self._came: asyncio.Queue[Datagram] = asyncio.Queue(maxsize=1000)
        self._transport: asyncio.DatagramTransport | None = None

    async def __aenter__(self) -> "UdpLink":
        loop = asyncio.get_running_loop()
        try:
            self._transport, _ = await loop.create_datagram_endpoint(
                lambda: _Ear(self._came), local_addr=(self._local, 0), allow_broadcast=self._broadcasts or None
            )
        except OSError as error:
            raise NotRead(
                f"No socket on {self._local}: {error.strerror}.", "Name an address of this machine."
            ) from None
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._transport is not None:
            self._transport.close()
            await asyncio.sleep(0)  # the loop closes the socket in its next turn

    async def send(self, question: Question, to: Place) -> None:
        assert self._transport is not None
        self._transport.sendto(question.datagram(to.network, to.station), (to.host, to.port))

    async def receive(self, within_s: float) -> Datagram | None:
        try:
            return await asyncio.wait_for(self._came.get(), within_s)
        except TimeoutError:
            return None

    def now_s(self) -> float:
        return asyncio.get_running_loop().time()


class _Ear(asyncio.DatagramProtocol):
    def __init__(self, came: "asyncio.Queue[Datagram]") -> None:
        self._came = came

    def datagram_received(self, data: bytes, addr: Any) -> None:
        if not self._came.full():  # a flood is let go: what was asked is asked again
            self._came.put_nowait(Datagram(data, addr[0], addr[1]))

    def error_received(self, exc: Exception) -> None:
        """A host that refuses the port is as silent as one that is not there: the question is asked again."""
