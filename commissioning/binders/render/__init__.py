"""From the frozen document to the printed one. No database, no clock, no network: the same bytes every time."""

from commissioning.binders.render.whole import Progress, Rendered, Stopped, render

__all__ = ["Progress", "Rendered", "Stopped", "render"]
