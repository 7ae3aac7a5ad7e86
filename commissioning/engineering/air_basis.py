"""The air basis of a scheduled or measured airflow: the density at which its volume is stated, and another's instead.

*Standard* is no number: a schedule's 0.075 lb/ft3, a project's 1.2 kg/m3 and dry air of 20 degC lie up to 0.3 % apart.
Actual and standard differ only in whose density it is, so one formula converts them all.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from commissioning.engineering.guards import within
from commissioning.engineering.traverse import DENSITY_RANGE_KG_M3

Basis = Literal["actual", "standard"]


@dataclass(frozen=True, slots=True)
class StatedAirflow:
    """A volume flow with what it is the volume of.

    Attributes:
        airflow_m3_s: volume flow, 0 to 2000 [m3/s].
        basis: 'actual', of the air as it is there, or 'standard', of air of an agreed density.
        density_kg_m3: of the air there, or the agreed one, 0.3 to 3 [kg/m3].
    """

    airflow_m3_s: float
    basis: Basis
    density_kg_m3: float

    def __post_init__(self) -> None:
        within("airflow", self.airflow_m3_s, 0.0, 2000.0, "m3/s")
        within("density", self.density_kg_m3, *DENSITY_RANGE_KG_M3, "kg/m3")
        if self.basis not in ("actual", "standard"):
            raise ValueError(f"an airflow is actual or standard, not {self.basis!r}")

    @property
    def mass_flow_kg_s(self) -> float:
        """Mass flow, the same on every basis [kg/s]."""
        return self.airflow_m3_s * self.density_kg_m3


def restated_airflow(*, stated: StatedAirflow, basis: Basis, density_kg_m3: float) -> StatedAirflow:
    """Return the same mass flow as a volume on another basis, or on the same with another agreed density.

        q_2 = q_1 rho_1 / rho_2

    Args:
        stated: the airflow as the schedule or the instrument states it.
        basis: 'actual' or 'standard'.
        density_kg_m3: rho_2 of the air there, or the agreed one [kg/m3], 0.3 to 3.

    Raises:
        OutOfRange: a density or the airflow lies outside.
        ValueError: another basis.

    Source: conservation of mass.

    Example:
        >>> scheduled = StatedAirflow(1.0, "standard", 1.2014)
        >>> round(restated_airflow(stated=scheduled, basis="actual", density_kg_m3=0.998).airflow_m3_s, 4)
        1.2038
    """
    density = within("density", density_kg_m3, *DENSITY_RANGE_KG_M3, "kg/m3").item()
    return StatedAirflow(stated.mass_flow_kg_s / density, basis, density)
