"""Reading a rendered binder back: its attachments, the text of each page as it would be read, its bookmarks.

Small and strict: it reads what the renderer writes. What it cannot read is told by its page, never passed over.
"""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from io import BytesIO
from typing import Any

import pikepdf

_SHOWS = {"Tj", "TJ", "'", '"'}
_ASKED = " ".join(("Tf", "Do", *sorted(_SHOWS)))


class NoBinder(ValueError):
    """The file is no PDF, or there is no frozen document in it."""


@dataclass
class Read:
    """`pages` is the text of each page; `drawn` the hash of all that its content says, shapes too."""

    attachments: dict[str, bytes] = field(default_factory=dict)
    pages: list[str] = field(default_factory=list)
    drawn: list[str] = field(default_factory=list)
    bookmarks: list[str] = field(default_factory=list)
    unreadable: list[int] = field(default_factory=list)  # pages, counted from 1
    damaged: list[str] = field(default_factory=list)  # attachments


def read(data: bytes) -> Read:
    found = Read()
    try:
        with pikepdf.open(BytesIO(data)) as pdf:
            _attachments(pdf, found)
            fonts: dict[Any, Mapping[int, str]] = {}
            for number, page in enumerate(pdf.pages, start=1):
                _page(page, number, found, fonts)
            with pdf.open_outline() as outline:
                _bookmarks(outline.root, found.bookmarks)
    except (pikepdf.PdfError, ValueError, KeyError, TypeError, AttributeError, RuntimeError) as error:
        raise NoBinder(f"The file cannot be read as a PDF: {error}") from error
    return found


def _attachments(pdf: pikepdf.Pdf, found: Read) -> None:
    for name in sorted(pdf.attachments):
        try:
            file = pdf.attachments[name].get_file()
            found.attachments[name] = file.read_bytes()
            if file.md5 and hashlib.md5(found.attachments[name], usedforsecurity=False).digest() != file.md5:
                found.damaged.append(name)
        except (pikepdf.PdfError, ValueError, RuntimeError):
            found.damaged.append(name)


def _page(page: pikepdf.Page, number: int, found: Read, fonts: dict[Any, Mapping[int, str]]) -> None:
    try:
        texts: list[str] = []
        digest = hashlib.sha256()
        _content(page.obj, page.resources, texts, digest, fonts)
        found.pages.append("".join(texts))
        found.drawn.append(digest.hexdigest())
    except (pikepdf.PdfError, ValueError, KeyError, TypeError, AttributeError, RuntimeError, IndexError):
        found.unreadable.append(number)
        found.pages.append("")
        found.drawn.append("")


def _content(stream: Any, resources: Any, texts: list[str], digest: Any, known: dict[Any, Mapping[int, str]]) -> None:
    """Every byte that a page or form says into the hash; what shows text also as text, one line per show."""
    for part in _parts(stream):
        said = part.read_bytes()
        digest.update(b"%d " % len(said) + said)
    glyphs: Mapping[int, str] = {}
    for instruction in pikepdf.parse_content_stream(stream, _ASKED):
        operands, name = instruction.operands, str(instruction.operator)
        if name == "Tf":
            font = resources.Font[str(operands[0])]
            if font.objgen not in known:
                known[font.objgen] = _glyphs(font)
            glyphs = known[font.objgen]
        elif name in _SHOWS:
            texts.append("".join(glyphs.get(code, "") for one in operands for code in _codes(one)))
            texts.append("\n")
        elif name == "Do":
            thing = resources.XObject[str(operands[0])]
            if thing.get("/Subtype") == "/Form":
                _content(thing, thing.get("/Resources", resources), texts, digest, known)
            else:
                digest.update(hashlib.sha256(thing.read_raw_bytes()).digest())


def _parts(stream: Any) -> list[Any]:
    """The streams of a form or of a page, which may have several."""
    if isinstance(stream, pikepdf.Stream):
        return [stream]
    held = stream.get("/Contents", pikepdf.Array())
    return list(held) if isinstance(held, pikepdf.Array) else [held]


def _codes(value: Any) -> bytes:
    if isinstance(value, pikepdf.Array):
        return b"".join(_codes(one) for one in value)
    return bytes(value) if isinstance(value, pikepdf.String) else b""


def _glyphs(font: Any) -> dict[int, str]:
    """What each code of an embedded font stands for, by its ToUnicode map."""
    found: dict[int, str] = {}
    mapped = font.get("/ToUnicode")
    if mapped is None:
        return {code: chr(code) for code in range(256)}
    for instruction in pikepdf.parse_content_stream(mapped):
        operands, name = list(instruction.operands), str(instruction.operator)
        if name == "endbfchar":
            codes = [bytes(one) for one in operands]
            for code, text in zip(codes[::2], codes[1::2], strict=True):
                found[code[-1]] = text.decode("utf-16-be")
        elif name == "endbfrange":
            for low, high, first in zip(operands[::3], operands[1::3], operands[2::3], strict=True):
                _range(found, bytes(low)[-1], bytes(high)[-1], first)
    return found


def _range(found: dict[int, str], low: int, high: int, first: Any) -> None:
    if isinstance(first, pikepdf.Array):
        for code, text in zip(range(low, high + 1), first, strict=True):
            found[code] = bytes(text).decode("utf-16-be")
        return
    start = int.from_bytes(bytes(first), "big")
    for code in range(low, high + 1):
        found[code] = chr(start + code - low)


def _bookmarks(items: Any, found: list[str]) -> None:
    for item in items:
        found.append(str(item.title))
        _bookmarks(item.children, found)
