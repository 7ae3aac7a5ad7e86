"""The zip around a workbook, opened with suspicion, and the parts beside the sheets: names, shared texts, formats.

A small file may unpack to gigabytes, or carry entities that grow when they are read. So: what the zip declares is
summed before anything is unpacked, every unpacked byte is counted again, and no part may hold a document type.
"""

import io
import re
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, NamedTuple, cast
from xml.sax import SAXParseException
from xml.sax.handler import ContentHandler

from defusedxml.common import DefusedXmlException
from defusedxml.expatreader import DefusedExpatParser

from portfolio.schedules.reading.cells import Unreadable
from portfolio.schedules.reading.formats import PLAIN, Look, look_of

MAX_UNPACKED_BYTES = 100 * 1024 * 1024
MAX_RATIO = 100
MAX_PARTS = 2_000
_RATIO_MATTERS_FROM = 1024 * 1024
_CHUNK = 128 * 1024
_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")
_PACKINGS = frozenset({zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED})


def local(name: str) -> str:
    """An element's name without its prefix: writers differ in prefixes, and in the namespace's edition."""
    return name.rpartition(":")[2]


def unescaped(text: str) -> str:
    """Undo the format's own escape of control characters, e.g. `_x000D_` for a carriage return."""
    if "_x" not in text:
        return text
    return _ESCAPED.sub(lambda match: chr(int(match.group(1), 16)), text)


class _Parser(DefusedExpatParser):
    """The defused parser, its events wired straight to the handler: attributes come as a plain dict."""

    def reset(self) -> None:
        super().reset()
        wired = cast("Any", self)
        wired._parser.StartElementHandler = wired._cont_handler.begin
        wired._parser.EndElementHandler = wired._cont_handler.end


class Handler(ContentHandler):
    """What a part's handler is told: `begin`, `characters`, `end`; see `_Parser`."""

    def begin(self, name: str, attrs: dict[str, str]) -> None:
        """An element begins."""

    def end(self, name: str) -> None:
        """An element ends."""


class Package:
    """A zip whose declared sizes were found harmless; `chunks` counts what really comes out."""

    def __init__(self, data: bytes) -> None:
        self._zip = self._opened(data)
        self._left = MAX_UNPACKED_BYTES
        self._check_declared(len(data))
        self.names = frozenset(self._zip.namelist())

    def feed(self, name: str, handler: Handler) -> None:
        """Stream one part through a parser that refuses document types and entities."""
        parser = _Parser(forbid_dtd=True)
        parser.setContentHandler(handler)
        try:
            for chunk in self._chunks(name):
                parser.feed(chunk)
            parser.close()
        except DefusedXmlException as exc:
            raise Unreadable(
                "entity_bomb",
                f"{name} declares a document type or entities, which no spreadsheet program writes",
                "Open the file in a spreadsheet program and save it again",
            ) from exc
        except SAXParseException as exc:
            raise Unreadable(
                "damaged",
                f"{name} is damaged near line {exc.getLineNumber() or 1}",
                "Open the file in a spreadsheet program, let it repair the file, and save it again",
            ) from exc

    def _chunks(self, name: str) -> Iterator[bytes]:
        try:
            with self._zip.open(name) as stream:
                while chunk := stream.read(_CHUNK):
                    self._left -= len(chunk)
                    if self._left < 0:
                        raise _too_big()
                    yield chunk
        except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, OSError, RuntimeError) as exc:
            raise Unreadable(
                "damaged",
                f"{name} inside the file cannot be unpacked",
                "Save the file again and send the new one",
            ) from exc

    @staticmethod
    def _opened(data: bytes) -> zipfile.ZipFile:
        try:
            return zipfile.ZipFile(io.BytesIO(data))
        except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError) as exc:
            raise Unreadable(
                "damaged", "the file begins like a workbook but is cut off or damaged", "Send the file again"
            ) from exc

    def _check_declared(self, packed_bytes: int) -> None:
        parts = self._zip.infolist()
        if len(parts) > MAX_PARTS:
            raise Unreadable("too_many_parts", f"the file holds {len(parts):,} parts", "Save the file again")
        if any(part.flag_bits & 1 for part in parts):
            raise _protected()
        if any(part.compress_type not in _PACKINGS for part in parts):
            raise Unreadable("damaged", "the file is packed in a way no spreadsheet program uses", "Save it again")
        total = sum(part.file_size for part in parts)
        if total > MAX_UNPACKED_BYTES:
            raise _too_big()
        if total > _RATIO_MATTERS_FROM and total > MAX_RATIO * max(packed_bytes, 1):
            raise Unreadable(
                "packed_too_tight",
                f"the file would unpack to {total // packed_bytes} times its size; at most {MAX_RATIO} times is read",
                "Copy the schedule alone into a new workbook and save that",
            )


def _too_big() -> Unreadable:
    limit = MAX_UNPACKED_BYTES // (1024 * 1024)
    return Unreadable(
        "unpacks_too_large",
        f"the file would unpack to more than {limit} MB",
        "Copy the schedule alone into a new workbook and save that",
    )


def _protected() -> Unreadable:
    return Unreadable(
        "protected",
        "the file is protected by a password",
        "Save it without a password, as .xlsx, and send that",
    )


class SheetPart(NamedTuple):
    name: str
    part: str
    hidden: bool


@dataclass(frozen=True)
class Workbook:
    """What the sheets need to be read: their parts, the shared texts, how each style shows a number."""

    sheets: tuple[SheetPart, ...]
    texts: tuple[str, ...]
    looks: tuple[Look, ...]
    since_1904: bool


class _Relations(Handler):
    """Targets by id, for one kind of relation or for all."""

    def __init__(self) -> None:
        super().__init__()
        self.found: dict[str, tuple[str, str]] = {}

    def begin(self, name: str, attrs: dict[str, str]) -> None:
        if local(name) == "Relationship" and attrs.get("TargetMode", "Internal") != "External":
            kind = str(attrs.get("Type", "")).rpartition("/")[2]
            self.found[str(attrs.get("Id", ""))] = (kind, str(attrs.get("Target", "")))


class _Sheets(Handler):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, str, bool]] = []
        self.since_1904 = False

    def begin(self, name: str, attrs: dict[str, str]) -> None:
        element = local(name)
        if element == "sheet":
            link = next((value for key, value in attrs.items() if key.endswith(":id")), "")
            self.found.append((str(attrs.get("name", "")), link, attrs.get("state", "visible") != "visible"))
        elif element == "workbookPr":
            self.since_1904 = str(attrs.get("date1904", "0")) in ("1", "true")


class _SharedTexts(Handler):
    """Each `si` is one text, in runs or not; phonetic hints are left out."""

    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []
        self._parts: list[str] = []
        self._reading = False
        self._phonetic = False

    def begin(self, name: str, attrs: dict[str, str]) -> None:
        element = local(name)
        if element == "si":
            self._parts = []
        elif element == "rPh":
            self._phonetic = True
        elif element == "t":
            self._reading = not self._phonetic

    def characters(self, content: str) -> None:
        if self._reading:
            self._parts.append(content)

    def end(self, name: str) -> None:
        element = local(name)
        if element == "t":
            self._reading = False
        elif element == "rPh":
            self._phonetic = False
        elif element == "si":
            self.texts.append(unescaped("".join(self._parts)))


class _Styles(Handler):
    """The number format of each cell style, in the order that cells refer to."""

    def __init__(self) -> None:
        super().__init__()
        self.codes: dict[int, str] = {}
        self.ids: list[int] = []
        self._in_cell_styles = False

    def begin(self, name: str, attrs: dict[str, str]) -> None:
        element = local(name)
        if element == "numFmt":
            self.codes[_whole(attrs.get("numFmtId"))] = str(attrs.get("formatCode", ""))
        elif element == "cellXfs":
            self._in_cell_styles = True
        elif element == "xf" and self._in_cell_styles:
            self.ids.append(_whole(attrs.get("numFmtId")))

    def end(self, name: str) -> None:
        if local(name) == "cellXfs":
            self._in_cell_styles = False

    def looks(self) -> tuple[Look, ...]:
        known = (look_of(number, self.codes.get(number)) for number in self.ids)
        return tuple(PLAIN if look == PLAIN else look for look in known)


def read_parts(package: Package) -> Workbook:
    """Find the workbook inside the package, and everything beside its sheets."""
    main = _main_part(package)
    folder = main.rpartition("/")[0]
    sheets = _Sheets()
    package.feed(main, sheets)
    links = _relations_of(package, main)
    targets = {link: (kind, _resolved(folder, target)) for link, (kind, target) in links.items()}
    texts, styles = _SharedTexts(), _Styles()
    for kind, part in targets.values():
        if part in package.names and kind in ("sharedStrings", "styles"):
            package.feed(part, texts if kind == "sharedStrings" else styles)
    found = tuple(
        SheetPart(name, targets[link][1], hidden)
        for name, link, hidden in sheets.found
        if link in targets and targets[link][0] == "worksheet" and targets[link][1] in package.names
    )
    return Workbook(found, tuple(texts.texts), styles.looks(), sheets.since_1904)


def _main_part(package: Package) -> str:
    if "_rels/.rels" in package.names:
        for kind, target in _relations_of(package, "").values():
            part = target.lstrip("/")
            if kind == "officeDocument" and part.endswith(".xml") and "word/" not in part and "ppt/" not in part:
                return part if part in package.names else _no_workbook()
    return _no_workbook()


def _no_workbook() -> str:
    raise Unreadable(
        "not_a_workbook",
        "the file is a zip, but no .xlsx workbook",
        "Save the schedule as .xlsx or .csv, or copy its cells and paste them",
    )


def _relations_of(package: Package, part: str) -> dict[str, tuple[str, str]]:
    folder, _, name = part.rpartition("/")
    place = f"{folder}/_rels/{name}.rels" if folder else f"_rels/{name}.rels"
    relations = _Relations()
    if place in package.names:
        package.feed(place, relations)
    return relations.found


def _resolved(folder: str, target: str) -> str:
    """A part's name from a target relative to the workbook's folder."""
    if target.startswith("/"):
        return target.lstrip("/")
    steps = folder.split("/") if folder else []
    for step in target.split("/"):
        if step == "..":
            steps = steps[:-1]
        elif step not in ("", "."):
            steps.append(step)
    return "/".join(steps)


def _whole(text: object) -> int:
    digits = str(text)
    return int(digits) if digits.isdigit() and len(digits) < 10 else 0
