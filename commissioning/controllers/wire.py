"""Questions and answers as bytes, by bacpypes3: its codec alone. No service of its application layer is started here,
so nothing answers for us, nothing is announced, and there is no request that writes.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from bacpypes3.apdu import (
    APDU,
    APCISequence,
    IAmRequest,
    ReadPropertyACK,
    ReadPropertyMultipleACK,
    ReadPropertyMultipleRequest,
    ReadPropertyRequest,
    WhoIsRequest,
)
from bacpypes3.basetypes import EngineeringUnits, PropertyReference, ReadAccessSpecification, Reliability
from bacpypes3.npdu import NPDU
from bacpypes3.pdu import PDU
from bacpypes3.primitivedata import ObjectIdentifier, PropertyIdentifier, TagClass

from commissioning.controllers.questions import Question
from commissioning.controllers.sources import Source

ANY_DEVICE = 4194303
"""Read as an instance, the device answers for itself (ANSI/ASHRAE 135, clause 12.11, from memory)."""
_MOST_BYTES_CODE = 5  # of an answer: 1476, what one datagram on Ethernet holds
_UNCONFIRMED, _COMPLEX_ACK, _ERROR, _REJECT, _ABORT = 1, 3, 5, 6, 7
_TAGS = (
    "null",
    "yes_no",
    "unsigned",
    "integer",
    "real",
    "double",
    "octets",
    "text",
    "bits",
    "enumerated",
    "date",
    "time",
)
_OBJECT_TAG = 12


@dataclass(frozen=True)
class Held:
    """A value as it was sent: `tag` is its type on the wire."""

    tag: str
    value: Any


@dataclass(frozen=True)
class Refusal:
    """A property or a whole question that was refused, in the words of the standard: `unknown-object`."""

    why: str


Answer = Held | tuple[Held, ...] | Refusal


@dataclass(frozen=True)
class IAm:
    device: int
    most_bytes: int


@dataclass(frozen=True)
class Heard:
    """What a datagram says. `values` is None where it could not be read."""

    invoke_id: int | None = None
    i_am: IAm | None = None
    values: Mapping[tuple[Source, str], Answer] | None = None
    refused: Refusal | None = None
    network: int | None = None
    station: bytes = b""


def who_is(device: int | None, *, is_broadcast: bool = False) -> Question:
    """Asked of a device, or by None of whoever is there."""
    asked = WhoIsRequest(deviceInstanceRangeLowLimit=device, deviceInstanceRangeHighLimit=device)
    return Question(bytes(asked.encode().encode().pduData), is_broadcast)


def read_one(invoke_id: int, source: Source, prop: str, index: int | None = None) -> Question:
    asked = ReadPropertyRequest(objectIdentifier=_identifier(source), propertyIdentifier=prop, propertyArrayIndex=index)
    return _confirmed(asked, invoke_id)


def read_many(invoke_id: int, asked: Mapping[Source, Sequence[str]]) -> Question:
    specifications = [
        ReadAccessSpecification(
            objectIdentifier=_identifier(source), listOfPropertyReferences=[PropertyReference(prop) for prop in props]
        )
        for source, props in asked.items()
    ]
    return _confirmed(ReadPropertyMultipleRequest(listOfReadAccessSpecs=specifications), invoke_id)


def _identifier(source: Source) -> Any:
    return ObjectIdentifier((source.kind, source.number))


def _confirmed(asked: Any, invoke_id: int) -> Question:
    """An answer in segments is not accepted: a device that needs them says so, and is asked for less."""
    asked.apduSeg = asked.apduMor = asked.apduSA = False
    asked.apduMaxSegs, asked.apduMaxResp, asked.apduInvokeID = 0, _MOST_BYTES_CODE, invoke_id
    return Question(bytes(asked.encode().encode().pduData))


def unit_of(code: int) -> str:
    """The standard's name of a unit, `cubic-feet-per-minute`; the number where it has none."""
    return str(EngineeringUnits(code))


def reliability_of(code: int) -> str:
    return str(Reliability(code))


def understand(datagram: bytes) -> Heard | None:
    """None for what is no answer to anything that can be asked here, whatever it is."""
    try:
        npdu = NPDU.decode(PDU(_unwrapped(datagram)))
        if npdu.npduNetMessage is not None:
            return None
        apdu = APDU.decode(PDU(npdu.pduData))
    except Exception:  # the codec raises whatever it stumbles over; a datagram that is none is let go
        return None
    from_ = npdu.npduSADR
    behind = {} if from_ is None else {"network": int(from_.addrNet), "station": bytes(from_.addrAddr)}
    return _heard(apdu, behind)


def _unwrapped(datagram: bytes) -> bytes:
    """The network layer's part. A forwarded broadcast carries six bytes of where it came from."""
    if len(datagram) < 6 or datagram[0] != 0x81 or int.from_bytes(datagram[2:4]) != len(datagram):
        raise ValueError("no BACnet/IP")
    heads = {0x0A: 4, 0x0B: 4, 0x04: 10}
    return datagram[heads[datagram[1]] :]


def _heard(apdu: Any, behind: dict[str, Any]) -> Heard | None:
    invoke_id = getattr(apdu, "apduInvokeID", None)
    if apdu.apduType == _UNCONFIRMED:
        i_am = _i_am(apdu)
        return Heard(i_am=i_am, **behind) if i_am else None
    if apdu.apduType == _COMPLEX_ACK:
        if apdu.apduSeg:
            return Heard(invoke_id, refused=Refusal("segmentation-not-supported"), **behind)
        return Heard(invoke_id, values=_values(apdu), **behind)
    if apdu.apduType in (_REJECT, _ABORT):
        return Heard(invoke_id, refused=Refusal(str(apdu.apduAbortRejectReason)), **behind)
    if apdu.apduType == _ERROR:
        return Heard(invoke_id, refused=_error(apdu), **behind)
    return None


def _i_am(apdu: Any) -> IAm | None:
    try:
        said = APCISequence.decode(apdu)
        if not isinstance(said, IAmRequest):
            return None
        return IAm(int(said.iAmDeviceIdentifier[1]), int(said.maxAPDULengthAccepted))
    except Exception:  # as above
        return None


def _error(apdu: Any) -> Refusal:
    try:
        return Refusal(str(APCISequence.decode(apdu).errorCode))
    except Exception:  # refused all the same, in words that nobody can read
        return Refusal("an error that cannot be read")


def _values(apdu: Any) -> Mapping[tuple[Source, str], Answer] | None:
    try:
        said = APCISequence.decode(apdu)
        if isinstance(said, ReadPropertyACK):
            return {_key(said.objectIdentifier, said.propertyIdentifier): _held(said.propertyValue)}
        if isinstance(said, ReadPropertyMultipleACK):
            return {
                _key(one.objectIdentifier, each.propertyIdentifier): _result(each.readResult)
                for one in said.listOfReadAccessResults
                for each in one.listOfResults
            }
    except Exception:  # as above
        return None
    return None


def _key(identifier: Any, prop: Any) -> tuple[Source, str]:
    return Source(str(identifier[0]), int(identifier[1])), str(PropertyIdentifier(prop))


def _result(result: Any) -> Answer:
    if result.propertyAccessError is not None:
        return Refusal(str(result.propertyAccessError.errorCode))
    return _held(result.propertyValue)


def _held(given: Any) -> Answer:
    tags = [tag for tag in given.tagList if tag.tag_class == TagClass.application]
    if len(tags) + 2 < len(given.tagList):
        return Held("constructed", None)
    held = tuple(_one(tag) for tag in tags)
    return held[0] if len(held) == 1 else held


def _one(tag: Any) -> Held:
    value = tag.app_to_object()
    if tag.tag_number == _OBJECT_TAG:
        return Held("object", Source(str(value[0]), int(value[1])))
    kind = _TAGS[tag.tag_number]
    plain: dict[str, Any] = {"null": lambda _: None, "yes_no": bool, "real": _single, "double": float, "text": str}
    return Held(kind, plain.get(kind, _whole)(value))


def _single(value: float) -> float:
    """A real has four bytes: the shortest number that means the same ones, as the controller's own pages show it.

    >>> _single(450.1000061035156)
    450.1
    """
    return float(str(np.float32(value)))


def _whole(value: Any) -> Any:
    return int(value) if isinstance(value, int) else tuple(value)
