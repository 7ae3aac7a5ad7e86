"""What an airflow judging calculates, as bare arrays: no units, no text, no document, no working.

The last axes are ports and points; the first, if there is one, is the positions.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import ndtr

Array = np.ndarray[Any, np.dtype[np.float64]]
PORTS = ("supply", "return", "outdoor", "exhaust")
AREA_M2 = 0.24
M3_S_PER_CFM = 4.719474432e-4
METER_RELATIVE, METER_PA, STEP_PA = 0.03, 0.5, 0.1
METHOD, DUCT_AREA, DENSITY = 0.02, 0.01, 0.005
COVERAGE, TOLERANCE, STANDARD_KG_M3 = 1.96, 0.1, 1.2


@dataclass(frozen=True)
class Numbers:
    pressures_pa: Array
    dry_bulb_c: Array
    relative_humidity: Array
    station_pa: Array
    design_m3_s: Array
    minimum_m3_s: Array

    def of(self, position: int) -> "Numbers":
        return Numbers(*(getattr(self, name)[position] for name in self.__dataclass_fields__))


def numbers_of(documents: Sequence[dict[str, Any]]) -> Numbers:
    pressures, designs, minima = [], [], []
    for document in documents:
        (text,) = document["envelopes"]
        ports = {one["port"]: one for one in json.loads(text)["payload"]["ports"]}
        design = document["positions"][0]["design"]["ports"]
        pressures.append([ports[port]["method"]["readings"]["values"] for port in PORTS])
        designs.append([design[port]["airflow"]["value"] * M3_S_PER_CFM for port in PORTS])
        minima.append([(design[port].get("minimum") or {"value": 0})["value"] * M3_S_PER_CFM for port in PORTS])
    elevation = documents[0]["positions"][0]["elevation"]["value"]
    station = 101_325.0 * (1 - 2.25577e-5 * elevation) ** 5.25588
    count = len(documents)
    return Numbers(
        np.array(pressures),
        np.full((count, 1), (70 - 32) / 1.8),
        np.full((count, 1), 0.4),
        np.full((count, 1), station),
        np.array(designs),
        np.array(minima),
    )


def density_kg_m3(given: Numbers) -> Array:
    kelvin = given.dry_bulb_c + 273.15
    saturation = 611.2 * np.exp(17.62 * given.dry_bulb_c / (243.12 + given.dry_bulb_c))
    vapour = given.relative_humidity * saturation
    return np.asarray((given.station_pa - vapour) / (287.042 * kelvin) + vapour / (461.5 * kelvin))


def judge(given: Numbers) -> dict[str, Array]:
    """Flow, its uncertainty, deviation, verdict and chance of each port; the balance of each position."""
    density = density_kg_m3(given)
    points = given.pressures_pa.shape[-1]
    speeds = np.sqrt(2 * np.maximum(given.pressures_pa, 0.0) / density[..., None])
    actual = AREA_M2 * speeds.mean(axis=-1)
    slopes = speeds / (2 * np.maximum(given.pressures_pa, 1e-9)) * AREA_M2 / points
    widths = (METER_RELATIVE * np.abs(given.pressures_pa) + METER_PA) / np.sqrt(3)
    instrument = (np.abs(slopes) * widths).sum(axis=-1)
    resolution = np.sqrt((slopes**2).sum(axis=-1)) * STEP_PA / np.sqrt(12)
    scale = density / STANDARD_KG_M3
    flow = actual * scale
    relative = np.sqrt(METHOD**2 + DUCT_AREA**2 + (0.5 * DENSITY) ** 2)
    standard = np.sqrt((instrument**2 + resolution**2) * scale**2 + (relative * flow) ** 2)
    wide = COVERAGE * standard
    deviation = flow / given.design_m3_s - 1
    share = standard / given.design_m3_s
    chance = ndtr((TOLERANCE - deviation) / share) - ndtr((-TOLERANCE - deviation) / share)
    enough = flow >= given.minimum_m3_s
    incoming, outgoing = flow[..., 0] + flow[..., 3], flow[..., 1] + flow[..., 2]
    return {
        "flow": flow,
        "wide": wide,
        "deviation": deviation,
        "conforms": np.abs(deviation) <= TOLERANCE,
        "chance": chance,
        "margin": TOLERANCE - np.abs(deviation),
        "enough": enough,
        "balance": (incoming - outgoing) / np.maximum(incoming, outgoing),
    }


def compare(judged: dict[str, Any], given: Numbers) -> None:
    """The two sides speak of the same numbers: their flows agree to two thousandths."""
    flows = dict(zip(PORTS, judge(given)["flow"], strict=True))
    for one in judged["measurements"]:
        assert abs(one["airflow_m3_s"] / flows[one["port"]] - 1) < 2e-3, (one["airflow_m3_s"], flows[one["port"]])
