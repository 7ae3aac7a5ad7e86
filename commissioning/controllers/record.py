"""From what a controller answered, through the firm's mapping, to the payload of a settings record: all or nothing."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from commissioning.controllers.device import Reading
from commissioning.controllers.failures import NotRead
from commissioning.controllers.points import KINDS, Point
from commissioning.controllers.sources import Source, source_of
from commissioning.dossier.canonical import canonical_json, sha256_hex
from commissioning.dossier.problem import Problem, shown
from commissioning.dossier.settings.applying import Imported, apply, provenance
from commissioning.dossier.settings.catalogue import NotASetting
from commissioning.dossier.settings.exports import Export, Given
from commissioning.dossier.settings.mapping import AS_EXPORTED, SettingsMapping, folded
from commissioning.dossier.settings.secrecy import refuse_text

SCHEMA = "ventfolio/controller-reading/1"
_LONGEST_NOTE = 4000


@dataclass(frozen=True)
class Visit:
    """What the person says about the visit: of which moment the settings are, and in which session."""

    moment: str
    session: str
    purpose: str = "as_left"
    stage: str = "preliminary"


def sources_of(mapping: SettingsMapping, without: Collection[str] = ()) -> list[Source]:
    """The objects that a mapping names, but for those that this controller is known not to have."""
    left_out = {folded(name) for name in without}
    unknown = left_out - {folded(line.source) for line in mapping.lines}
    if unknown:
        raise NotRead(
            f"The mapping does not name {', '.join(sorted(unknown))}.", "Leave out what it names, as it is written."
        )
    sources, problems = [], []
    for line in mapping.lines:
        source = source_of(folded(line.source))
        if folded(line.source) in left_out:
            continue
        if source is None or source.kind not in KINDS:
            reason = "This names no object of a BACnet device that could be read."
            problems.append(Problem("mapping", shown(line.source), reason, "Write it like analog-value 12."))
        else:
            sources.append(source)
    if problems:
        reason, remedy = (
            f"The mapping of {mapping.family} is not one for BACnet objects.",
            f"Kinds: {', '.join(KINDS)}.",
        )
        raise NotRead(reason, remedy, problems)
    if not sources:
        raise NotRead("Nothing is left to be read.", "Leave out less of the mapping.")
    return sources


def raw_of(reading: Reading, address: str, at: datetime) -> bytes:
    """Everything that was answered, in one way of writing it: what the record's hash is of."""
    points = [
        {"source": str(one.source), "value": one.value, "unit": one.stated, "status": list(one.remarks)}
        for one in sorted(reading.points, key=lambda point: point.source)
    ]
    told = {"device": reading.device.number, "model": reading.device.maker_and_model, "address": address}
    return canonical_json({"schema": SCHEMA, **told, "read_at": at.isoformat(), "points": points})


def payload_of(
    reading: Reading, mapping: SettingsMapping, visit: Visit, *, address: str, at: datetime
) -> dict[str, Any]:
    """The payload of a settings record, or NotRead with everything that stands against it."""
    imported = apply(mapping, Export(tuple(_given(one) for one in reading.points)))
    problems = [*reading.problems, *_contradictions(reading, mapping)]
    told = {one.pointer for one in problems} | ({""} if problems else set())
    problems += [one for one in imported.problems if one.pointer not in told]  # once is enough for each
    if problems:
        raise NotRead(f"{len(problems)} of what was read cannot be kept, so nothing is.", "See each one.", problems)
    device = reading.device
    clock = {} if device.clock is None else {"controller_time": device.clock.isoformat(), "true_time": at.isoformat()}
    file = f"BACnet/IP, device {device.number} at {address}, {len(reading.points)} objects"
    raw = raw_of(reading, address, at)
    return {
        "stage": visit.stage,
        "session": {"id": visit.session, "purpose": visit.purpose},
        "grade": "controller",
        "moment": visit.moment,
        "controller": _harmless(device.maker_and_model),
        "values": imported.values,
        "note": _note(reading, imported),
        "read_from": provenance(imported, file=file, sha256=sha256_hex(raw)),
        **clock,
    }


def _given(one: Point) -> Given:
    return Given(str(one.source), one.value, one.unit or one.stated)


def _contradictions(reading: Reading, mapping: SettingsMapping) -> Iterator[Problem]:
    """Of two units one is wrong, and from here nobody can tell which: the number is then worth nothing."""
    for one in reading.points:
        line = mapping.by_source[str(one.source)]
        if one.unit and line.unit not in ("", AS_EXPORTED, one.unit):
            yield Problem(
                str(one.source),
                shown(f"{one.value:g} {one.stated}" if isinstance(one.value, float) else one.value),
                f"The controller states its unit as {one.unit}, the mapping as {line.unit}.",
                f"Correct the one that is wrong; {AS_EXPORTED} in the mapping takes the controller's.",
            )


def _harmless(text: str) -> str:
    """A maker's word that looks like a secret is left out: it would hold up the whole record."""
    try:
        refuse_text(text)
    except NotASetting:
        return ""
    return text[:200]


def _note(reading: Reading, imported: Imported) -> str:
    absent = [line.source for line in imported.absent]
    lines = list(reading.remarks)
    if absent:
        lines.append(f"Not read, though the mapping names them: {', '.join(absent)}")
    whole = ". ".join(f"{line[:1].upper()}{line[1:]}" for line in lines)
    return whole if len(whole) <= _LONGEST_NOTE else whole[: _LONGEST_NOTE - 1] + "…"
