"""Required outdoor air, and CO2 as a sign of the air that is delivered.

The ventilation rate procedure is a designer's check and for information. CO2 above a set point is no proof of too
little air before about three air changes, and needs a known generation; how far a reading can be trusted is told by
`airflow_per_person`, what a reset line makes of it by `co2_control`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from commissioning.engineering.guards import FloatArray, FloatOrArray, plain, within

_CO2_RANGE = (0.0, 0.02)


@dataclass(frozen=True, slots=True)
class VentilationAirflows:
    """Outdoor air required, designed and measured, side by side; None where one is not known.

    Attributes:
        required_m3_s: what the space asks for [m3/s].
        design_m3_s: what was designed [m3/s].
        measured_m3_s: what was measured [m3/s].
        design_over_required: [-].
        measured_over_required: [-].
        measured_over_design: [-].
        shortfall_m3_s: required less measured, 0 where there is enough [m3/s].
        shortfall_within_uncertainty: the shortfall is not above the expanded uncertainty of the measured airflow.
    """

    required_m3_s: float | None
    design_m3_s: float | None
    measured_m3_s: float | None
    design_over_required: float | None
    measured_over_required: float | None
    measured_over_design: float | None
    shortfall_m3_s: float | None
    shortfall_within_uncertainty: bool | None


def breathing_zone_airflow_m3_s(
    *,
    people: FloatOrArray,
    area_m2: FloatOrArray,
    rate_per_person_m3_s: FloatOrArray,
    rate_per_area_m3_s_m2: FloatOrArray,
) -> FloatOrArray:
    """Return the outdoor air that a zone's breathing zone asks for.

        V_bz = R_p P_z + R_a A_z

    Args:
        people: P_z [-], 0 to 1e5.
        area_m2: floor area A_z [m2], 0 to 1e6.
        rate_per_person_m3_s: R_p [m3/s per person], 0 to 0.1.
        rate_per_area_m3_s_m2: R_a [m3/s per m2], 0 to 0.01.

    Raises:
        OutOfRange: an argument lies outside.

    Source: ASHRAE 62.1, 6.2.1.1 (eq. 6-1).

    Example:
        >>> round(breathing_zone_airflow_m3_s(people=8.0, area_m2=100.0, rate_per_person_m3_s=0.0025,
        ...     rate_per_area_m3_s_m2=0.0003), 6)
        0.05
    """
    by_people = within("people", people, 0.0, 1e5, "") * within(
        "rate per person", rate_per_person_m3_s, 0.0, 0.1, "m3/s per person"
    )
    by_area = within("area", area_m2, 0.0, 1e6, "m2") * within(
        "rate per area", rate_per_area_m3_s_m2, 0.0, 0.01, "m3/s per m2"
    )
    return plain(by_people + by_area)


def zone_outdoor_airflow_m3_s(
    *, breathing_zone_airflow_m3_s: FloatOrArray, distribution_effectiveness: FloatOrArray
) -> FloatOrArray:
    """Return the outdoor air to bring to a zone, by how well its air is distributed.

        V_oz = V_bz / E_z

    Args:
        breathing_zone_airflow_m3_s: V_bz [m3/s], 0 to 2000.
        distribution_effectiveness: E_z [-], 0.5 to 1.5; 1.0 cool from the ceiling, 0.8 warm from the ceiling.

    Raises:
        OutOfRange: an argument lies outside.

    Source: ASHRAE 62.1, 6.2.1.3 (eq. 6-2); E_z as in ASHRAE Guideline 36.

    Example:
        >>> zone_outdoor_airflow_m3_s(breathing_zone_airflow_m3_s=0.2, distribution_effectiveness=0.8)
        0.25
    """
    flow = within("breathing zone airflow", breathing_zone_airflow_m3_s, 0.0, 2000.0, "m3/s")
    return plain(flow / within("distribution effectiveness", distribution_effectiveness, 0.5, 1.5, ""))


def simplified_ventilation_efficiency(*, occupant_diversity: FloatOrArray) -> FloatOrArray:
    """Return the system ventilation efficiency by the simplified procedure of the editions from 2019 on.

        E_v = 0.88 D + 0.22 for D < 0.60, else 0.75

    Args:
        occupant_diversity: D, people in the system over the sum of the zones' [-], 0 to 1.

    Raises:
        OutOfRange: the diversity lies outside.

    Source: ASHRAE 62.1-2019, 6.2.4.3 (from memory).

    Example:
        >>> simplified_ventilation_efficiency(occupant_diversity=0.50)
        0.66
    """
    diversity = within("occupant diversity", occupant_diversity, 0.0, 1.0, "")
    return plain(np.where(diversity < 0.60, 0.88 * diversity + 0.22, 0.75))


def zone_ventilation_efficiency(
    *, average_outdoor_fraction: FloatOrArray, zone_outdoor_fraction: FloatOrArray
) -> FloatOrArray:
    """Return the ventilation efficiency of a zone on a single-path system; the system's is that of the worst zone.

        E_vz = 1 + X_s - Z_pz

    Args:
        average_outdoor_fraction: X_s, uncorrected outdoor air over supply air of the system [-], 0 to 1.
        zone_outdoor_fraction: Z_pz, zone outdoor air over zone primary air [-], 0 to 1.

    Raises:
        OutOfRange: an argument lies outside.

    Source: ASHRAE 62.1, appendix A, single supply path, as in the EnergyPlus Engineering Reference.

    Example:
        >>> round(zone_ventilation_efficiency(average_outdoor_fraction=0.30, zone_outdoor_fraction=0.45), 6)
        0.85
    """
    average = within("average outdoor fraction", average_outdoor_fraction, 0.0, 1.0, "")
    return plain(1.0 + average - within("zone outdoor fraction", zone_outdoor_fraction, 0.0, 1.0, ""))


def system_outdoor_airflow_m3_s(
    *, uncorrected_airflow_m3_s: FloatOrArray, ventilation_efficiency: FloatOrArray = 1.0
) -> FloatOrArray:
    """Return the outdoor air that a system has to take in; for 100 % outdoor air the efficiency is 1.

        V_ot = V_ou / E_v

    Args:
        uncorrected_airflow_m3_s: V_ou, or the sum of the zones' V_oz for 100 % outdoor air [m3/s], 0 to 2000.
        ventilation_efficiency: E_v [-], 0.2 to 1.3.

    Raises:
        OutOfRange: an argument lies outside.

    Source: ASHRAE 62.1, 6.2.3 and 6.2.4 (clauses from memory).

    Example:
        >>> system_outdoor_airflow_m3_s(uncorrected_airflow_m3_s=1.5, ventilation_efficiency=0.75)
        2.0
    """
    flow = within("uncorrected airflow", uncorrected_airflow_m3_s, 0.0, 2000.0, "m3/s")
    return plain(flow / within("ventilation efficiency", ventilation_efficiency, 0.2, 1.3, ""))


def co2_generation_m3_s(
    *,
    basal_rate_mj_day: FloatOrArray,
    activity_met: FloatOrArray,
    respiratory_quotient: FloatOrArray = 0.85,
    temperature_k: FloatOrArray = 273.0,
    pressure_kpa: FloatOrArray = 101.0,
) -> FloatOrArray:
    """Return the CO2 that a person gives off.

        G = RQ BMR M (T / p) 2.11e-7  [m3/s, MJ/day, met, K, kPa]

    Args:
        basal_rate_mj_day: basal metabolic rate BMR [MJ/day], 1 to 20.
        activity_met: activity M [met], 0.8 to 10.
        respiratory_quotient: RQ [-], 0.7 to 1.
        temperature_k: T of the air for which the volume is stated [K], 250 to 320.
        pressure_kpa: p of that air [kPa], 60 to 110.

    Raises:
        OutOfRange: an argument lies outside.

    Source: Persily and de Jonge (2017), eq. 12 (from memory; it reproduces their table).

    Example:
        >>> round(1000.0 * co2_generation_m3_s(basal_rate_mj_day=7.83, activity_met=1.2), 4)
        0.0046
    """
    rate = within("basal rate", basal_rate_mj_day, 1.0, 20.0, "MJ/day")
    active = rate * within("activity", activity_met, 0.8, 10.0, "met")
    volume = within("temperature", temperature_k, 250.0, 320.0, "K") / within(
        "pressure", pressure_kpa, 60.0, 110.0, "kPa"
    )
    return plain(within("respiratory quotient", respiratory_quotient, 0.7, 1.0, "") * active * volume * 2.11e-7)


def steady_co2_rise(*, generation_m3_s: FloatOrArray, airflow_m3_s: FloatOrArray) -> FloatOrArray:
    """Return by how much CO2 stands above outdoors once nothing changes any more.

        C_s - C_o = G / q

    Args:
        generation_m3_s: G of the people [m3/s], 0 to 1.
        airflow_m3_s: outdoor airflow to them q [m3/s], above 0; for one person, that person's share.

    Raises:
        OutOfRange: an argument lies outside.

    Source: mass balance of one well-mixed space.

    Example:
        >>> round(1e6 * steady_co2_rise(generation_m3_s=4.6e-6, airflow_m3_s=8.5e-3))
        541
    """
    flow = within("airflow", airflow_m3_s, 1e-9, 2000.0, "m3/s")
    return plain(within("CO2 generation", generation_m3_s, 0.0, 1.0, "m3/s") / flow)


def airflow_from_steady_co2_m3_s(
    *, generation_m3_s: FloatOrArray, indoor_co2: FloatOrArray, outdoor_co2: FloatOrArray
) -> FloatOrArray:
    """Return the outdoor airflow from a steady CO2 reading.

        q = G / (C_s - C_o)

    Args:
        generation_m3_s: G of the people [m3/s], 0 to 1.
        indoor_co2: steady C_s [mol/mol], above the outdoor one by 50 ppm or more.
        outdoor_co2: C_o [mol/mol], 0 to 0.02.

    Raises:
        OutOfRange: an argument lies outside.

    Source: mass balance of one well-mixed space.

    Example:
        >>> round(1000.0 * airflow_from_steady_co2_m3_s(generation_m3_s=4.6e-6, indoor_co2=1000e-6,
        ...     outdoor_co2=420e-6), 3)
        7.931
    """
    outdoor = _co2("outdoor", outdoor_co2)
    indoor = within("indoor CO2", indoor_co2, plain(outdoor + 49.999e-6), _CO2_RANGE[1], "mol/mol")
    return plain(within("CO2 generation", generation_m3_s, 0.0, 1.0, "m3/s") / (indoor - outdoor))


def co2_after(
    *,
    time_s: FloatOrArray,
    initial_co2: FloatOrArray,
    outdoor_co2: FloatOrArray,
    generation_m3_s: FloatOrArray,
    airflow_m3_s: FloatOrArray,
    volume_m3: FloatOrArray,
) -> FloatOrArray:
    """Return the CO2 of a well-mixed space some time after people came or left.

        C(t) = C_s + (C_0 - C_s) exp(-q t / V),  C_s = C_o + G / q

    Args:
        time_s: t [s], 0 to 1e7.
        initial_co2: C_0 [mol/mol], 0 to 0.02.
        outdoor_co2: C_o [mol/mol], 0 to 0.02.
        generation_m3_s: G of all the people [m3/s], 0 to 1.
        airflow_m3_s: outdoor airflow q [m3/s], above 0.
        volume_m3: V of the space [m3], above 0.

    Raises:
        OutOfRange: an argument lies outside.

    Source: mass balance of one well-mixed space.

    Example:
        >>> c = co2_after(time_s=1800.0, initial_co2=420e-6, outdoor_co2=420e-6, generation_m3_s=20 * 4.6e-6,
        ...     airflow_m3_s=0.1, volume_m3=300.0)
        >>> round(1e6 * c, 1)
        835.1
    """
    steady = _co2("outdoor", outdoor_co2) + steady_co2_rise(generation_m3_s=generation_m3_s, airflow_m3_s=airflow_m3_s)
    changes = (
        np.asarray(airflow_m3_s) * within("time", time_s, 0.0, 1e7, "s") / within("volume", volume_m3, 1e-3, 1e8, "m3")
    )
    return plain(steady + (_co2("initial", initial_co2) - steady) * np.exp(-changes))


def time_to_steady_s(*, share: FloatOrArray, airflow_m3_s: FloatOrArray, volume_m3: FloatOrArray) -> FloatOrArray:
    """Return how long a well-mixed space takes to come a share of the way to its steady CO2.

        t = -ln(1 - share) V / q;  95 % after three air changes

    Args:
        share: share of the way [-], 0 to 0.9999.
        airflow_m3_s: outdoor airflow q [m3/s], above 0.
        volume_m3: V of the space [m3], above 0.

    Raises:
        OutOfRange: an argument lies outside.

    Source: mass balance of one well-mixed space.

    Example:
        >>> round(time_to_steady_s(share=0.95, airflow_m3_s=0.1, volume_m3=300.0) / 60.0, 1)
        149.8
    """
    flow = within("airflow", airflow_m3_s, 1e-9, 2000.0, "m3/s")
    left = -np.log1p(-within("share", share, 0.0, 0.9999, ""))
    return plain(left * within("volume", volume_m3, 1e-3, 1e8, "m3") / flow)


def ventilation_side_by_side(
    *,
    required_m3_s: float | None,
    design_m3_s: float | None,
    measured_m3_s: float | None,
    expanded_uncertainty_m3_s: float | None = None,
) -> VentilationAirflows:
    """Return what the space asks for, what was designed and what was measured, held against each other.

        ratios: design / required, measured / required, measured / design;  shortfall: required - measured

    For information: whether a ventilation minimum is met is a matter of the contract's limits and decision rule.

    Args:
        required_m3_s: by the ventilation rate procedure or as the schedule states it [m3/s], above 0; None if unknown.
        design_m3_s: outdoor airflow of the design [m3/s], above 0; None if not given.
        measured_m3_s: outdoor airflow as measured [m3/s], 0 or more; None if not measured.
        expanded_uncertainty_m3_s: of the measured one [m3/s], 0 or more; None if not known.

    Raises:
        OutOfRange: an airflow lies outside.

    Source: arithmetic.

    Example:
        >>> seen = ventilation_side_by_side(required_m3_s=0.20, design_m3_s=0.25, measured_m3_s=0.19,
        ...     expanded_uncertainty_m3_s=0.012)
        >>> round(seen.measured_over_design, 2), round(seen.shortfall_m3_s, 3), seen.shortfall_within_uncertainty
        (0.76, 0.01, True)
    """
    required = None if required_m3_s is None else within("required airflow", required_m3_s, 1e-6, 2000.0, "m3/s").item()
    design = None if design_m3_s is None else within("design airflow", design_m3_s, 1e-6, 2000.0, "m3/s").item()
    measured = None if measured_m3_s is None else within("measured airflow", measured_m3_s, 0.0, 2000.0, "m3/s").item()
    uncertainty = expanded_uncertainty_m3_s
    if uncertainty is not None:
        within("expanded uncertainty", uncertainty, 0.0, 2000.0, "m3/s")
    shortfall = None if required is None or measured is None else max(required - measured, 0.0)
    return VentilationAirflows(
        required_m3_s=required,
        design_m3_s=design,
        measured_m3_s=measured,
        design_over_required=None if design is None or required is None else design / required,
        measured_over_required=None if measured is None or required is None else measured / required,
        measured_over_design=None if measured is None or design is None else measured / design,
        shortfall_m3_s=shortfall,
        shortfall_within_uncertainty=None if shortfall is None or uncertainty is None else shortfall <= uncertainty,
    )


def _co2(name: str, co2: FloatOrArray) -> FloatArray:
    return within(f"{name} CO2", co2, *_CO2_RANGE, "mol/mol")
