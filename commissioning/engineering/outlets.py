"""Outlets of a branch: their ratios, the uncertainty of their sum, and duct leakage as a difference.

One hood at all outlets is one error, not many: the sum of forty outlets is known no better than the hood is, however
often it was moved. Proportional balancing is in `proportional_balance`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from commissioning.engineering.budget import Component
from commissioning.engineering.guards import within


@dataclass(frozen=True, slots=True)
class Outlet:
    """One outlet of a branch.

    Attributes:
        name: its tag; unique in the branch.
        design_m3_s: design airflow, above 0 [m3/s].
        measured_m3_s: measured airflow, 0 or more [m3/s], on the basis of the design.
    """

    name: str
    design_m3_s: float
    measured_m3_s: float

    @property
    def ratio(self) -> float:
        """Measured over design [-]."""
        return self.measured_m3_s / self.design_m3_s


@dataclass(frozen=True, slots=True)
class Leakage:
    """What a port gives and its outlets do not.

    Attributes:
        airflow_m3_s: port less sum of the outlets [m3/s].
        relative: over the port [-].
        standard_uncertainty_m3_s: of the difference [m3/s].
        is_certain: the difference is above twice its standard uncertainty.
    """

    airflow_m3_s: float
    relative: float
    standard_uncertainty_m3_s: float
    is_certain: bool


def key_outlet(outlets: Sequence[Outlet]) -> Outlet:
    """Return the outlet with the least ratio of measured to design: it stays open, the others come down to it.

        argmin(q / q_design)

    Args:
        outlets: the outlets of a branch, one or more.

    Raises:
        ValueError: there is no outlet, or a name appears twice.
        OutOfRange: a design airflow is not above 0, or a measured one is negative.

    Source: common practice, no source.

    Example:
        >>> key_outlet([Outlet("D1", 0.10, 0.12), Outlet("D2", 0.10, 0.08)]).name
        'D2'
    """
    return min(checked(outlets), key=lambda outlet: (outlet.ratio, outlet.name))


def branch_ratio(outlets: Sequence[Outlet]) -> float:
    """Return the ratio of the sums: what every outlet comes to when the branch is in proportion.

        sum(q) / sum(q_design)

    Args:
        outlets: the outlets of a branch, one or more.

    Raises:
        ValueError: there is no outlet, or a name appears twice.
        OutOfRange: a design airflow is not above 0, or a measured one is negative.

    Source: common practice, no source.

    Example:
        >>> round(branch_ratio([Outlet("D1", 0.10, 0.12), Outlet("D2", 0.10, 0.08)]), 6)
        1.0
    """
    held = checked(outlets)
    return math.fsum(o.measured_m3_s for o in held) / math.fsum(o.design_m3_s for o in held)


def sum_components(parts: Sequence[tuple[float, Sequence[Component]]]) -> list[Component]:
    """Return the components of the uncertainty of a signed sum of results that share some of their errors.

        grouped:   u = sum(s_i c_i u_i) over each group, with its sign
        ungrouped: u = sqrt(sum(u_i^2)) over each name,  nu = u^4 / sum(u_i^4 / nu_i)

    Components of one name and one group are one error in all results; those without a group are new in each result.
    The order of the results does not matter, not even in the last bit.

    Args:
        parts: for each result its sign or factor s_i [-] and the components of its uncertainty [unit of the result].

    Raises:
        ValueError: there is no result.

    Source: JCGM 100:2008 (GUM), 5.2.2 and G.4.1 eq. (G.2b).

    Example:
        >>> hood = [Component("hood", 3.0, group="H-1"), Component("scatter", 4.0)]
        >>> [(c.name, round(c.contribution, 3)) for c in sum_components([(1.0, hood), (1.0, hood)])]
        [('hood', 6.0), ('scatter', 5.657)]
        >>> [(c.name, round(c.contribution, 3)) for c in sum_components([(1.0, hood), (-1.0, hood)])]
        [('hood', 0.0), ('scatter', 5.657)]
    """
    if not parts:
        raise ValueError("a sum needs at least one result")
    heaps: dict[tuple[str, str], list[tuple[float, Component]]] = {}
    for sign, components in parts:
        for one in components:
            heaps.setdefault((one.name, one.group or ""), []).append((sign * one.contribution, one))
    groups: dict[str, list[str]] = {}
    for name, group in sorted(heaps):
        groups.setdefault(name, []).append(group)
    found = []
    for (name, group), heap in sorted(heaps.items()):
        number = groups[name].index(group)
        found.append(_joined(name if number == 0 else f"{name}, {number + 1}", group, heap))
    return found


def _joined(name: str, group: str, heap: Sequence[tuple[float, Component]]) -> Component:
    freedoms = [one.degrees_of_freedom for _, one in heap]
    kind, source = heap[0][1].kind, min(one.source for _, one in heap)
    if group:
        total = math.fsum(size for size, _ in heap)
        return Component(name, abs(total), math.copysign(1.0, total), min(freedoms), kind, source, group)
    total = math.sqrt(math.fsum(size**2 for size, _ in heap))
    below = math.fsum(size**4 / freedom for (size, _), freedom in zip(heap, freedoms, strict=True))
    freedom = total**4 / below if below > 0.0 else math.inf
    return Component(name, total, 1.0, max(freedom, 1.0), kind, source)


def duct_leakage(
    *,
    port_airflow_m3_s: float,
    outlets_airflow_m3_s: float,
    port_standard_uncertainty_m3_s: float,
    outlets_standard_uncertainty_m3_s: float,
    correlation: float = 0.0,
) -> Leakage:
    """Return what is lost between a port and its outlets, as a difference with its uncertainty.

        q_leak = q_port - sum(q_outlets),  u^2 = u_port^2 + u_outlets^2 - 2 r u_port u_outlets

    Args:
        port_airflow_m3_s: at the port [m3/s], above 0.
        outlets_airflow_m3_s: sum over the outlets [m3/s], 0 or more, on the same basis.
        port_standard_uncertainty_m3_s: of the port's airflow [m3/s], 0 or more.
        outlets_standard_uncertainty_m3_s: of the sum; one hood at all outlets is one error [m3/s], 0 or more.
        correlation: r of the two, above 0 where one instrument read both [-], -1 to 1.

    Raises:
        OutOfRange: an argument lies outside.

    Source: conservation of mass; JCGM 100:2008 (GUM), 5.2.2 eq. (16).

    Example:
        >>> leak = duct_leakage(port_airflow_m3_s=1.0, outlets_airflow_m3_s=0.9,
        ...     port_standard_uncertainty_m3_s=0.025, outlets_standard_uncertainty_m3_s=0.03)
        >>> round(leak.relative, 3), leak.is_certain
        (0.1, True)
    """
    port = within("airflow of the port", port_airflow_m3_s, 1e-6, 2000.0, "m3/s").item()
    total = within("airflow of the outlets", outlets_airflow_m3_s, 0.0, 2000.0, "m3/s").item()
    at_port, at_outlets = (
        within("standard uncertainty", value, 0.0, 2000.0, "m3/s").item()
        for value in (port_standard_uncertainty_m3_s, outlets_standard_uncertainty_m3_s)
    )
    shared = within("correlation", correlation, -1.0, 1.0, "").item() * at_port * at_outlets
    uncertainty = math.sqrt(max(at_port**2 + at_outlets**2 - 2.0 * shared, 0.0))
    return Leakage(port - total, (port - total) / port, uncertainty, port - total > 2.0 * uncertainty)


def checked(outlets: Sequence[Outlet]) -> tuple[Outlet, ...]:
    """Return the outlets of a branch after checking that there are some, with different names and possible airflows.

    Args:
        outlets: the outlets of a branch.

    Raises:
        ValueError: there is no outlet, or a name appears twice.
        OutOfRange: a design airflow is not above 0, or a measured one is negative.

    Source: common practice, no source.

    Example:
        >>> len(checked([Outlet("D1", 0.10, 0.12)]))
        1
    """
    if not outlets:
        raise ValueError("a branch needs at least one outlet")
    names = {outlet.name for outlet in outlets}
    if len(names) != len(outlets):
        raise ValueError("the outlets of a branch need different names")
    for outlet in outlets:
        within(f"design airflow of {outlet.name}", outlet.design_m3_s, 1e-6, 2000.0, "m3/s")
        within(f"measured airflow of {outlet.name}", outlet.measured_m3_s, 0.0, 2000.0, "m3/s")
    return tuple(outlets)
