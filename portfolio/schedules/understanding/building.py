"""Drafts into design rows: flat paths become ports, fans, exchanger, electrical supply and texts."""

from typing import Any

from portfolio.schedules.understanding.drafts import Draft
from portfolio.schedules.understanding.result import (
    FANS,
    PORTS,
    DesignRow,
    ElectricalDesign,
    EquipmentDesign,
    ExchangerDesign,
    FanDesign,
    PortDesign,
    Written,
)

_TEXTS = ("type", "location", "serves", "building", "manufacturer", "model", "remarks")


def design_row(draft: Draft) -> DesignRow:
    """Build the row that is shown, stored and applied."""
    groups: dict[str, dict[str, Any]] = {}
    texts: dict[str, Written] = {}
    for path, value in draft.values.items():
        group, _, name = path.rpartition(".")
        if group:
            groups.setdefault(group, {})[name] = value
        elif isinstance(value, Written) and name in _TEXTS:
            texts[name] = value
    exchanger, electrical, unit = groups.get("exchanger"), groups.get("electrical"), groups.get("unit")
    return DesignRow(
        tag=draft.tag,
        tag_at=draft.key,
        table=draft.table,
        kind=draft.kind,
        ports={port: PortDesign(**groups[port]) for port in PORTS if port in groups},
        fans={fan: FanDesign(**groups[f"fan.{fan}"]) for fan in FANS if f"fan.{fan}" in groups},
        exchanger=ExchangerDesign(**exchanger) if exchanger else None,
        electrical=ElectricalDesign(**electrical) if electrical else None,
        equipment=EquipmentDesign(**unit) if unit else None,
        air_basis=draft.basis,
        notes=draft.notes,
        scope=draft.scope,
        not_given={path: why for path, why in draft.open.items() if path not in draft.values},
        other=draft.other,
        type_at=draft.type_at,
        **texts,
    )
