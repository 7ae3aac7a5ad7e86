"""Port entries by methods that rest on other readings: a rated part, a fan's curve, a part of the supply air."""

from __future__ import annotations

from typing import Any

from tests.judging.builder import cfm, instrument, named

DRY_AIR_GAS_CONSTANT = 287.042  # J/(kg K), ASHRAE Fundamentals 2017, chapter 1
CLEAN = {"surface": "clean", "moisture": "dry", "bypass": "none", "frost": "none"}
GAUGE = instrument(
    "gauge",
    serial="G-1",
    accuracy={"relative": 0.02, "absolute": None, "shape": "rectangular"},
    resolution={"value": 0.1, "unit": "Pa"},
)
TACHOMETER = instrument(
    "tachometer", accuracy={"relative": 0.002, "absolute": None, "shape": "rectangular"}, resolution=None
)


def air_of_density(density_kg_m3: float, dry_bulb_c: float = 20.0) -> dict[str, Any]:
    """Dry air: p = ρ R T."""
    pressure = density_kg_m3 * DRY_AIR_GAS_CONSTANT * (dry_bulb_c + 273.15)
    return {
        "dry_bulb": {"value": dry_bulb_c, "unit": "degC"},
        "humidity_ratio": {"value": 0.0, "unit": "kg/kg"},
        "pressure": {"value": pressure, "unit": "Pa"},
    }


def m3s(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "m3/s"}


def pa(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "Pa"}


def points(*pairs: tuple[float, float]) -> list[dict[str, Any]]:
    return [{"airflow": m3s(flow), "pressure": pa(pressure)} for flow, pressure in pairs]


def pressure_drop(*readings_pa: float, condition: dict[str, str] | None = None, **changes: Any) -> dict[str, Any]:
    return {
        "method": "pressure_drop",
        "part": "core",
        "rated": points((0.5, 50.0), (1.0, 150.0)),
        "readings": {"values": list(readings_pa), "unit": "Pa"},
        "condition": {**CLEAN, **(condition or {})},
        **changes,
    }


FAN_POINTS = ((0.0, 480.0), (1.0, 500.0), (2.0, 400.0), (3.0, 100.0))


def on_fan_curve(pressure_pa: float, speed_rpm: float = 800.0, **changes: Any) -> dict[str, Any]:
    return {
        "method": "fan_curve",
        "pressures": "static",
        "points": points(*FAN_POINTS),
        "curve_speed": {"value": 1000.0, "unit": "rpm"},
        "curve_density": {"value": 1.2, "unit": "kg/m3"},
        "speed": {"values": [speed_rpm], "unit": "rpm"},
        "readings": {"values": [pressure_pa] * 4, "unit": "Pa"},
        **changes,
    }


def thermometer(name: str, standard_uncertainty: float, unit: str) -> dict[str, Any]:
    """With a certificate of k = 2."""
    accuracy = {
        "relative": 0.0, "absolute": {"value": 2.0 * standard_uncertainty, "unit": unit}, "shape": "normal_k2",
    }  # fmt: skip
    return instrument(name, accuracy=accuracy, resolution=None)


def fraction(
    outdoor: float,
    returned: float,
    mixed: float | list[float],
    *,
    by: str = "temperature",
    unit: str = "degC",
    tools: tuple[str, str, str] = ("meter", "meter", "meter"),
    supply: dict[str, Any] | None = None,
) -> dict[str, Any]:
    """`tools` read outdoor, return and mixed air."""
    what = "co2" if by == "co2" else "temperature"
    read = {"outdoor": [outdoor], "returned": [returned], "mixed": mixed if isinstance(mixed, list) else [mixed]}
    streams = {
        name: {what: {"values": values, "unit": unit}, "instrument": named(tool)}
        for (name, values), tool in zip(read.items(), tools, strict=True)
    }
    return {
        "method": "outdoor_fraction",
        "by": by,
        **streams,
        "supply": supply
        or {
            "readings": {"values": [8000.0], "unit": "cfm"},
            "basis": "standard",
            "expanded_uncertainty": cfm(320.0),
        },
    }
