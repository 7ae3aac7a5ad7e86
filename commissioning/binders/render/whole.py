"""The whole binder, page after page: the body once from front to back, then its contents, then joined."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from io import BytesIO
from typing import Any, TypeAlias

from reportlab.pdfgen.canvas import Canvas

from commissioning.binders import document as frozen_document
from commissioning.binders.render import closing, opening, samples
from commissioning.binders.render.blocks import Surroundings
from commissioning.binders.render.content import Content
from commissioning.binders.render.contents import contents, pages_for
from commissioning.binders.render.fonts import INITIAL, printable
from commissioning.binders.render.ink import PAPERS, Paper
from commissioning.binders.render.joining import join
from commissioning.binders.render.sheet import Sheet
from commissioning.binders.render.units import unit_sheet

Progress: TypeAlias = Callable[[int, int], bool]
CHAPTERS = (
    "Cover", "How to read it", "Summary", "Issues", "Verification samples", "What was not tested", "Instruments",
    "Methods", "Manifest",
)  # fmt: skip
AFTER_UNITS = 7  # steps of progress: six chapters and the joining


class Stopped(Exception):
    """Whoever asked does not want it any more."""


@dataclass(frozen=True, slots=True)
class Rendered:
    pdf: bytes
    pages: int


def render(frozen: bytes, progress: Progress | None = None, photos: Mapping[str, bytes] | None = None) -> Rendered:
    """The binder of a frozen document. `photos` are the copies that it names, by their hash."""
    document = frozen_document.read(frozen)
    handed_over = frozen_document.handed_over(document)
    content = Content({name: value for name, value in document.items() if name != "asked"}, handed_over)
    held = {sha256: photos[sha256] for sha256 in _views(document) if photos and sha256 in photos}
    return _Press(content, handed_over, held, progress or (lambda done, whole: True)).run()


def _views(document: Mapping[str, Any]) -> list[str]:
    return sorted({one["view"] for one in document["photos"] if one["view"]})


class _Press:
    def __init__(self, content: Content, handed_over: bytes, photos: Mapping[str, bytes], progress: Progress) -> None:
        self.content, self.handed_over, self.photos, self.progress = content, handed_over, photos, progress
        self.paper: Paper = PAPERS.get(content.display, PAPERS["si"])
        self.title: str = content.document["title"]
        self.foot = f"binder.json {content.hash[:16]}…"
        self.whole = len(content.units) + AFTER_UNITS
        views = {one["sha256"]: one["view"] for one in content.document["photos"] if one["view"]}
        self.around = Surroundings(photos, views)

    def run(self) -> Rendered:
        file = BytesIO()
        canvas = self._canvas(file)
        sheet = Sheet(canvas, self.paper, running=self.title, foot=self.foot)
        drawn = len(self.content.document.get("samples", ()))
        lines = len(CHAPTERS) + 1 + len(self.content.units) + len(self.content.issues) + drawn
        added = pages_for(lines, self.paper)
        opening.cover(sheet, self.content)
        behind = sheet.number
        sheet.new_page(skip=added)
        opening.how_to_read(sheet, self.content)
        opening.summary(sheet, self.content)
        self._units(sheet)
        self._closing(sheet)
        total = sheet.finish()
        canvas.save()
        pages, links = contents(
            sheet.entries, self.paper, first=behind + 1, total=total, running=self.title, foot=self.foot
        )
        pdf = join(
            file.getvalue(),
            pages,
            links,
            behind=behind,
            frozen=self.handed_over,
            photos=self.photos,
            title=printable(self.title),
        )
        self._step(self.whole)
        return Rendered(pdf, total)

    def _canvas(self, file: BytesIO) -> Canvas:
        canvas = Canvas(file, pagesize=(self.paper.width, self.paper.height), invariant=1, pageCompression=1, **INITIAL)
        canvas.setTitle(printable(self.title))
        canvas.setAuthor(printable(self.content.document["firm"]["name"]))
        canvas.setSubject(f"binder.json {self.content.hash}")
        canvas.setCreator(self.content.document["made_with"]["software"])
        return canvas

    def _units(self, sheet: Sheet) -> None:
        for done, unit in enumerate(self.content.units, start=1):
            sheet.new_page()
            if done == 1:
                sheet.entry("Units", 0)
            unit_sheet(sheet, self.content, unit, self.around)
            self._step(done)

    def _closing(self, sheet: Sheet) -> None:
        done = len(self.content.units)
        chapters: tuple[Callable[[], None], ...] = (
            lambda: closing.issues(sheet, self.content, self.around),
            lambda: samples.samples(sheet, self.content),
            lambda: closing.not_tested(sheet, self.content),
            lambda: closing.instruments(sheet, self.content),
            lambda: closing.methods(sheet, self.content, self.around),
            lambda: closing.manifest(sheet, self.content),
        )
        for number, chapter in enumerate(chapters, start=1):
            chapter()
            self._step(done + number)

    def _step(self, done: int) -> None:
        if not self.progress(done, self.whole):
            raise Stopped(f"{done} of {self.whole} steps were done")
