"""Verifying a binder from its file alone: no database, no network, this software and the file.

The evidence against its hashes, every verdict against what judging says of the evidence, every page against what is
drawn from the attached document. What differs is named by its item.
"""

import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import datetime
from typing import Any

import pikepdf
import reportlab

from commissioning import judging
from commissioning.binders import document, pages
from commissioning.binders.pages import NoBinder
from commissioning.binders.render import render
from commissioning.binders.render.fonts import versions
from commissioning.binders.render.joining import FROZEN
from commissioning.dossier.canonical import canonical_json, sha256_hex
from commissioning.engineering.acceptance_sampling import draw_order
from commissioning.judging import signing

MOST_SHOWN = 160


@dataclass(frozen=True, slots=True)
class Difference:
    """`item` is what differs, in the words of the binder; `frozen` what stands there, `found` what should."""

    item: str
    what: str
    frozen: str = ""
    found: str = ""

    def __str__(self) -> str:
        told = f" (here {self.frozen or 'nothing'}; should be {self.found or 'nothing'})"
        return f"{self.item}: {self.what}" + (told if self.frozen or self.found else "")


@dataclass
class Report:
    differences: list[Difference] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    counted: dict[str, int] = field(default_factory=dict)

    @property
    def is_same(self) -> bool:
        return not self.differences

    def to_json(self) -> dict[str, Any]:
        return {
            "same": self.is_same,
            "differences": [asdict(one) for one in self.differences],
            "notes": self.notes,
            "counted": self.counted,
        }


def verify(data: bytes) -> Report:
    """What differs in a binder. Raises NoBinder or document.Unreadable where nothing can be compared."""
    there = pages.read(data)
    frozen = there.attachments.get(FROZEN)
    if frozen is None:
        raise NoBinder(f"There is no {FROZEN} in the file.")
    held = document.read(frozen)
    report = Report()
    report.differences += _attached(there, held, frozen)
    report.differences += _evidence(held)
    report.differences += _verdicts(held)
    report.differences += _derived(held)
    report.differences += _signatures(held)
    report.differences += _samples(held)
    report.notes += _notes(held)
    report.counted = {
        "evidence": len(held["manifest"]),
        "judgements": sum(len(one["judgements"]) for one in held["judged"]["positions"]),
        "photos": len({one["view"] for one in held["photos"]} - {None}),
        "pages": len(there.pages),
    }
    report.differences += _drawn_again(data, there, frozen, report)
    return report


# --- the attached document and the photos ---------------------------------------------------------------------------
def _attached(there: pages.Read, held: Mapping[str, Any], frozen: bytes) -> Iterator[Difference]:
    for name in there.damaged:
        yield Difference(name, "its bytes are not those of its own checksum")
    if frozen != canonical_json(held):
        yield Difference(FROZEN, "it is not in the form in which a binder writes it")
    if sha256_hex(frozen) not in "".join(there.pages[:1]).replace("\n", ""):
        yield Difference(FROZEN, "its SHA-256 is not the one on the cover", sha256_hex(frozen))
    wanted = {f"photo-{one['view']}.jpg": one["view"] for one in held["photos"] if one["view"]}
    for name, sha256 in wanted.items():
        data = there.attachments.get(name)
        if data is None:
            yield Difference(name, "the photo is not attached")
        elif sha256_hex(data) != sha256:
            yield Difference(name, "the photo is another one", sha256_hex(data), sha256)
    for name in sorted(set(there.attachments) - set(wanted) - {FROZEN}):
        yield Difference(name, "it is attached, and the binder does not name it")


# --- the samples ----------------------------------------------------------------------------------------------------
def _samples(held: Mapping[str, Any]) -> Iterator[Difference]:
    """Each draw once more, by its seed; of one that names no units yet there is nothing to draw."""
    for sample in held.get("samples", ()):
        for one in sample["strata"]:
            given = [unit["position"] for unit in one["order"]]
            again = list(draw_order(seed=sample["seed"], units=sorted(given))) if given else []
            drawn = [unit["position"] for unit in one["order"] if unit["outcome"] is not None]
            if given != again or drawn != given[: one["sample"]]:
                where = f"sample {sample['number']}, {one['stratum']}"
                yield Difference(where, "the seed draws other units, or in another order")


# --- the evidence ---------------------------------------------------------------------------------------------------
def _evidence(held: Mapping[str, Any]) -> Iterator[Difference]:
    """Line by line: the manifest and the bytes stand in the same order."""
    for place, raws in (
        ("judging", held["judging"].get("envelopes", [])),
        ("set_aside", [one["raw"] for one in held["set_aside"]]),
    ):
        lines = [one for one in held["manifest"] if one["held"] == place]
        if len(lines) != len(raws):
            yield Difference("manifest", f"{place}: {len(lines)} lines for {len(raws)} records")
        for line, raw in zip(lines, raws, strict=False):
            yield from _record(line, raw)
    for line, aside in zip(
        (one for one in held["manifest"] if one["held"] == "set_aside"), held["set_aside"], strict=False
    ):
        if line["id"] != aside["id"]:
            yield Difference(f"evidence {line['id']}", "it is set aside under another id", aside["id"], line["id"])
    yield from _superseded(held)


def _record(line: Mapping[str, Any], raw: Any) -> Iterator[Difference]:
    item = f"evidence {line['id']}"
    sha256 = document.raw_hash(raw) if isinstance(raw, str) else "no text"
    if sha256 != line["sha256"]:
        yield Difference(item, "its bytes are not those of the manifest", sha256, line["sha256"])
        return
    frame = judging.read_envelope(raw.encode()).frame
    if frame is None:
        yield Difference(item, "its bytes cannot be read as an envelope")
        return
    said: dict[str, Any] = {"id": str(frame.id), "position": str(frame.position), "kind": frame.kind}
    said |= {"session": frame.session, "is_final": frame.is_final}
    for name, value in said.items():
        if line[name] != value:
            yield Difference(item, f"the manifest's {name.replace('_', ' ')} is not the record's", line[name], value)
    if _moment(line["observed_at"]) != frame.observed_at:
        said_at = frame.observed_at.isoformat()
        yield Difference(item, "the manifest's time of observation is not the record's", line["observed_at"], said_at)


def _moment(text: str) -> datetime | None:
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None


def _superseded(held: Mapping[str, Any]) -> Iterator[Difference]:
    """Who supersedes whom, from the records themselves."""
    withheld = {(one["envelope"], one["names"]) for one in held["withheld"]}
    said: dict[str, set[tuple[str, str]]] = {}
    for raw in held["judging"].get("envelopes", []):
        frame = judging.read_envelope(raw.encode()).frame if isinstance(raw, str) else None
        for one in frame.supersedes if frame else ():
            if frame and (str(frame.id), str(one.id)) not in withheld:
                said.setdefault(str(one.id), set()).add((str(frame.id), one.reason))
    for line in held["manifest"]:
        here = {(one["by"], one["reason"]) for one in line["superseded"]}
        if here != said.get(line["id"], set()):
            yield Difference(f"evidence {line['id']}", "what supersedes it is not what the records say")


# --- the verdicts ----------------------------------------------------------------------------------------------------
def _verdicts(held: Mapping[str, Any]) -> Iterator[Difference]:
    try:
        found = document.judged(held)
    except (judging.DocumentError, KeyError, StopIteration) as error:
        yield Difference("judging", f"the document cannot be judged: {error}")
        return
    frozen = held["judged"]
    yield from _compared("judging", {"problems": frozen.get("problems")}, {"problems": found["problems"]})
    here = {one.get("id"): one for one in frozen.get("positions", [])}
    for position in found["positions"]:
        given = here.pop(position["id"], None)
        unit = f"unit {position['tag']}"
        if given is None:
            yield Difference(unit, "its judgements are missing")
            continue
        for name in ("tag", "inputs_hash"):
            if given.get(name) != position[name]:
                yield Difference(unit, f"its {name.replace('_', ' ')}", str(given.get(name)), str(position[name]))
        yield from _each(f"measurement {position['tag']}", given, position, "measurements", ("envelope", "port"))
        yield from _each(f"judgement {position['tag']}", given, position, "judgements", ("requirement", "port"))
    for id in here:
        yield Difference(f"unit {id}", "it is judged, and judging was not given it")


def _each(
    item: str, given: Mapping[str, Any], found: Mapping[str, Any], group: str, keys: Sequence[str]
) -> Iterator[Difference]:
    here = list(given.get(group, []))
    if len(here) != len(found[group]):
        yield Difference(item, f"{len(here)} of {len(found[group])} {group} are there")
    for frozen, fresh in zip(here, found[group], strict=False):
        name = " ".join(str(fresh[key]) for key in keys).strip()
        yield from _compared(f"{item} {name}", frozen, fresh)


def _compared(item: str, frozen: Any, found: Any, path: str = "") -> Iterator[Difference]:
    """The first places at which two JSON values differ."""
    if isinstance(frozen, dict) and isinstance(found, dict):
        for name in sorted(set(frozen) | set(found)):
            yield from _compared(item, frozen.get(name), found.get(name), f"{path} {name}".strip())
    elif isinstance(frozen, list | tuple) and isinstance(found, list | tuple) and len(frozen) == len(found):
        for index, (one, other) in enumerate(zip(frozen, found, strict=True)):
            yield from _compared(item, one, other, f"{path} {index}")
    elif _plain(frozen) != _plain(found):
        yield Difference(item, path or "it differs", _shown(frozen), _shown(found))


def _plain(value: Any) -> Any:
    return canonical_json(value)


def _shown(value: Any) -> str:
    text = value if isinstance(value, str) else canonical_json(value).decode()
    return text if len(text) <= MOST_SHOWN else text[:MOST_SHOWN] + "…"


# --- what follows from the verdicts --------------------------------------------------------------------------------
def _derived(held: Mapping[str, Any]) -> Iterator[Difference]:
    tags = {one.get("id"): one.get("tag") for one in held["judging"].get("positions", [])}
    for unit in held["units"]:
        if tags.pop(unit["position"], None) != unit["tag"]:
            yield Difference(f"unit {unit['tag']}", "judging was given another tag for its position")
    for id, tag in tags.items():
        yield Difference(f"unit {tag}", f"it has no sheet ({id})")
    fresh = document.not_tested(held["judged"], held["units"])
    if fresh != held["not_tested"]:
        first = next((one for one in held["not_tested"] if one not in fresh), None)
        item = f"not tested {first['tag']} {first['requirement']} {first['port']}".strip() if first else "not tested"
        yield Difference(item, "the list of what was not tested is not what the judgements say")
    outcomes = {
        (position.get("id"), one["requirement"], one["port"]): one["verdict"] or one["absence"]["code"]
        for position in held["judged"].get("positions", [])
        for one in position["judgements"]
    }
    for issue in held["issues"]:
        for check in issue["checks"]:
            found = outcomes.get((check["position"], check["requirement"], check["port"]), "not_judged")
            if found != check["outcome"]:
                item = f"issue {issue['number']}, check {check['tag']} {check['requirement']} {check['port']}".strip()
                yield Difference(item, "its outcome is not that of the judgement", check["outcome"], found)


def _signatures(held: Mapping[str, Any]) -> Iterator[Difference]:
    """What was signed is what its hash says, and a signature stands as long as the judgements are those."""
    judgements = {one.get("id"): one["judgements"] for one in held["judged"].get("positions", [])}
    for unit in held["units"]:
        signature = unit.get("signature")
        if not signature:
            continue
        item, said = f"unit {unit['tag']}, signature {signature['number']}", signature["statement"]
        if signing.hash_of(said) != signature["sha256"]:
            yield Difference(
                item, "what was signed is not that of its hash", signing.hash_of(said), signature["sha256"]
            )
        accepted = {
            (check["requirement"], check["port"])
            for issue in held["issues"]
            for check in issue["checks"]
            if issue["state"] == "accepted" and check["position"] == unit["position"]
        }
        now = signing.statement(signing.lines_of(judgements.get(unit["position"], [])), accepted, ())
        stands = not signing.differing(said, now)
        if stands != signature["stands"]:
            words = {True: "stands", False: "is void"}
            yield Difference(item, "whether it stands", words[signature["stands"]], words[stands])


# --- the pages -------------------------------------------------------------------------------------------------------
def _drawn_again(data: bytes, there: pages.Read, frozen: bytes, report: Report) -> Iterator[Difference]:
    photos = {sha256_hex(one): one for name, one in there.attachments.items() if name != FROZEN}
    try:
        again = render(frozen, photos=photos).pdf
    except Exception as error:  # whatever stands in a changed document, the answer is that it differs
        yield Difference(FROZEN, f"it cannot be drawn again: {type(error).__name__}: {error}")
        return
    if again == data:
        return
    fresh = pages.read(again)
    before = len(report.differences)
    found = [*_pages(there, fresh)]
    if there.bookmarks != fresh.bookmarks:
        found.append(
            Difference("bookmarks", "they are not those of the document", *_first(there.bookmarks, fresh.bookmarks))
        )
    yield from found
    if not found and not before:
        yield Difference("file", "every page says the same, and the bytes of the file around them differ")


def _pages(there: pages.Read, fresh: pages.Read) -> Iterator[Difference]:
    if len(there.pages) != len(fresh.pages):
        yield Difference("pages", "their number", str(len(there.pages)), str(len(fresh.pages)))
    for number, (here, other) in enumerate(zip(there.pages, fresh.pages, strict=False), start=1):
        if number in there.unreadable:
            yield Difference(f"page {number}", "it cannot be read")
        elif here != other:
            yield Difference(f"page {number}", "its text", *_first(here.split("\n"), other.split("\n")))
        elif there.drawn[number - 1] != fresh.drawn[number - 1]:
            yield Difference(f"page {number}", "what is drawn on it differs; its text is the same")


def _first(here: Sequence[str], other: Sequence[str]) -> tuple[str, str]:
    for one, two in zip(here, other, strict=False):
        if one != two:
            return _shown(one), _shown(two)
    longer = here if len(here) > len(other) else other
    rest = _shown(longer[min(len(here), len(other))]) if len(here) != len(other) else ""
    return (rest, "") if longer is here else ("", rest)


def _notes(held: Mapping[str, Any]) -> list[str]:
    """What is not a difference of the binder, and may explain one."""
    made = held["made_with"]
    notes = []
    if made["rules_hash"] != judging.rules_hash():
        notes.append("This software has other versions of the rules than the one that built the binder.")
    here = {"reportlab": reportlab.__version__, "pikepdf": pikepdf.__version__, "qpdf": pikepdf.__libqpdf_version__}
    here["zlib"] = zlib.ZLIB_RUNTIME_VERSION
    for name, version in here.items():
        before = made["libraries"].get(name, version)
        if before != version:
            notes.append(f"Built with {name} {before}; here is {version}.")
    if made["fonts"] != versions():
        notes.append("The fonts here are not those with which it was drawn.")
    return notes
