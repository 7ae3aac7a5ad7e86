"""What a technician sends about outlets: one row for each, one unit for all, one hood unless a row names another."""

from typing import Annotated, Literal

from pydantic import Field, StringConstraints, model_validator

from commissioning.dossier import quantities as q
from commissioning.dossier.envelope import Id
from commissioning.dossier.field_record import Air, FieldRecord

Port = Literal["supply", "return", "outdoor", "exhaust"]
Name = Annotated[str, StringConstraints(min_length=1, max_length=60)]
Short = Annotated[str, StringConstraints(max_length=60)]
Reason = Annotated[str, StringConstraints(max_length=200)]
Factor = Annotated[q.Number, Field(ge=0.3, le=3.0)]


class HoodFactor(q.Closed):
    """By what a hood's readings at a type of device are multiplied; "" is any type that is not named.

    Either the factor, or the traverse and the sum of the hood's readings on the same branch from which it follows.
    With its expanded uncertainty (k = 2) it stands for the errors of the hood and of the method.
    """

    device: Short
    factor: Factor | None = None
    traverse: q.Airflow | None = None
    hood_sum: q.Airflow | None = None
    expanded_uncertainty: q.Share | None = None

    @model_validator(mode="after")
    def _one_way(self) -> "HoodFactor":
        derived = (self.traverse is not None) + (self.hood_sum is not None)
        if derived == 1 or (self.factor is None) == (derived == 0):
            raise ValueError("give either a factor, or a traverse with the sum of the hood's readings")
        if self.hood_sum is not None and q.si(self.hood_sum) <= 0.0:
            raise ValueError("the sum of the hood's readings must lie above 0")
        return self


class OutletRow(q.Closed):
    """One outlet. What is left out is what the design says; one that was not read says why."""

    name: Name
    port: Port | None = None
    branch: Short | None = None
    room: Short | None = None
    device: Short | None = None
    readings: Annotated[list[q.Number], Field(max_length=12)] = []
    factor: Factor | None = None
    instrument: Id | None = None
    setting: Reason = ""  # of its damper
    state: Literal["read", "closed", "blocked", "no_access"] = "read"
    reason: Reason = ""

    @model_validator(mode="after")
    def _read_or_why_not(self) -> "OutletRow":
        if self.state == "read" and not self.readings:
            raise ValueError("an outlet without a reading says why: closed, blocked or no access")
        if self.state != "read" and (self.readings or len(self.reason.strip()) < 3):
            raise ValueError("an outlet that was not read has a reason and no readings")
        return self


class OutletsPayload(FieldRecord):
    """Up to 500 outlets of a unit, at all its ports."""

    unit: str
    basis: Literal["actual", "standard"]
    method: Literal["hood", "direct"] = "hood"
    back_pressure: Literal["compensated", "not_compensated", "not_known"] = "not_known"
    instrument: Id | None = None
    factors: Annotated[list[HoodFactor], Field(max_length=40)] = []
    airs: dict[Port, Air] = {}  # at one port, wins over the common one
    outlets: Annotated[list[OutletRow], Field(min_length=1, max_length=500)]

    @model_validator(mode="after")
    def _fits_together(self) -> "OutletsPayload":
        for row in self.outlets:
            try:
                q.check("airflow", 0.0, 500.0, row.readings, self.unit)
            except ValueError as error:
                raise ValueError(f"outlet {row.name}: {error}") from None
            if row.readings and row.instrument is None and self.instrument is None:
                raise ValueError(f"name the instrument that read {row.name}")
        _once("outlet", [row.name for row in self.outlets])
        _once("factor of device", [one.device for one in self.factors])
        return self


def _once(what: str, names: list[str]) -> None:
    seen: set[str] = set()
    for name in names:
        if name in seen:
            raise ValueError(f"the {what} {name or 'of any type'} stands twice")
        seen.add(name)
