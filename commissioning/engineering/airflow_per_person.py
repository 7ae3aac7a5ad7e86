"""Outdoor airflow per person from a CO2 reading, with what it is worth: steady enough, and far enough from outdoors.

CO2 above a set point is no proof of too little air, and CO2 below it none of enough: before some three time constants
the reading still follows the people: one that is still rising gives too high an airflow.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from commissioning.engineering.doubt import Doubt
from commissioning.engineering.guards import within

TIME_CONSTANTS = 3.0
LARGEST_RELATIVE_UNCERTAINTY = 0.25
_CO2_RANGE = (0.0, 0.02)


@dataclass(frozen=True, slots=True)
class AirflowPerPerson:
    """Outdoor airflow per person by a steady CO2 balance.

    Attributes:
        airflow_m3_s: for each person [m3/s].
        standard_uncertainty_m3_s: by the sensors and the generation [m3/s].
        relative_difference_uncertainty: of indoor less outdoor CO2, standard, over the difference [-].
        time_constants: how long all was steady, over V / q [-]; None where time, people or volume are not known.
        doubts: why it is for information only; none where it may be used.
    """

    airflow_m3_s: float
    standard_uncertainty_m3_s: float
    relative_difference_uncertainty: float
    time_constants: float | None
    doubts: tuple[Doubt, ...]

    @property
    def usable(self) -> bool:
        """There is no doubt."""
        return not self.doubts


def airflow_per_person(
    *,
    generation_per_person_m3_s: float,
    indoor_co2: float,
    outdoor_co2: float,
    generation_relative_standard_uncertainty: float,
    indoor_standard_uncertainty: float,
    outdoor_standard_uncertainty: float,
    correlation: float = 0.0,
    people: float | None = None,
    volume_m3: float | None = None,
    steady_for_s: float | None = None,
) -> AirflowPerPerson:
    """Return the outdoor airflow per person from a CO2 reading, its uncertainty, and why it may not be used.

        q = G / (C_i - C_o)
        (u(q) / q)^2 = (u(G) / G)^2 + (u_i^2 + u_o^2 - 2 r u_i u_o) / (C_i - C_o)^2
        steady: t n q / V >= 3;  far enough: 2 u(C_i - C_o) <= 0.25 (C_i - C_o)

    The time constants are counted with the airflow found. Of a space that starts from outdoor air that is a fair
    count: x time constants show as x / (1 - exp(-x)), and 3 are shown from 2.8 on, where q reads 6 % high.

    Args:
        generation_per_person_m3_s: G of one person [m3/s], 1e-6 to 1e-4.
        indoor_co2: C_i [mol/mol], above the outdoor one by 1 ppm or more.
        outdoor_co2: C_o [mol/mol], 0 to 0.02.
        generation_relative_standard_uncertainty: u(G) / G [-], 0 to 1.
        indoor_standard_uncertainty: u_i [mol/mol], 0 to 0.02.
        outdoor_standard_uncertainty: u_o [mol/mol], 0 to 0.02.
        correlation: r of the two readings [-], -1 to 1; 1 for the offset of one sensor carried to both places.
        people: n in the space [-], above 0; None if not counted.
        volume_m3: V of the space [m3], above 0; None if not known.
        steady_for_s: t since people, airflow and openings last changed [s], 0 or more; None if not known.

    Raises:
        OutOfRange: an argument lies outside.

    Source: mass balance of one well-mixed space; JCGM 100:2008 (GUM), 5.2.2. Three time constants and a quarter:
    common practice, no source.

    Example:
        >>> found = airflow_per_person(generation_per_person_m3_s=4.6e-6, indoor_co2=1000e-6, outdoor_co2=420e-6,
        ...     generation_relative_standard_uncertainty=0.10, indoor_standard_uncertainty=30e-6,
        ...     outdoor_standard_uncertainty=30e-6, people=20.0, volume_m3=180.0, steady_for_s=3600.0)
        >>> round(1000.0 * found.airflow_m3_s, 2), round(1000.0 * found.standard_uncertainty_m3_s, 2), found.usable
        (7.93, 0.98, True)
    """
    generation = within("CO2 generation per person", generation_per_person_m3_s, 1e-6, 1e-4, "m3/s").item()
    outdoor = within("outdoor CO2", outdoor_co2, *_CO2_RANGE, "mol/mol").item()
    indoor = within("indoor CO2", indoor_co2, outdoor + 0.999e-6, _CO2_RANGE[1], "mol/mol").item()
    u_generation = within("uncertainty of the generation", generation_relative_standard_uncertainty, 0.0, 1.0, "")
    u_in = within("uncertainty of the indoor CO2", indoor_standard_uncertainty, *_CO2_RANGE, "mol/mol").item()
    u_out = within("uncertainty of the outdoor CO2", outdoor_standard_uncertainty, *_CO2_RANGE, "mol/mol").item()
    shared = within("correlation", correlation, -1.0, 1.0, "").item()
    difference = indoor - outdoor
    spread = math.sqrt(max(u_in**2 + u_out**2 - 2.0 * shared * u_in * u_out, 0.0)) / difference
    flow = generation / difference
    constants = _time_constants(flow, people, volume_m3, steady_for_s)
    return AirflowPerPerson(
        airflow_m3_s=flow,
        standard_uncertainty_m3_s=flow * math.hypot(u_generation.item(), spread),
        relative_difference_uncertainty=spread,
        time_constants=constants,
        doubts=tuple(_doubts(constants, difference, spread)),
    )


def _time_constants(
    flow: float, people: float | None, volume_m3: float | None, steady_for_s: float | None
) -> float | None:
    if people is None or volume_m3 is None or steady_for_s is None:
        return None
    count = within("people", people, 1.0, 1e5, "").item()
    volume = within("volume", volume_m3, 1e-3, 1e8, "m3").item()
    return within("steady time", steady_for_s, 0.0, 1e7, "s").item() * count * flow / volume


def _doubts(constants: float | None, difference: float, spread: float) -> Iterator[Doubt]:
    if constants is None:
        yield Doubt(
            "steadiness_not_known", "people, volume or the time since they came were not recorded: it may not be steady"
        )
    elif constants < TIME_CONSTANTS:
        yield Doubt(
            "not_steady",
            f"steady for {constants:.1f} time constants; {TIME_CONSTANTS:.0f} are needed until it tells the air",
        )
    if 2.0 * spread > LARGEST_RELATIVE_UNCERTAINTY:
        yield Doubt(
            "small_difference",
            f"indoor and outdoor CO2 differ by {1e6 * difference:.0f} ppm, which these sensors know within "
            f"{200.0 * spread:.0f} % only",
        )
