"""The start of a unit: what allowed it, dampers, fans by command and by proof; or why it does not run."""

from commissioning.kinds.startup.measure import VERSION, instruments, measure
from commissioning.kinds.startup.payload import StartupPayload, facts
from commissioning.kinds.startup.show import headline, show

CODE = "startup"
TITLE = "Start of the unit"
Payload = StartupPayload

__all__ = ["CODE", "TITLE", "VERSION", "Payload", "facts", "headline", "instruments", "measure", "show"]
