"""Outlets of a unit: what a technician reads at each, what branches, rooms and ports come to, how it is shown."""

from commissioning.dossier.field_record import facts
from commissioning.kinds.outlets.measure import VERSION, instruments, measure
from commissioning.kinds.outlets.payload import OutletsPayload
from commissioning.kinds.outlets.show import headline, show

CODE = "outlets"
TITLE = "Outlets and branches"
Payload = OutletsPayload

__all__ = ["CODE", "TITLE", "VERSION", "Payload", "facts", "headline", "instruments", "measure", "show"]
