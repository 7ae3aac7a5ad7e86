"""A firm's own functional procedures: what its lead adds or words otherwise; looked at first, then kept."""

import uuid
from typing import Any

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse

from commissioning.catalogue.procedures import LIBRARY
from commissioning.dossier.own_procedures import may_be_worded
from commissioning.dossier.own_procedures_compared import Row, as_in_the_catalogue, compared
from commissioning.dossier.problem import Problem
from commissioning.evidence import own_procedures
from commissioning.evidence.own_procedures import MOST_CHARACTERS, ProceduresRefused, newest_of
from commissioning.models import OwnProcedures
from portfolio.dashboards.page import Page, SeeOther, text_of
from portfolio.dashboards.words import day
from portfolio.models import Firm, Position


class OwnProceduresPage(Page):
    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        firm = self.visible(Firm.objects, pk, verb="keep_procedures")
        newest = OwnProcedures.objects.newest_of(firm)
        return self._show(firm, newest.text if newest else "")

    def post(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        """`act` is what the pressed button says: look only, or keep. A file takes the place of the text."""
        firm = self.visible(Firm.objects, pk, verb="keep_procedures")
        text = text_of(request.POST, "text", MOST_CHARACTERS + 1)
        try:
            text = _sent(request) or text
            if text_of(request.POST, "act") != "keep":
                return self._show(firm, text, document=own_procedures.read_for(firm, text))
            row = own_procedures.keep(firm=firm, person=self.person, text=text, request=request)
        except ProceduresRefused as refused:
            return self._show(firm, text, problems=refused.problems, status=400)
        messages.info(request, f"Version {row.version} is kept. The firm's units are judged again in the background.")
        return SeeOther(f"/firms/{firm.pk}/procedures")

    def _show(
        self,
        firm: Firm,
        text: str,
        *,
        document: dict[str, Any] | None = None,
        problems: list[Problem] | None = None,
        status: int = 200,
    ) -> HttpResponse:
        rows = OwnProcedures.objects.filter(firm=firm).order_by("-version").select_related("made_by")[:50]
        holds = newest_of(firm)
        steps: list[Row] | None = None if document is None else compared(holds, document)
        context: dict[str, Any] = {
            "here": "projects",
            "firm": firm,
            "text": text,
            "steps": steps,
            "as_before": 0 if document is None else as_in_the_catalogue(document),
            "catalogued": len(LIBRARY.procedures),
            "problems": problems,
            "units": Position.objects.filter(building__site__project__firm=firm).count(),
            "held": compared(holds, holds),
            "versions": [(row.version, day(row.made_at.date()), row.made_by.name) for row in rows],
            "procedures": [(one, may_be_worded(one)) for one in LIBRARY.procedures.values()],
        }
        return self.show("commissioning/own_procedures.html", context, status=status)


def _sent(request: HttpRequest) -> str:
    """The text of an uploaded file; empty where none came."""
    file = request.FILES.get("file")
    if not isinstance(file, UploadedFile) or not file.size:
        return ""
    if file.size > 4 * MOST_CHARACTERS:
        told = f"The file has more than {4 * MOST_CHARACTERS:,} bytes."
        raise ProceduresRefused([Problem("", str(file.name)[:60], told, "Shorten the texts.")])
    try:
        return str(file.read().decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        told = f"This file is no text in UTF-8: byte {error.start}."
        raise ProceduresRefused([Problem("", str(file.name)[:60], told, "Save it as UTF-8.")]) from None
