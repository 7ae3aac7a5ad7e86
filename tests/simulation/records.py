"""Judging documents of simulated visits: real envelopes, each with a design that makes the truth deviate as asked."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tests.simulation.field.air import STANDARD_DENSITY
from tests.simulation.field.visits import Truth, Visit, visit

NAMES = uuid.UUID("00000000-0000-0000-0000-00000000c0f3")
PORTS = ("supply", "return", "exhaust")  # three: with a fourth, a balance of unrelated ports would be judged
DEVIATIONS = (0.0, -0.05, -0.08, -0.10, -0.12, -0.20)
ELEVATIONS_M = (0.0, 300.0, 1600.0)
SEEN = {
    "outdoor_damper": "open",
    "exhaust_damper": "open",
    "bypass": "closed",
    "wheel": "running",
    "filters": "clean",
    "served_air_handler": "none",
    "others_on_riser": "none",
    "doors": "closed",
    "mode": "design_maximum",
}


@dataclass(frozen=True)
class Trial:
    """One port visited once, with the design against which it is judged."""

    name: str
    truth: Truth
    deviation: float
    basis: str

    @property
    def true_m3_s(self) -> float:
        """On the design's basis."""
        if self.basis == "actual":
            return self.truth.airflow_m3_s
        return self.truth.airflow_m3_s * self.truth.density_kg_m3 / STANDARD_DENSITY

    @property
    def design_m3_s(self) -> float:
        return self.true_m3_s / (1.0 + self.deviation)


@dataclass(frozen=True)
class Unit:
    """Trials that share a position, and nothing but its elevation."""

    name: str
    elevation_m: float
    trials: dict[str, Trial]


def named(name: str) -> str:
    return str(uuid.uuid5(NAMES, name))


def units(key: str, given: Visit, trials: int, seed: int) -> list[Unit]:
    """`trials` visits, three to a position; deviation and basis take turns."""
    dice = np.random.default_rng([seed, *key.encode()])
    made = []
    for number in range(-(-trials // len(PORTS))):
        elevation = ELEVATIONS_M[number % len(ELEVATIONS_M)]
        held = {}
        for place, port in enumerate(PORTS):
            turn = len(PORTS) * number + place
            basis = ("standard", "actual")[turn // len(DEVIATIONS) % 2]
            truth = visit(dice, given, elevation)
            held[port] = Trial(f"{key}/{turn}", truth, DEVIATIONS[turn % len(DEVIATIONS)], basis)
        made.append(Unit(f"{key}/unit {number}", elevation, held))
    return made


def conventions(rule: str) -> dict[str, Any]:
    return {
        "version": 1,
        "decision_rule": rule,
        "guard_multiplier": 1.0,
        "coverage_probability": 0.95,
        "standard_density": {"value": STANDARD_DENSITY, "unit": "kg/m3"},
        "inch_of_water": "4degC",
        "basis_when_not_stated": "standard",
        "default_tolerance": {"low": -0.1, "high": 0.1, "clause": "simulated", "rounding": "none"},
        "mass_balance_allowance": 0.1,
        "display": "si",
    }


def document(given: Sequence[Unit], rule: str) -> dict[str, Any]:
    papers = {}
    for unit in given:
        for trial in unit.trials.values():
            if trial.truth.tool is not None:
                papers[trial.name] = trial.truth.tool.papers(named(f"tool {trial.name}"))
    return {
        "schema": "ventfolio/judge/1",
        "conventions": conventions(rule),
        "instruments": list(papers.values()),
        "positions": [position(unit) for unit in given],
        "envelopes": [envelope(unit) for unit in given],
    }


def position(unit: Unit) -> dict[str, Any]:
    ports = {
        port: {"airflow": {"value": trial.design_m3_s, "unit": "m3/s"}, "basis": trial.basis}
        for port, trial in unit.trials.items()
    }
    return {
        "id": named(unit.name),
        "tag": unit.name,
        "kind": "erv",
        "scope": "in_scope",
        "elevation": {"value": unit.elevation_m, "unit": "m"},
        "time_zone": "America/Denver",
        "design": {"ports": ports},
    }


def envelope(unit: Unit, *, purpose: str = "as_left", at: str = "2026-05-04T10:15:00-06:00") -> dict[str, Any]:
    grades = {trial.truth.grade for trial in unit.trials.values()}
    assert len(grades) == 1
    return {
        "schema": "ventfolio/envelope/1",
        "id": named(f"{unit.name} {purpose}"),
        "kind": "airflow",
        "position": named(unit.name),
        "observed_at": at,
        "observed_by": named("somebody"),
        "payload": {
            "stage": "final",
            "session": {"id": purpose, "purpose": purpose},
            "grade": grades.pop(),
            "state": SEEN,
            "ports": [_port(port, trial) for port, trial in unit.trials.items()],
        },
    }


def _port(port: str, trial: Trial) -> dict[str, Any]:
    truth = trial.truth
    return {
        "port": port,
        "instrument": named(f"tool {trial.name}") if truth.tool is not None else None,
        "method": truth.method,
        **({"air": truth.air} if truth.air is not None else {}),
    }
