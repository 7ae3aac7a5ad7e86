"""The exchanger form: the air on the four sides while it stands still, then fans, flows, wheel, seals, tracer gas."""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.dossier.exchanger_words import CAUTION
from commissioning.pages.exchanger_asked import (
    COILS,
    FROST,
    FURTHER,
    GASES,
    HUMIDITIES,
    MOISTS,
    POSITIONS,
    READS,
    ROLES,
    SEALS,
    STREAMS,
    TURNS,
    WHEEL,
    sections,
)
from commissioning.pages.field_page import RecordPage, design_of, measured_before
from commissioning.pages.field_sheet import NotReadable, Sheet
from portfolio.models import Position

_HUMIDITY_UNITS = {"relative_humidity": "%", "humidity_ratio": "g/kg"}


class ExchangerPage(RecordPage):
    kind = "exchanger"
    template = "commissioning/field_exchanger.html"

    def readings(self, sheet: Sheet) -> dict[str, Any]:
        held: dict[str, Any] = {
            "stations": list(_stations(sheet)),
            "flows": list(_flows(sheet)),
            **_wheel(sheet),
            **_seals(sheet),
            **_gas(sheet),
            **_cost(sheet),
        }
        if not (held["stations"] or set(held) - {"stations", "flows", "added_power"}):
            told = "Fill in a temperature, the wheel, the seals or the gas."
            raise NotReadable("outdoor-t-1", "", "Nothing was read of the exchanger.", told)
        held |= {"fans": list(_fans(sheet)), "exchanger": sheet.text("exchanger") or "core"}
        held |= {"frost": _one_of(sheet, "frost", FROST), "coil_between": _one_of(sheet, "coil_between", COILS)}
        duration = sheet.quantity("minutes", "min")
        barometer = sheet.quantity("barometer", FURTHER["barometer"][sheet.display])
        held |= {"duration": duration} if duration else {}
        return held | ({"pressure": barometer} if barometer else {})

    def asked(self, unit: Position, display: str, typed: Mapping[str, str]) -> dict[str, Any]:
        design = design_of(unit)
        before = measured_before(unit, self.kind)
        return {
            "care": CAUTION,
            "sections": list(sections(design, before[-1] if before else None, display, typed)),
        }


def _one_of(sheet: Sheet, name: str, words: Mapping[str, str]) -> str:
    held = sheet.text(name)
    return held if held in words else "not_seen"


def _stations(sheet: Sheet) -> Iterator[dict[str, Any]]:
    by = sheet.text("humidity_by") or "relative_humidity"
    if by not in HUMIDITIES:
        raise NotReadable("humidity_by", by, "This humidity is not known here.", "Choose one of the list.")
    for role in ROLES:
        dry = sheet.numbers(*(f"{role}-t-{number}" for number in range(1, READS + 1)))
        moist = sheet.numbers(*(f"{role}-h-{number}" for number in range(1, MOISTS + 1)))
        if not dry and moist:
            name = f"{role}-t-1"
            raise NotReadable(name, "", "The dry bulb is missing beside the humidity.", "Read both at the same place.")
        if not dry:
            continue
        own = sheet.text(f"{role}-thermometer")
        station: dict[str, Any] = {
            "station": role,
            "instrument": own or sheet.instrument("thermometer"),
            "dry_bulb": {"values": dry, "unit": sheet.unit("temperature")},
        }
        if moist:
            station[by] = {"values": moist, "unit": _HUMIDITY_UNITS.get(by) or sheet.unit("temperature")}
            if not own and sheet.text("hygrometer"):
                station["humidity_instrument"] = sheet.text("hygrometer")
        yield station


def _fans(sheet: Sheet) -> Iterator[dict[str, Any]]:
    for stream in STREAMS:
        name = f"fan-{stream}"
        fan: dict[str, Any] = {"stream": stream, "position": _one_of(sheet, name, POSITIONS)}
        pressure = sheet.quantity(f"{name}-pressure", sheet.unit("pressure"))
        efficiency = sheet.number(f"{name}-efficiency")
        power = sheet.quantity(f"{name}-power", "W")
        if (pressure is None) != (efficiency is None):
            missing = f"{name}-efficiency" if efficiency is None else f"{name}-pressure"
            reason = "A fan's pressure rise and its efficiency tell its heat only together."
            raise NotReadable(missing, "", reason, "Fill in both, or the power instead.")
        if pressure is not None and efficiency is not None:
            fan |= {"pressure_rise": pressure, "efficiency": efficiency / 100.0}
        if power is not None:
            share = sheet.number(f"{name}-share")
            fan |= {"power": power} | ({"share_in_stream": share / 100.0} if share is not None else {})
        yield fan


def _flows(sheet: Sheet) -> Iterator[dict[str, Any]]:
    unit = sheet.unit("airflow")
    for port in ROLES:
        airflow = sheet.quantity(f"flow-{port}", unit)
        if airflow is None:
            continue
        flow: dict[str, Any] = {"port": port, "airflow": airflow}
        flow["basis"] = "actual" if sheet.text("flow_basis") == "actual" else "standard"
        wide = sheet.quantity(f"flow-{port}-wide", unit)
        if wide is not None:
            flow["expanded_uncertainty"] = wide
        elif sheet.text("flow_meter"):
            flow["instrument"] = sheet.text("flow_meter")
        yield flow


def _wheel(sheet: Sheet) -> dict[str, Any]:
    turns = sheet.numbers(*(f"wheel-{number}" for number in range(1, TURNS + 1)))
    if not turns:
        return {}
    wheel: dict[str, Any] = {"speed": {"values": turns, "unit": "rpm"}}
    wheel["control"] = _one_of(sheet, "wheel_control", WHEEL)
    return {"wheel": wheel | ({"instrument": sheet.text("counter")} if sheet.text("counter") else {})}


def _seals(sheet: Sheet) -> dict[str, Any]:
    unit = sheet.unit("pressure")
    read = {name: value for name in SEALS if (value := sheet.number(f"seal-{name}")) is not None}
    if not read:
        return {}
    series = {name: {"values": [value], "unit": unit} for name, value in read.items()}
    return {"seal_pressures": {"instrument": sheet.instrument("gauge"), **series}}


def _gas(sheet: Sheet) -> dict[str, Any]:
    names = ("outdoor", "supply", "return", "exhaust", "background")
    read = {name: value for name in names if (value := sheet.number(f"gas-{name}")) is not None}
    if not read:
        return {}
    for name in ("outdoor", "supply", "return"):
        if name not in read:
            raise NotReadable(f"gas-{name}", "", f"The gas in the {name} air is missing.", "Read it at all three.")
    if sheet.text("gas_kind") not in GASES:
        reason = "It is not said whether this is a tracer gas or what the rooms give off."
        raise NotReadable("gas_kind", sheet.text("gas_kind"), reason, "Choose one.")
    series = {name: {"values": [value], "unit": "ppm"} for name, value in read.items()}
    told = {"gas": sheet.text("gas") or GASES[sheet.text("gas_kind")], "kind": sheet.text("gas_kind")}
    return {"concentrations": {**told, "instrument": sheet.instrument("analyser"), **series}}


def _cost(sheet: Sheet) -> dict[str, Any]:
    unit = sheet.unit("pressure")
    drops = {stream: sheet.quantity(f"drop-{stream}", unit) for stream in STREAMS}
    efficiencies = {stream: sheet.number(f"drop-{stream}-efficiency") for stream in STREAMS}
    drive = sheet.quantity("drive", "W")
    if not any(one is not None for one in (*drops.values(), *efficiencies.values(), drive)):
        return {}
    missing = next((stream for stream in STREAMS if drops[stream] is None), None)
    if missing is not None:
        reason = f"The pressure drop of the {missing} stream is missing."
        raise NotReadable(f"drop-{missing}", "", reason, "Read both, or leave out what it costs.")
    cost: dict[str, Any] = {f"{stream}_drop": drops[stream] for stream in STREAMS}
    cost |= {f"{stream}_efficiency": one / 100.0 for stream, one in efficiencies.items() if one is not None}
    cost |= {"drive": drive} if drive is not None else {}
    return {"added_power": cost | ({"instrument": sheet.text("drop_gauge")} if sheet.text("drop_gauge") else {})}
