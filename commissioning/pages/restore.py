"""The restore sheet of a unit as a page and as one page on paper: what its controller was left set to."""

import uuid

from django.http import HttpRequest, HttpResponse

from commissioning.binders.render.alone import Heading, on_one_page
from commissioning.dossier.settings import show_restore
from commissioning.dossier.settings.restore import chosen
from commissioning.pages.render import render_all
from commissioning.pages.unit_paper import Seen, UnitDocument, as_pdf, sources

TITLE = "Restore sheet"


def sheet_of(seen: Seen) -> show_restore.Sheet:
    found = chosen(seen.judged.measurements if seen.judged else [])
    of = sources(seen.unit, [found.snapshot["envelope"]]) if found else {}
    return show_restore.sheet(seen.place, found, of, seen.display)


class RestorePage(UnitDocument):
    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        seen = self.unit_seen(request, pk)
        made = sheet_of(seen)
        context = {
            "display": seen.display,
            "unit": seen.unit,
            "where": seen.place.where,
            "title": TITLE,
            "waiting": self.is_waiting(seen.unit),
            "paper": f"/units/{seen.unit.pk}/restore.pdf" if made.body else "",
            "dense": True,
            "on_paper": "On one page, as PDF",
            "head": render_all(made.head),
            "sections": [("", render_all(made.body))],
        }
        return self.show("commissioning/unit_document.html", context)


class RestorePaper(UnitDocument):
    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        seen = self.unit_seen(request, pk)
        made = sheet_of(seen)
        heading = Heading(TITLE, seen.unit.tag, seen.place.where, seen.foot)
        return as_pdf(on_one_page(heading, made.head, made.body, seen.display), f"restore-{seen.unit.tag}")
