"""The unit page's signature: who signed, whether it stands, and the form with which the lead signs."""

import uuid
from typing import Any

from django.http import HttpRequest, HttpResponse

from commissioning.signatures.actions import CannotSign, of_unit, sign
from portfolio.access import may
from portfolio.dashboards.page import Page, SeeOther, text_of
from portfolio.dashboards.words import moment
from portfolio.door.problems import Problem
from portfolio.models import Person, Position


def read(unit: Position, person: Person) -> dict[str, Any]:
    zone = unit.building.site.time_zone
    found = of_unit(unit.pk)
    return {
        "rows": [(one, moment(one.at, zone)) for one in found.told],
        "offer": found.signable if may(person, "sign_unit", unit) else None,
    }


class SignPage(Page):
    http_method_names = ["post"]

    def post(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        """`of` is the hash of what the person saw, as the form holds it."""
        unit = self.visible(Position.objects.select_related("building__site"), pk, verb="sign_unit")
        of, note = text_of(request.POST, "of", 64), text_of(request.POST, "note", 500)
        try:
            sign(position=unit, person=self.person, of=of, note=note, request=request)
        except CannotSign as refused:
            raise Problem(409, "not_signed", "It is not signed", str(refused)) from refused
        return SeeOther(f"/units/{unit.pk}#signature")
