"""A firm's own checks: what its lead adds, words otherwise or drops; looked at first, then kept as a version."""

import uuid
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse

from commissioning.catalogue.checks import CATALOGUE
from commissioning.dossier.own_checks import differing, merged
from commissioning.dossier.problem import Problem
from commissioning.evidence import own_checks
from commissioning.evidence.own_checks import MOST_CHARACTERS, ChecksRefused
from commissioning.models import OwnChecks
from portfolio.dashboards.page import Page, SeeOther, text_of
from portfolio.dashboards.words import day
from portfolio.models import Firm, Position

WORDS = {"kind": "kind of unit", "option": "option", "sensor": "field sensor", "group": "group of checks"}


class OwnChecksPage(Page):
    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        firm = self.visible(Firm.objects, pk, verb="keep_checks")
        newest = OwnChecks.objects.newest_of(firm)
        return self._show(firm, newest.text if newest else "")

    def post(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        """`act` is what the pressed button says: look only, or keep."""
        firm = self.visible(Firm.objects, pk, verb="keep_checks")
        text = text_of(request.POST, "text", MOST_CHARACTERS + 1)
        try:
            if len(text) > MOST_CHARACTERS:
                told = f"This has more than {MOST_CHARACTERS:,} characters."
                raise ChecksRefused([Problem("", "", told, "Shorten the texts.")])
            if text_of(request.POST, "act") != "keep":
                document = own_checks.read_for(firm, text)
                return self._show(firm, text, steps=_steps(document), named=_named(firm, document))
            row = own_checks.keep(firm=firm, person=self.person, text=text, request=request)
        except ChecksRefused as refused:
            return self._show(firm, text, problems=refused.problems, status=400)
        messages.info(request, f"Version {row.version} is kept. The firm's units are judged again in the background.")
        return SeeOther(f"/firms/{firm.pk}/checks")

    def _show(
        self,
        firm: Firm,
        text: str,
        *,
        steps: list[tuple[str, str, str]] | None = None,
        named: list[tuple[str, str, str]] | None = None,
        problems: list[Problem] | None = None,
        status: int = 200,
    ) -> HttpResponse:
        rows = OwnChecks.objects.filter(firm=firm).order_by("-version").select_related("made_by")[:50]
        context: dict[str, Any] = {
            "here": "projects",
            "firm": firm,
            "text": text,
            "steps": steps,
            "named": named,
            "problems": problems,
            "units": Position.objects.filter(building__site__project__firm=firm).count(),
            "versions": [(row.version, day(row.made_at.date()), row.made_by.name) for row in rows],
            "groups": [
                (group, [one for one in CATALOGUE.items.values() if one.group == group.code])
                for group in CATALOGUE.groups
            ],
        }
        return self.show("commissioning/own_checks.html", context, status=status)


def _named(firm: Firm, document: dict[str, Any]) -> list[tuple[str, str, str]]:
    """What the version names of its own beside checks, each as the code, what becomes of it, and its title."""
    newest = OwnChecks.objects.newest_of(firm)
    held = newest.document if newest else {}
    found = []
    for name, words in WORDS.items():
        before, after = ({one["code"]: one for one in held_by.get(name, ())} for held_by in (held, document))
        for code, one in {**before, **after}.items():
            becomes = (
                "added" if code not in before
                else "dropped" if code not in after
                else "unchanged" if before[code] == after[code]
                else "changed"
            )  # fmt: skip
            found.append((code, f"{words}, {becomes}", one["title"]))
    return found


def _steps(document: dict[str, Any]) -> list[tuple[str, str, str]]:
    """What the version has, each as the item, what is done with it, and its words."""
    held = merged({**document, "version": 1})
    found = [
        (id, "asked as well" if id not in CATALOGUE.items else "changed", one["text"])
        for id, one in differing(held.items).items()
        if not held.items[id].retired
    ]
    return found + [(id, "not asked any more", CATALOGUE.items[id].text) for id in document.get("drop", ())]
