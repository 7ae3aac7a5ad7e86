"""Instruments and their calibrations. A certificate can re-open what was judged with the instrument."""

from uuid import UUID

from django.db import transaction
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from portfolio.api.agreements import InstrumentIn, InstrumentOut, plain
from portfolio.api.forms import CalibrationIn, CalibrationOut, listing
from portfolio.api.writes import add, read
from portfolio.door.paging import page_of
from portfolio.door.views import DoorView
from portfolio.jobs import queue
from portfolio.models import Calibration, Firm, Instrument, Project


class InstrumentsView(DoorView):
    verbs = {"GET": "see"}

    @extend_schema(responses=listing(InstrumentOut))
    def get(self, request: Request) -> Response:
        """Instruments of the firms whose projects one sees."""
        rows = self.seen(Instrument.objects)
        page = page_of(request, rows, order=("name", "id"), show=lambda row: InstrumentOut(row).data)
        return Response(page)


class FirmInstrumentsView(DoorView):
    verbs = {"POST": "manage_instruments"}

    @extend_schema(request=InstrumentIn, responses={201: InstrumentOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Add an instrument of the firm, with what its maker promises."""
        instrument = Instrument(firm=self.visible(Firm.objects, pk), **plain(read(InstrumentIn, request)))
        return Response(InstrumentOut(add(self, instrument, once=("firm", "serial"))).data, status=201)


class InstrumentView(DoorView):
    verbs = {"GET": "see"}

    @extend_schema(responses=InstrumentOut)
    def get(self, request: Request, pk: UUID) -> Response:
        """One instrument."""
        return Response(InstrumentOut(self.visible(Instrument.objects, pk)).data)


class CalibrationsView(DoorView):
    verbs = {"GET": "see", "POST": "manage_instruments"}

    @extend_schema(responses=listing(CalibrationOut))
    def get(self, request: Request, pk: UUID) -> Response:
        """An instrument's calibrations, the newest first."""
        rows = Calibration.objects.filter(instrument=self.visible(Instrument.objects, pk))
        page = page_of(request, rows, order=("-on", "id"), show=lambda row: CalibrationOut(row).data)
        return Response(page)

    @extend_schema(request=CalibrationIn, responses={201: CalibrationOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Add a certificate. The firm's projects are judged again: it may confirm or re-open what stands."""
        instrument = self.visible(Instrument.objects, pk)
        calibration = Calibration(instrument=instrument, **read(CalibrationIn, request))
        with transaction.atomic():
            add(self, calibration, once=("instrument", "certificate"))
            queue.want("rejudge", Project.objects.filter(firm=instrument.firm_id).values_list("pk", flat=True))
        return Response(CalibrationOut(calibration).data, status=201)
