"""What the operating state means for a final reading, in the order in which one looks."""

from commissioning.dossier.field_record import State

_FAULTS = (
    ("outdoor_damper", "closed", "the outdoor air damper was closed"),
    ("exhaust_damper", "closed", "the exhaust air damper was closed"),
    ("bypass", "open", "the bypass was open"),
    ("wheel", "stopped", "the wheel stood still"),
    ("filters", "construction", "construction filters were in"),
    ("filters", "missing", "filters were missing"),
    ("served_air_handler", "off", "the air handler it serves was off"),
    ("others_on_riser", "off", "other units on the riser were off"),
    ("doors", "open", "doors were open"),
)
_ORDER = (
    "outdoor_damper",
    "exhaust_damper",
    "bypass",
    "filters",
    "wheel",
    "served_air_handler",
    "others_on_riser",
    "doors",
)


def faults_of(state: State) -> tuple[str, ...]:
    """Why readings in this state are not those of the design's mode of operation."""
    return tuple(words for name, value, words in _FAULTS if getattr(state, name) == value)


def unseen_of(state: State) -> tuple[str, ...]:
    return tuple(name.replace("_", " ") for name in _ORDER if getattr(state, name) == "not_seen")


def seen_in(state: State) -> dict[str, str]:
    """What was seen, in the order in which one looks; what the unit does not have is left out."""
    return {name: value for name in _ORDER if (value := getattr(state, name)) not in ("not_seen", "none")}
