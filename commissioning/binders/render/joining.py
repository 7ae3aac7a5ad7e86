"""Putting the parts together: contents behind the cover, links, the frozen document and the photos attached.

Everything is written in one order and without a clock, so equal parts give equal bytes.
"""

from collections.abc import Mapping, Sequence
from io import BytesIO

import pikepdf
from pikepdf import Array, AttachedFileSpec, Dictionary, Name, String

from commissioning.binders.render.contents import Link

FROZEN = "binder.json"
_WHAT = "What this binder shows, and all that it takes to judge it again"


def join(
    body: bytes,
    contents: bytes,
    links: Sequence[Link],
    *,
    behind: int,
    frozen: bytes,
    photos: Mapping[str, bytes],
    title: str,
) -> bytes:
    with pikepdf.open(BytesIO(body)) as pdf, pikepdf.open(BytesIO(contents)) as inserted:
        added = len(inserted.pages)
        for index, page in enumerate(inserted.pages):
            pdf.pages.insert(behind + index, page)
        _link(pdf, links, behind, added)
        _attach(pdf, FROZEN, frozen, "application/json", _WHAT)
        for sha256 in sorted(photos):
            _attach(pdf, f"photo-{sha256}.jpg", photos[sha256], "image/jpeg", "A photo of the evidence")
        _describe(pdf, title)
        out = BytesIO()
        pdf.save(
            out,
            deterministic_id=True,
            object_stream_mode=pikepdf.ObjectStreamMode.generate,
            compress_streams=True,
            recompress_flate=False,
        )
        return out.getvalue()


def _link(pdf: pikepdf.Pdf, links: Sequence[Link], behind: int, added: int) -> None:
    """Links within the document only; there is no other kind in a binder."""
    pages = list(pdf.pages)
    by_page: dict[int, list[pikepdf.Object]] = {}
    for link in links:
        target = pages[link.to if link.to < behind else link.to + added]
        by_page.setdefault(link.on, []).append(
            Dictionary(
                Type=Name.Annot,
                Subtype=Name.Link,
                Rect=Array([round(edge, 2) for edge in link.rectangle]),
                Border=Array([0, 0, 0]),
                Dest=Array([target.obj, Name.Fit]),
            )
        )
    for on, annotations in by_page.items():
        pages[behind + on].obj.Annots = Array([pdf.make_indirect(one) for one in annotations])


def _attach(pdf: pikepdf.Pdf, name: str, data: bytes, media_type: str, description: str) -> None:
    pdf.attachments[name] = AttachedFileSpec(
        pdf,
        data,
        filename=name,
        mime_type=media_type,
        description=description,
        relationship=Name.Source,
        creation_date="",
        mod_date="",
    )


def _describe(pdf: pikepdf.Pdf, title: str) -> None:
    pdf.Root.Lang = String("en")
    pdf.Root.PageMode = Name.UseOutlines
    pdf.Root.ViewerPreferences = Dictionary(DisplayDocTitle=True)
    pdf.docinfo[Name.Title] = String(title)
