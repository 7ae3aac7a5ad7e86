"""The few facts of a site's other units that a unit's settings are held against: by what address a network finds them.

Given are those that share an address, of one project's site; which of them are on one network is not known.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import Field, StringConstraints

from commissioning.dossier import quantities as q
from commissioning.dossier.settings.catalogue import Plain

ADDRESSES = ("device_instance", "network_address", "internet_address")
PROTOCOL = "network_protocol"
MOST = 20


@dataclass(frozen=True, slots=True)
class Neighbour:
    """`tag` is None where it stands in another building: not everybody who sees this unit sees that one."""

    tag: str | None
    values: Mapping[str, Plain]

    @property
    def name(self) -> str:
        return self.tag or "a unit in another building of the site"

    @property
    def protocol(self) -> str:
        """Empty where it was not read."""
        return str(self.values.get(PROTOCOL, ""))

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "Neighbour":
        held = {name: data[name] for name in (*ADDRESSES, PROTOCOL) if data.get(name) is not None}
        return cls(data.get("tag"), {name: float(one) if isinstance(one, int) else one for name, one in held.items()})


class NeighbourModel(q.Closed):
    """Another unit of the site, as a judging document names it."""

    tag: Annotated[str, StringConstraints(min_length=1, max_length=200)] | None = None
    device_instance: Annotated[int, Field(ge=0, le=4194303)] | None = None
    network_address: Annotated[int, Field(ge=0, le=65535)] | None = None
    internet_address: Annotated[str, StringConstraints(max_length=200)] | None = None
    network_protocol: Literal["none", "bacnet_ip", "bacnet_mstp", "modbus_serial", "modbus_tcp", "other"] | None = None
