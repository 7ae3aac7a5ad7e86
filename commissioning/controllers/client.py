"""Asking one device: again when it is silent, for less when the answer is too long, one by one when it must be.

The number of questions is bounded by what is to be read, and the time by that number; nothing waits for ever.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from commissioning.controllers import wire
from commissioning.controllers.failures import Silent
from commissioning.controllers.link import Link, Place
from commissioning.controllers.questions import Question
from commissioning.controllers.sources import Source
from commissioning.controllers.wire import Answer, Heard, IAm, Refusal

_NO_SUCH_SERVICE = ("unrecognized-service", "service-request-denied", "optional-functionality-not-supported")
_BYTES_FOR_AN_OBJECT = 120  # of an answer with four properties and a short name; what does not fit is asked again
UNREADABLE = Refusal("an answer that cannot be read")


@dataclass(frozen=True)
class Patience:
    """How long an answer may take, and how often a question is sent again."""

    answer_s: float = 3.0
    more: int = 2


USUAL = Patience()


@dataclass
class Client:
    """Keeps to one device; answers from elsewhere or to earlier questions are let go."""

    link: Link
    place: Place
    patience: Patience = USUAL
    most_bytes: int = 1476
    takes_many: bool = True
    answered: int = 0
    _has_taken_many: bool = field(default=False, repr=False)
    _invoke_id: int = field(default=0, repr=False)

    async def who_is(self, device: int | None, broadcast: str = "") -> dict[Place, IAm]:
        """Everyone who says to be this device; by None whoever answers.

        A whole wait is listened: a second one may be slower than the first.
        """
        to = Place(broadcast, self.place.port) if broadcast else self.place
        await self.link.send(wire.who_is(device, is_broadcast=bool(broadcast)), to)
        until = self.link.now_s() + self.patience.answer_s
        found: dict[Place, IAm] = {}
        while (datagram := await self.link.receive(max(0.0, until - self.link.now_s()))) is not None:
            heard = wire.understand(datagram.data)
            if heard is not None and heard.i_am is not None and device in (None, heard.i_am.device):
                found[Place(datagram.host, datagram.port, heard.network, heard.station)] = heard.i_am
        return found

    async def read(self, asked: Mapping[Source, Sequence[str]]) -> dict[tuple[Source, str], Answer]:
        """Every property that was asked for, with its value or why it was refused."""
        found: dict[tuple[Source, str], Answer] = {}
        waiting = list(_parts(asked, max(1, self.most_bytes // _BYTES_FOR_AN_OBJECT)))
        while waiting:
            part = waiting.pop(0)
            if self.takes_many:
                heard = await self._ask_many(part)
                found |= {key: value for key, value in (heard.values or {}).items() if key[1] in part.get(key[0], ())}
                if heard.values is None and len(part) > 1 and self.takes_many:
                    waiting[:0] = list(_parts(part, (len(part) + 1) // 2))
                    continue
            for source, prop in ((source, prop) for source, props in part.items() for prop in props):
                if (source, prop) not in found:
                    found[source, prop] = await self.read_one(source, prop)
        return found

    async def read_one(self, source: Source, prop: str, index: int | None = None) -> Answer:
        heard = await self._ask(wire.read_one(self._next(), source, prop, index), f"{source} {prop}")
        if heard.refused is not None:
            return heard.refused
        answered: Sequence[Answer] = list((heard.values or {}).values())
        asked_for = (source, prop) in (heard.values or {}) or source.number == wire.ANY_DEVICE
        return answered[0] if len(answered) == 1 and asked_for else UNREADABLE

    async def _ask_many(self, part: Mapping[Source, Sequence[str]]) -> Heard:
        try:
            heard = await self._ask(wire.read_many(self._next(), part), f"{next(iter(part))} and {len(part) - 1} more")
        except Silent:
            if self._has_taken_many:
                raise
            heard = Heard(refused=Refusal(_NO_SUCH_SERVICE[0]))  # some devices let a service that they lack pass by
        self._has_taken_many = self._has_taken_many or heard.values is not None
        if heard.refused is not None and heard.refused.why in _NO_SUCH_SERVICE:
            self.takes_many = False
        return heard

    async def _ask(self, question: Question, what: str) -> Heard:
        for _ in range(1 + self.patience.more):
            await self.link.send(question, self.place)
            until = self.link.now_s() + self.patience.answer_s
            while (datagram := await self.link.receive(max(0.0, until - self.link.now_s()))) is not None:
                heard = wire.understand(datagram.data)
                if heard is None or heard.invoke_id != question.invoke_id or heard.i_am is not None:
                    continue
                if Place(datagram.host, datagram.port, heard.network, heard.station) == self.place:
                    self.answered += 1
                    return heard
        raise Silent(
            f"{self.place} did not answer for {what}: asked {1 + self.patience.more} times, "
            f"each time waited {self.patience.answer_s:g} s. It had answered {self.answered} questions before.",
            "Look at power, cable, address and port, and whether a firewall lets UDP through both ways; "
            "a slow network needs a longer wait.",
        )

    def _next(self) -> int:
        self._invoke_id = (self._invoke_id + 1) % 256
        return self._invoke_id


def _parts(asked: Mapping[Source, Sequence[str]], size: int) -> Iterator[dict[Source, Sequence[str]]]:
    items = list(asked.items())
    for start in range(0, len(items), size):
        yield dict(items[start : start + size])
