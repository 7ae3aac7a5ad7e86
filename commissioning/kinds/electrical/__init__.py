"""Fans by what is read at the disconnect: volts, amps, power, speed, rotation, overload setting, nameplate."""

from commissioning.dossier.field_record import facts
from commissioning.kinds.electrical.measure import VERSION, instruments, measure
from commissioning.kinds.electrical.payload import ElectricalPayload
from commissioning.kinds.electrical.show import headline, show

CODE = "electrical"
TITLE = "Motors and electrical readings"
Payload = ElectricalPayload

__all__ = ["CODE", "TITLE", "VERSION", "Payload", "facts", "headline", "instruments", "measure", "show"]
