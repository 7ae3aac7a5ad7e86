"""Every expectation that may be asked of a log, by its code."""

from commissioning.dossier.trends import controlling, ends, sensing, starting, weather
from commissioning.dossier.trends.kind import Kind

_ROOMS = (starting, controlling, ends, weather, sensing)
KINDS: dict[str, Kind] = {one.code: one for room in _ROOMS for one in room.KINDS}
