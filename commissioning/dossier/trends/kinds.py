"""Every expectation that may be asked of a log, by its code."""

from commissioning.dossier.trends import controlling, sensing, starting, weather
from commissioning.dossier.trends.kind import Kind

KINDS: dict[str, Kind] = {one.code: one for room in (starting, controlling, weather, sensing) for one in room.KINDS}
