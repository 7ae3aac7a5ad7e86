"""From a start's payload to what it amounts to: what was seen, and all times in seconds since the start command."""

from collections.abc import Mapping
from typing import Any, cast

from commissioning.dossier.envelope import Envelope
from commissioning.dossier.figures import Figures, figures_of
from commissioning.dossier.given import Conventions, Instrument, Place
from commissioning.dossier.quantities import si
from commissioning.kinds.startup.payload import DamperStart, FanStart, Loss, Settled, StartupPayload

VERSION = 1


def instruments(payload: StartupPayload) -> frozenset[str]:
    return frozenset()


def measure(
    envelope: Envelope, place: Place, conventions: Conventions, tools: Mapping[str, Instrument]
) -> list[Figures]:
    payload = cast(StartupPayload, envelope.payload)
    limits, stop, temporary = payload.limits, payload.not_running, payload.temporary_operation
    inch = conventions.inch_of_water_pa
    facts: dict[str, Any] = {
        "start_command": payload.start_command.isoformat() if payload.start_command else None,
        "permissives": payload.permissives.model_dump(),
        "dampers": {one.damper: _damper(payload, one) for one in payload.dampers},
        "fans": {one.fan: _fan(payload, one, inch) for one in payload.fans},
        "limits": {
            "damper_proof_s": _si(limits.damper_proof) if limits else None,
            "fan_proof_s": _si(limits.fan_proof) if limits else None,
            "exhaust_after_supply_s": _si(limits.exhaust_after_supply) if limits else None,
            "source": limits.source if limits else "",
        },
        "controller": payload.controller,
        "not_running": {
            "cause": stop.cause,
            "note": stop.note.strip(),
            "trade": stop.unblocked_by,
            "company": stop.company.strip(),
        }
        if stop
        else None,
        "temporary": temporary.model_dump(mode="json") if temporary else None,
    }
    return [figures_of(envelope, place, [], method="start seen", tools=[], facts=facts)]


def _damper(payload: StartupPayload, given: DamperStart) -> dict[str, Any]:
    return {
        "opening": given.opening,
        "proof": given.proof,
        "commanded_s": payload.offset(given.commanded) or 0.0,
        "proven_s": payload.offset(given.proven),
        "closed_s": _si(given.closed),
    }


def _fan(payload: StartupPayload, given: FanStart, inch_of_water_pa: float) -> dict[str, Any]:
    return {
        "command": given.command,
        "commanded_s": payload.offset(given.commanded),
        "current": {"seen": given.current.seen, "at_s": payload.offset(given.current.at)},
        "air": {"seen": given.air.seen, "by": given.air.by, "at_s": payload.offset(given.air.at)},
        "rotation": given.rotation,
        "rotation_by": given.rotation_by,
        "lost": [_loss(payload, one) for one in given.lost],
        "stopped_s": _si(given.stopped),
        "settled": _settled(given.settled, inch_of_water_pa) if given.settled else None,
        "electrical": given.electrical,
    }


def _loss(payload: StartupPayload, given: Loss) -> dict[str, Any]:
    return {
        "of": given.of,
        "at_s": payload.offset(given.at),
        "lasted_s": _si(given.lasted),
        "alarm_s": payload.offset(given.alarm),
        "on_purpose": given.on_purpose,
    }


def _settled(given: Settled, inch_of_water_pa: float) -> dict[str, Any]:
    rise = given.pressure_rise
    return {
        "after_s": _si(given.after),
        "speed_rpm": _si(given.speed),
        "pressure_rise_pa": None if rise is None else si(rise, inch_of_water_pa=inch_of_water_pa),
        "airflow_m3_s": _si(given.airflow),
    }


def _si(given: Any) -> float | None:
    return None if given is None else si(given)
