"""Values that can be right and seldom are: remarks for a person's eye, never in the way."""

from collections.abc import Iterator
from functools import lru_cache
from statistics import median

from commissioning.engineering.units import to_si
from portfolio.schedules.understanding.drafts import Draft
from portfolio.schedules.understanding.result import PORTS, Quantity, Remark

_FAR = 10.0
_FEWEST = 5
_APART = 0.20
_ALL_OUTDOOR_AIR = frozenset({"erv", "hrv", "doas"})


@lru_cache(maxsize=256)
def _factor(unit: str) -> float:
    """How much one of the unit is in SI; 0 for a unit with an offset or none."""
    return float(to_si(1.0, unit)) - float(to_si(0.0, unit))


def _si(value: Quantity) -> float:
    return value.value * _factor(value.unit)


def remarks_on(drafts: list[Draft]) -> Iterator[Remark]:
    """Look at each row alone, then at each field among its neighbours of the same kind and table."""
    for draft in drafts:
        yield from _minimum_above(draft)
        yield from _mixing(draft)
        yield from _ratings(draft)
    yield from _far_from_neighbours(drafts)


def _at(value: Quantity, text: str, code: str) -> Remark:
    return Remark(value.at.sheet, value.at.row, value.at.column, text, code)


def _quantity(draft: Draft, path: str) -> Quantity | None:
    value = draft.values.get(path)
    return value if isinstance(value, Quantity) else None


def _minimum_above(draft: Draft) -> Iterator[Remark]:
    for port in PORTS:
        most, least = _quantity(draft, f"{port}.airflow"), _quantity(draft, f"{port}.minimum")
        if most is not None and least is not None and _si(least) > _si(most) * 1.000001:
            text = f"{draft.tag}: the {port} minimum {least.value:g} {least.unit} is above {most.value:g} {most.unit}"
            yield _at(least, text, "minimum_above_maximum")
        pressure = _quantity(draft, f"{port}.static_pressure")
        if pressure is not None and pressure.value < 0:
            yield _at(pressure, f"{draft.tag}: a static pressure below zero", "negative_pressure")


def _mixing(draft: Draft) -> Iterator[Remark]:
    """Supply against outdoor air where all air is outdoor air; against outdoor and return where they are mixed."""
    supply, outdoor = _quantity(draft, "supply.airflow"), _quantity(draft, "outdoor.airflow")
    back = _quantity(draft, "return.airflow")
    if supply is None or outdoor is None or not _si(supply):
        return
    if draft.kind in _ALL_OUTDOOR_AIR:
        if abs(_si(supply) - _si(outdoor)) > _APART * max(_si(supply), _si(outdoor)):
            text = f"{draft.tag}: supply {supply.text} is far from outdoor air {outdoor.text}, its only source"
            yield _at(supply, text, "supply_far_from_sources")
    elif draft.kind == "ahu" and back is not None:
        sources = _si(outdoor) + _si(back)
        if _si(supply) > sources * (1 + _APART) or _si(outdoor) > _si(supply) * (1 + _APART):
            text = f"{draft.tag}: supply {supply.text} does not fit outdoor {outdoor.text} and return {back.text}"
            yield _at(supply, text, "supply_far_from_sources")


def _ratings(draft: Draft) -> Iterator[Remark]:
    for path, value in draft.values.items():
        if path.startswith("exchanger.") and isinstance(value, Quantity) and value.unit in ("%", "1"):
            share = _si(value)
            too_small = share < 0.02 and not path.endswith("eatr")
            if share > 1.5 or too_small:
                yield _at(value, f"{draft.tag}: {value.text} is an unlikely rating", "unlikely_rating")


def _far_from_neighbours(drafts: list[Draft]) -> Iterator[Remark]:
    """A value ten times, or a tenth, of the middle one of its column; not where a column is spread that wide anyway."""
    groups: dict[tuple[str, int, str], dict[str, list[tuple[Quantity, str]]]] = {}
    last = None
    for draft in drafts:
        if draft.key is last:
            continue
        last = draft.key
        columns = groups.setdefault((draft.key.at.sheet, draft.table, draft.kind), {})
        for path, value in draft.values.items():
            if isinstance(value, Quantity) and value.value > 0:
                columns.setdefault(path, []).append((value, draft.tag))
    for columns in groups.values():
        for found in columns.values():
            if len(found) >= _FEWEST:
                yield from _far(found)


def _far(found: list[tuple[Quantity, str]]) -> Iterator[Remark]:
    unit = found[0][0].unit
    one_unit = all(value.unit == unit for value, _ in found)
    sizes = [value.value if one_unit else _si(value) for value, _ in found]
    middle = median(sizes)
    low, high = middle / _FAR, middle * _FAR
    far = [place for place, size in enumerate(sizes) if not low < size < high]
    if len(far) <= max(1, len(found) // 10):
        for place in far:
            value, tag = found[place]
            yield _at(
                value, f"{tag}: {value.text} is ten times away from its column's other values", "far_from_neighbours"
            )
