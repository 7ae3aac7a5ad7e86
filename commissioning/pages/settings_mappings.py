"""A firm's mappings of controllers: those that are kept, one as a table, and a new version handed in."""

import uuid
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse

from commissioning.dossier.problem import Problem
from commissioning.dossier.settings import printed
from commissioning.dossier.settings.mapping import AS_EXPORTED, MOST_BYTES, Line, MappingRefused
from commissioning.engineering import units
from commissioning.evidence import mappings
from commissioning.models import MappingVersion
from portfolio.access import may
from portfolio.dashboards.page import Page, SeeOther
from portfolio.dashboards.words import day
from portfolio.models import Firm


class MappingsPage(Page):
    """The mappings of one firm; its lead hands a version in."""

    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        return self._show(self.visible(Firm.objects, pk))

    def post(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        firm = self.visible(Firm.objects, pk, verb="keep_mappings")
        pasted = request.POST.get("pasted", "").replace("\r\n", "\n").replace("\0", "")
        file = request.FILES.get("file")
        if file is not None and file.size and file.size > MOST_BYTES:
            told = Problem("", str(file.size), f"More than {MOST_BYTES} bytes.", "Part it by family.")
            return self._show(firm, pasted, [told], status=413)
        raw = file.read() if file is not None and file.size else pasted.encode()
        if not raw.strip():
            told = Problem("", "", "There is no mapping.", "Choose a file, or paste its text.")
            return self._show(firm, pasted, [told], status=400)
        try:
            row, is_new = mappings.keep_mapping(firm=firm, person=self.person, raw=raw, request=request)
        except MappingRefused as no:
            return self._show(firm, raw.decode("utf-8", "replace").replace("\0", ""), no.problems, status=400)
        messages.info(request, f"{row} is kept." if is_new else f"{row} was kept before: the same text.")
        return SeeOther(f"/mappings/{row.pk}")

    def _show(
        self, firm: Firm, pasted: str = "", problems: list[Problem] | None = None, *, status: int = 200
    ) -> HttpResponse:
        rows = self.seen(MappingVersion.objects).filter(firm=firm).defer("raw").order_by("family_key", "-version")
        context = {
            "here": "projects",
            "firm": firm,
            "may_keep": bool(may(self.person, "keep_mappings", firm)),
            "rows": [(row, day(row.made_at.date())) for row in rows[:500]],
            "pasted": pasted,
            "problems": problems or [],
        }
        return self.show("commissioning/settings_mappings.html", context, status=status)


class MappingPage(Page):
    """One version as it is understood, and as it was sent."""

    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        row = self.visible(MappingVersion.objects.select_related("firm"), pk)
        context: dict[str, Any] = {"here": "projects", "row": row, "when": day(row.made_at.date())}
        try:
            held = mappings.mapping_of(row)
        except MappingRefused as no:
            context["problems"] = no.problems
        else:
            context |= {"note": held.note, "ignored": held.ignored, "lines": [_line(one) for one in held.lines]}
        text = bytes(row.raw).decode("utf-8", "replace")
        return self.show("commissioning/settings_mapping.html", context | {"text": text})


def _line(line: Line) -> dict[str, str]:
    how = ""
    if line.words:
        how = "; ".join(f"{word}: {_meaning(meaning)}" for word, meaning in line.words.items())
    elif line.unit == AS_EXPORTED:
        how = "unit as exported"
    elif line.unit:
        how = units.unit(line.unit).label
    if line.scale != 1.0:
        how = f"× {line.scale:g} {how}".strip()
    if line.offset:
        how = f"{how} {'+' if line.offset > 0 else chr(0x2212)} {abs(line.offset):g}".strip()
    return {"source": line.source, "title": line.setting.title, "how": how}


def _meaning(meaning: str | bool) -> str:
    """
    >>> _meaning(True), _meaning("bacnet_ip")
    ('yes', 'BACnet IP')
    """
    return ("yes" if meaning else "no") if isinstance(meaning, bool) else printed.words(meaning)
