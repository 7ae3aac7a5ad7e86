"""Pressures of a unit and its spaces: profile, drops, setpoints held, pressure against outdoors or a neighbour."""

from commissioning.dossier.field_record import facts
from commissioning.kinds.pressure.measure import VERSION, instruments, measure
from commissioning.kinds.pressure.payload import PressurePayload
from commissioning.kinds.pressure.show import headline, show

CODE = "pressure"
TITLE = "Pressures"
Payload = PressurePayload

__all__ = ["CODE", "TITLE", "VERSION", "Payload", "facts", "headline", "instruments", "measure", "show"]
