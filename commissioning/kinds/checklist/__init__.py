"""Checklists before a unit is tested: any part of the items, by whoever stands there, with releases of holds."""

from commissioning.kinds.checklist.measure import VERSION, instruments, measure
from commissioning.kinds.checklist.payload import ChecklistPayload, facts
from commissioning.kinds.checklist.show import headline, show

CODE = "checklist"
TITLE = "Pre-functional checklist"
Payload = ChecklistPayload

__all__ = ["CODE", "TITLE", "VERSION", "Payload", "facts", "headline", "instruments", "measure", "show"]
