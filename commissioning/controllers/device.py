"""One device and its objects: that it is the one that is meant, what it is, and the values that were asked for."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from commissioning.controllers.client import Client
from commissioning.controllers.failures import NotRead, Silent
from commissioning.controllers.points import KINDS, Point, point_of, properties_of
from commissioning.controllers.sources import Source
from commissioning.controllers.wire import ANY_DEVICE, Answer, Held, Refusal
from commissioning.dossier.problem import Problem

MOST_OBJECTS = 5000
_TOLD = ("vendor-name", "model-name", "local-date", "local-time", "max-apdu-length-accepted")
_YEARS_FROM, _OPEN = 1900, 255
_LEAST_BYTES = 50


@dataclass(frozen=True)
class Device:
    number: int
    maker_and_model: str = ""
    clock: datetime | None = None


@dataclass(frozen=True)
class Reading:
    device: Device
    points: tuple[Point, ...]
    problems: tuple[Problem, ...] = ()

    @property
    def remarks(self) -> tuple[str, ...]:
        return tuple(remark for point in self.points for remark in point.remarks)


async def identify(client: Client, number: int, *, broadcast: str = "") -> Device:
    """The device that is meant, or NotRead: nobody there, another one, or two that go by the same number."""
    said = await client.who_is(number, broadcast)
    if len(said) > 1:
        raise NotRead(
            f"Device {number} is there more than once: at {', '.join(sorted(map(str, said)))}.",
            "A device instance belongs to one device in the whole network. Have it corrected, then read again.",
        )
    if said and client.place not in said:
        (elsewhere,) = said
        raise NotRead(
            f"Device {number} answers from {elsewhere}, not from {client.place}.",
            "Look which of the two is the unit's controller, and name that one.",
        )
    source = Source("device", number)
    named = await _own_name(client, source, has_told=bool(said))
    if named != source:
        there = named or await _whoever(client)
        raise NotRead(
            f"At {client.place} there is {there}, not device {number}.",
            "Look up address and instance at the controller: they may belong to the unit beside.",
        )
    answers = {prop: answer for (_, prop), answer in (await client.read({source: _TOLD})).items()}
    client.most_bytes = min(
        client.most_bytes, max(_LEAST_BYTES, _count(answers["max-apdu-length-accepted"]) or _LEAST_BYTES)
    )
    told = " ".join(_text(answers[prop]) for prop in _TOLD[:2]).strip()
    return Device(number, told, _clock(answers["local-date"], answers["local-time"]))


async def _own_name(client: Client, source: Source, *, has_told: bool) -> Source | None:
    """What the device calls itself. Who has not told it is asked by the number for any device, which not all know."""
    answer: Answer = Refusal("not asked yet")
    if not has_told:
        answer = await client.read_one(Source("device", ANY_DEVICE), "object-identifier")
    if isinstance(answer, Refusal):
        answer = await client.read_one(source, "object-identifier")
    return answer.value if isinstance(answer, Held) and answer.tag == "object" else None


async def _whoever(client: Client) -> str:
    said = (await client.who_is(None)).get(client.place)
    return f"device {said.device}" if said else "a device that does not tell its instance"


async def read_points(client: Client, device: Device, sources: Sequence[Source]) -> Reading:
    """All of these objects. A device that falls silent on the way gives nothing at all."""
    unknown = [source for source in sources if source.kind not in KINDS]
    if unknown:
        raise NotRead(
            f"Objects of this kind are not read: {', '.join(map(str, unknown))}.", f"Kinds: {', '.join(KINDS)}."
        )
    try:
        answers = await client.read({source: properties_of(source) for source in sources})
    except Silent as silent:
        raise Silent(f"{silent.reason} Nothing of it is kept.", silent.remedy) from None
    points, problems = [], []
    for source in sources:
        found = point_of(source, {prop: answers[source, prop] for prop in properties_of(source)})
        if isinstance(found, Point):
            points.append(found)
        else:
            problems.append(found)
    return Reading(device, tuple(points), tuple(problems))


async def objects_of(client: Client, device: Device) -> list[Source]:
    """The device's list of objects: at once where it fits into an answer, else one by one."""
    itself = Source("device", device.number)
    whole = await client.read_one(itself, "object-list")
    if isinstance(whole, Refusal):
        count = _count(await client.read_one(itself, "object-list", 0))
        if not 0 < count <= MOST_OBJECTS:
            raise NotRead(
                f"Device {device.number} does not tell its objects: {whole.why}.", "Take them from its own documents."
            )
        whole = tuple(
            [
                one
                for n in range(1, count + 1)
                if isinstance(one := await client.read_one(itself, "object-list", n), Held)
            ]
        )
    listed = whole if isinstance(whole, tuple) else (whole,)
    return [one.value for one in listed if one.tag == "object"]


async def names_of(client: Client, sources: Sequence[Source]) -> dict[Source, str]:
    answers = await client.read(dict.fromkeys(sources, ("object-name",)))
    return {source: _text(answer) for (source, _), answer in answers.items()}


def _count(answer: Answer) -> int:
    return int(answer.value) if isinstance(answer, Held) and answer.tag == "unsigned" else 0


def _text(answer: Answer) -> str:
    return str(answer.value) if isinstance(answer, Held) and answer.tag == "text" else ""


def _clock(date: Answer, time: Answer) -> datetime | None:
    """What its clock shows, or None where it has none or leaves something of it open."""
    if not (isinstance(date, Held) and isinstance(time, Held) and date.tag == "date" and time.tag == "time"):
        return None
    parts = (*date.value[:3], *time.value[:3])
    if _OPEN in parts:
        return None
    try:
        return datetime(_YEARS_FROM + parts[0], *parts[1:])
    except ValueError:  # the standard's words for every odd month, the last day: a schedule's, not a clock's
        return None
