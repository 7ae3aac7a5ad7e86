"""One visit to a controller over the network, from the first question to the last, and nothing left open."""

import asyncio
from collections.abc import Awaitable, Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TypeVar

from commissioning.controllers.client import USUAL, Client, Patience
from commissioning.controllers.device import Device, Reading, identify, names_of, objects_of, read_points
from commissioning.controllers.failures import NotRead
from commissioning.controllers.link import EVERY, Link, UdpLink, place_of
from commissioning.controllers.points import KINDS
from commissioning.controllers.sources import MOST_NUMBER, Source

T = TypeVar("T")


@dataclass(frozen=True)
class Way:
    """To which device, by which way. A broadcast address is only asked who is there, to find a second one."""

    address: str
    device: int
    broadcast: str = ""
    local: str = EVERY
    patience: Patience = USUAL


@dataclass(frozen=True)
class Found:
    reading: Reading
    address: str
    at: datetime
    """When the controller's clock was read, by ours."""
    names: Mapping[Source, str] = field(default_factory=dict)
    """What the controller calls its objects, where that was asked for."""


def read_controller(way: Way, sources: Sequence[Source]) -> Found:
    return asyncio.run(_open(way, lambda link: read_by(link, way, sources)))


def list_controller(way: Way) -> Found:
    """Every object of the kinds that can be read; what cannot be is among the problems."""
    return asyncio.run(_open(way, lambda link: list_by(link, way)))


async def read_by(link: Link, way: Way, sources: Sequence[Source]) -> Found:
    client, device, at = await _meet(link, way)
    return Found(await read_points(client, device, sources), str(client.place), at)


async def list_by(link: Link, way: Way) -> Found:
    client, device, at = await _meet(link, way)
    sources = [one for one in await objects_of(client, device) if one.kind in KINDS]
    reading = await read_points(client, device, sources)
    names = await names_of(client, sources)
    return Found(reading, str(client.place), at, names)


async def _meet(link: Link, way: Way) -> tuple[Client, Device, datetime]:
    if not 0 <= way.device <= MOST_NUMBER:
        raise NotRead(f"{way.device} is no device instance.", f"It is a number from 0 to {MOST_NUMBER}.")
    client = Client(link, place_of(way.address), way.patience)
    device = await identify(client, way.device, broadcast=way.broadcast and place_of(way.broadcast).host)
    return client, device, datetime.now(UTC)


async def _open(way: Way, ask: Callable[[Link], Awaitable[T]]) -> T:
    place_of(way.address)
    async with UdpLink(way.local, broadcasts=bool(way.broadcast)) as link:
        return await ask(link)
