"""From the rows of a record to airflows on the design's basis: of each outlet, of branches, rooms and ports."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, cast

from commissioning.dossier import balancing_advice, outlet_design
from commissioning.dossier.air import Density, density_of
from commissioning.dossier.envelope import Envelope
from commissioning.dossier.figures import Figure, Figures, figures_of, measured
from commissioning.dossier.given import Conventions, Instrument, Place
from commissioning.dossier.instrument_error import of_instrument, of_repeats, papers_fit
from commissioning.dossier.outlet_design import OutletDesign
from commissioning.dossier.outlet_readings import AIRFLOW, OutletReading, group_of, readings_of, total
from commissioning.dossier.quantities import si
from commissioning.engineering import units
from commissioning.engineering.airflow import actual_airflow_m3_s, hood_airflow_m3_s, standard_airflow_m3_s
from commissioning.engineering.hoods import hood_factor
from commissioning.engineering.uncertainty import Component
from commissioning.kinds.outlets import uncertainty_terms as terms
from commissioning.kinds.outlets.payload import OutletRow, OutletsPayload

VERSION = 3
SUMS = {"port": "port_sum", "branch": "branch_sum", "room": "room_sum"}


def instruments(payload: OutletsPayload) -> frozenset[str]:
    return frozenset(_tool(payload, row) for row in payload.outlets if row.readings)


def measure(
    envelope: Envelope, place: Place, conventions: Conventions, tools: Mapping[str, Instrument]
) -> list[Figures]:
    payload = cast(OutletsPayload, envelope.payload)
    setting = _Setting(payload, place, conventions, tools)
    found = [setting.outlet(row) for row in payload.outlets]
    named = sorted(instruments(payload))
    record = figures_of(
        envelope,
        place,
        [figure for figure, _ in found if figure is not None],
        method=payload.method,
        tools=[(name, tools.get(name)) for name in named],
        remarks=[*setting.remarks(), *(one for name in named for one in papers_fit(tools.get(name), "airflow"))],
        facts={"basis": payload.basis, "back_pressure": payload.back_pressure, "outlets": [row for _, row in found]},
    )
    readings = readings_of(record)
    sums = list(_sums(readings, conventions.coverage_probability))
    facts = {
        **record.facts,
        "sums": [told for _, told in sums],
        "advice": balancing_advice.advise(readings),
    }
    return [replace(record, figures=(*record.figures, *(figure for figure, _ in sums)), facts=facts)]


def _tool(payload: OutletsPayload, row: OutletRow) -> str:
    named = row.instrument or payload.instrument
    return str(named) if named else ""


@dataclass(frozen=True, slots=True)
class _Factor:
    """By what a hood's readings are multiplied, and how well that is known where it was found on this hood."""

    value: float
    standard_uncertainty: float | None
    source: str


class _Setting:
    """What all rows of a record share."""

    def __init__(
        self, payload: OutletsPayload, place: Place, conventions: Conventions, tools: Mapping[str, Instrument]
    ) -> None:
        self.payload, self.place, self.conventions, self.tools = payload, place, conventions, tools
        self.design = outlet_design.outlets_of(place)
        self.to_si = float(units.to_si(1.0, payload.unit))
        self.factors = {one.device: _factor(one) for one in payload.factors}

    def density(self, port: str) -> Density:
        air = self.payload.airs.get(port, self.payload.air)  # type: ignore[call-overload]
        return density_of(air, self.place.elevation_m, self.conventions.inch_of_water_pa)

    def outlet(self, row: OutletRow) -> tuple[Figure | None, dict[str, Any]]:
        """The outlet's figure, where it was read, and what is told of it."""
        design = self.design.get(row.name)
        port = row.port or (design and design.port) or "supply"
        told = {
            "name": row.name,
            "port": port,
            "branch": _said(row.branch, design.branch if design else None),
            "room": _said(row.room, design.room if design else None),
            "device": _said(row.device, design.device if design else None),
            "basis": outlet_design.basis_of(self.place, port, design, self.conventions),
            "state": row.state,
            "reason": row.reason,
            "setting": row.setting,
            "instrument": _tool(self.payload, row),
            "readings": len(row.readings),
            "design_m3_s": design.airflow_m3_s if design else None,
        }
        return (self._figure(row, told, _doubts(row, design)) if row.readings else None), told

    def _figure(self, row: OutletRow, told: Mapping[str, Any], doubts: tuple[str, ...]) -> Figure:
        values = [self.to_si * value for value in row.readings]
        factor = self._factor(row, told["device"])
        flow = float(hood_airflow_m3_s(readings_m3_s=sum(values) / len(values), factor=factor.value))
        density = self.density(told["port"])
        scale, power = self._carried(told["basis"], density)
        parts = [*self._parts(row, values, flow, factor, told), *_of_air(flow, density, power, self.payload.grade)]
        listed = ", ".join(f"{value:g}" for value in row.readings)
        return measured(
            AIRFLOW,
            flow * scale,
            "m3/s",
            [replace(one, sensitivity=one.sensitivity * scale, group=self._group(one, told)) for one in parts],
            coverage_probability=self.conventions.coverage_probability,
            at=row.name,
            equation="q = F · mean(readings)",
            source=factor.source,
            inputs=(("readings", f"{listed} {self.payload.unit}"), ("factor", f"{factor.value:.6g}")),
            doubts=doubts,
        )

    def _factor(self, row: OutletRow, device: str) -> _Factor:
        if row.factor is not None:
            return _Factor(row.factor, None, "factor of the row")
        return self.factors.get(device) or self.factors.get("") or _Factor(1.0, None, "")

    def _parts(
        self, row: OutletRow, values: Sequence[float], flow: float, factor: _Factor, told: Mapping[str, Any]
    ) -> Iterator[Component]:
        """A factor that was found on this hood stands for its own errors and for those of the method.

        Any factor stands for what the hood's back pressure takes from the outlet.
        """
        payload = self.payload
        slopes = [factor.value / len(values)] * len(values)
        held = of_instrument(self.tools.get(told["instrument"]), values, slopes, "airflow")
        yield of_repeats(values, factor.value)
        if factor.standard_uncertainty is not None:
            yield from (one for one in held if one.name == "resolution")
            yield Component("hood factor", factor.standard_uncertainty * flow, source=factor.source)
            return
        yield from held
        yield Component("method", terms.METHOD[payload.method] * flow, source=f"{payload.method}: {terms.SOURCE}")
        yield Component("device type", terms.DEVICE_TYPE[payload.method] * flow, source=terms.SOURCE)
        under = terms.BACK_PRESSURE[payload.back_pressure]
        if payload.method == "hood" and under and not factor.source:
            yield Component("hood back pressure", under * flow, source=terms.SOURCE)

    def _group(self, part: Component, told: Mapping[str, Any]) -> str | None:
        return group_of(
            part.name,
            method=self.payload.method,
            port=told["port"],
            device=told["device"],
            instrument=told["instrument"],
        )

    def _carried(self, basis: str, density: Density) -> tuple[float, float]:
        """From the readings' basis to the design's: by what, and by which power of the density."""
        state = {
            "density_kg_m3": density.density_kg_m3,
            "standard_density_kg_m3": self.conventions.standard_density_kg_m3,
        }
        if basis == self.payload.basis:
            return 1.0, 0.0
        if basis == "standard":
            return float(standard_airflow_m3_s(actual_airflow_m3_s=1.0, **state)), 1.0
        return float(actual_airflow_m3_s(standard_airflow_m3_s=1.0, **state)), -1.0

    def remarks(self) -> Iterator[str]:
        payload = self.payload
        if payload.method == "hood" and payload.back_pressure != "compensated":
            how = "without" if payload.back_pressure == "not_compensated" else "perhaps without"
            wider = terms.BACK_PRESSURE[payload.back_pressure]
            yield (
                f"Read {how} compensation of the hood's back pressure: a plain hood reads low, most at outlets near a "
                f"branch tee. Where no factor is given the uncertainty is wider by {wider:.0%} (k = 1)."
            )
        low, high = terms.USUAL_FACTORS
        for device, factor in sorted(self.factors.items()):
            if not low <= factor.value <= high:
                yield (
                    f"The factor {factor.value:.3f} for {device or 'any type'} lies outside {low:g} to {high:g}: find "
                    "out why before it is used."
                )
        ports = sorted({row.port or "supply" for row in payload.outlets})
        yield from dict.fromkeys(remark for port in ports if (remark := self.density(port).remark))


def _of_air(flow: float, density: Density, power: float, grade: str) -> Iterator[Component]:
    if power:
        yield Component("density", density.relative_standard_uncertainty * flow, power, source=density.source)
    if grade == "controller":
        yield Component("read off the controller", terms.READ_OFF_CONTROLLER * flow, source=terms.SOURCE)


def _factor(given: Any) -> _Factor:
    wide = given.expanded_uncertainty
    own = None if wide is None else si(wide) / 2.0
    if given.factor is not None:
        return _Factor(float(given.factor), own, f"factor of {given.device or 'any type'}")
    value = float(hood_factor(traverse_m3_s=si(given.traverse), readings_m3_s=si(given.hood_sum)))
    traverse, hoods = (f"{one.value:g} {one.unit}" for one in (given.traverse, given.hood_sum))
    return _Factor(value, own, f"factor of {given.device or 'any type'}: traverse {traverse} over hoods {hoods}")


def _doubts(row: OutletRow, design: OutletDesign | None) -> tuple[str, ...]:
    designed = design.port if design else None
    if row.port is None and designed is None:
        return ("neither the record nor the design names its port",)
    if row.port is not None and designed is not None and row.port != designed:
        return (f"it was read as {row.port} air, and the design has it as {designed} air",)
    return ()


def _said(read: str | None, designed: str | None) -> str:
    return read if read is not None else designed or ""


def _sums(readings: Sequence[OutletReading], coverage: float) -> Iterator[tuple[Figure, dict[str, Any]]]:
    """Of ports, then branches, then rooms at each port; what nobody could read is told and not in the sum."""
    for of, figure in SUMS.items():
        heaps: dict[tuple[str, str], list[OutletReading]] = {}
        for one in readings:
            name = "" if of == "port" else getattr(one, of)
            if name or of == "port":
                heaps.setdefault((one.port, name), []).append(one)
        for (port, name), held in sorted(heaps.items()):
            found = total(held, coverage_probability=coverage)
            doubts = []
            if found.unknown:
                doubts.append(f"nobody could read {', '.join(found.unknown[:5])}")
            if len(found.bases) > 1:
                doubts.append("its outlets are designed on different air bases")
            made = measured(
                figure,
                found.airflow_m3_s,
                "m3/s",
                found.components,
                coverage_probability=coverage,
                at=f"{port} {name}".strip(),
                equation="Σ q; what outlets share of their errors is added before it is squared",
                source="JCGM 100:2008, 5.2.2",
                doubts=tuple(doubts),
            )
            yield (
                made,
                {
                    "of": of,
                    "port": port,
                    "name": name,
                    "at": made.at,
                    "outlets": len(held),
                    "unknown": len(found.unknown),
                    "design_m3_s": found.design_m3_s,
                },
            )
