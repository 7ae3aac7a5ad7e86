"""From bytes to an envelope: the frame for everyone, the payload by its kind.

An envelope whose frame can be read is kept, whatever its payload is like; with problems it is never evaluated.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from commissioning.dossier import strict_json
from commissioning.dossier.envelope import Envelope, Frame, Photo, Supersedes
from commissioning.dossier.faults import CONFIDENTIAL, problems_of
from commissioning.dossier.problem import Problem, shown
from commissioning.judging.registry import KINDS


@dataclass(frozen=True, slots=True)
class Read:
    """What could be read. Without a frame, `problems` says why there is none; otherwise they are the frame's own.

    What `holds_secret` is not to be kept: evidence is for ever.
    """

    frame: Envelope | None
    problems: tuple[Problem, ...]
    values: Any = None  # as parsed
    holds_secret: bool = False


def read_envelope(raw: bytes) -> Read:
    """The envelope in these bytes, or why it can be neither attributed nor read."""
    try:
        given = strict_json.parse(raw)
    except strict_json.StrictError as error:
        return Read(None, (Problem(error.pointer, error.value, error.reason, error.remedy),))
    return envelope_of(given)


def envelope_of(given: Any) -> Read:
    """The same from JSON values that were parsed strictly already."""
    if not isinstance(given, Mapping):
        return Read(None, (Problem("", shown(given), "An envelope is an object.", "Send one object."),))
    try:
        frame = Frame.model_validate(given)
    except ValidationError as error:
        return Read(None, tuple(problems_of(error, given)))
    problems: list[Problem] = []
    payload, is_final, session, holds_secret = None, False, "", False
    kind = KINDS.get(frame.kind)
    if kind is None:
        known = ", ".join(sorted(KINDS))
        problems.append(Problem("/kind", shown(frame.kind), "This kind is not known.", f"Known kinds: {known}."))
    else:
        try:
            payload = kind.Payload.model_validate(frame.payload)
            is_final, session = kind.facts(payload)
        except ValidationError as error:
            problems += problems_of(error, given["payload"], ("payload",))
            holds_secret = any(one["type"] == CONFIDENTIAL for one in error.errors(include_url=False))
    if any(one.id == frame.id for one in frame.supersedes):
        problems.append(
            Problem("/supersedes", str(frame.id), "An envelope cannot supersede itself.", "Name the one it replaces.")
        )
    envelope = Envelope(
        id=frame.id,
        kind=frame.kind,
        position=frame.position,
        observed_at=frame.observed_at,
        observed_by=frame.observed_by,
        supersedes=tuple(Supersedes(one.id, one.reason) for one in frame.supersedes),
        photos=tuple(Photo(one.sha256, one.caption) for one in frame.photos),
        payload=payload,
        is_final=is_final,
        session=session,
        problems=tuple(problems),
    )
    return Read(envelope, envelope.problems, given, holds_secret)
