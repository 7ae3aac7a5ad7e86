"""An exchanger between supply and exhaust air: what a technician sends, what it amounts to, how it is shown."""

from commissioning.dossier.field_record import facts
from commissioning.kinds.exchanger.measure import VERSION, instruments, measure
from commissioning.kinds.exchanger.payload import ExchangerPayload
from commissioning.kinds.exchanger.show import headline, show

CODE = "exchanger"
TITLE = "Exchanger"
Payload = ExchangerPayload

__all__ = ["CODE", "TITLE", "VERSION", "Payload", "facts", "headline", "instruments", "measure", "show"]
