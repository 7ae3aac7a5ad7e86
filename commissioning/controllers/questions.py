"""What may be asked of a controller: three services that read, and no other can be put into a datagram."""

from dataclasses import dataclass

WHO_IS = bytes([0x10, 8])
"""Unconfirmed service 8 (ANSI/ASHRAE 135, clause 16.10, from memory)."""
READ_PROPERTY, READ_PROPERTY_MULTIPLE = 12, 14
"""Confirmed services 12 and 14 (ANSI/ASHRAE 135, clauses 15.5 and 15.7, from memory)."""
_CONFIRMED_UNSEGMENTED = 0x00


class NotAQuestion(Exception):
    """Something that is not a reading service was about to be sent."""


@dataclass(frozen=True)
class Question:
    """One request as the bytes of its application layer. To make one that would change anything is an error."""

    apdu: bytes
    is_broadcast: bool = False

    def __post_init__(self) -> None:
        asks = self.apdu[:2] == WHO_IS
        reads = (
            len(self.apdu) > 4
            and self.apdu[0] == _CONFIRMED_UNSEGMENTED
            and self.apdu[3] in (READ_PROPERTY, READ_PROPERTY_MULTIPLE)
        )
        if not (asks or reads):
            raise NotAQuestion(f"{self.apdu[:4].hex(' ')} is none of the services that read")

    @property
    def is_answered(self) -> bool:
        return self.apdu[:2] != WHO_IS

    @property
    def invoke_id(self) -> int | None:
        return self.apdu[2] if self.is_answered else None

    def datagram(self, network: int | None = None, station: bytes = b"") -> bytes:
        """With the heads of the network and the link layer (ANSI/ASHRAE 135, clause 6.2 and annex J, from memory).

        >>> Question(WHO_IS).datagram().hex(" ")
        '81 0a 00 08 01 00 10 08'
        """
        control = (0x04 if self.is_answered else 0) | (0x20 if network is not None else 0)
        there = b"" if network is None else network.to_bytes(2) + bytes([len(station)]) + station + b"\xff"
        npdu = bytes([0x01, control]) + there + self.apdu
        return bytes([0x81, 0x0B if self.is_broadcast else 0x0A]) + (len(npdu) + 4).to_bytes(2) + npdu
