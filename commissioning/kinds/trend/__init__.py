"""Trend logs of a unit: which points, of which file, through which mapping, and what was found in them."""

from commissioning.kinds.trend.measure import VERSION, facts, instruments, measure
from commissioning.kinds.trend.payload import TrendPayload
from commissioning.kinds.trend.show import headline, show

CODE = "trend"
TITLE = "Trend log"
Payload = TrendPayload

__all__ = ["CODE", "TITLE", "VERSION", "Payload", "facts", "headline", "instruments", "measure", "show"]
