"""Why a figure of the test is shown and not judged."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from commissioning.dossier.figures import Figure
from commissioning.dossier.quantities import si, si_values
from commissioning.engineering.exchanger import Doubt, exchanger_doubts, humidity_doubts
from commissioning.kinds.exchanger.model import FACE_OF_FAN
from commissioning.kinds.exchanger.payload import ExchangerPayload
from commissioning.kinds.exchanger.propagation import Propagation

_WELL_KNOWN = 0.10  # standard uncertainty up to which the closure of enthalpy, the true balance, decides
_SOMEHOW_KNOWN = 0.50  # above it a closure says nothing either way
_OF_CLOSURE = frozenset(
    {"drift_not_recorded", "unsteady", "duration_not_recorded", "short_test", "frost", "frost_not_recorded", "coil"}
    | {"coil_not_recorded"}
)
_YES_NO = {"none": False, "off": False, "on": True, "seen": True, "defrosting": True, "closed": True, "open": False}


@dataclass
class Doubts:
    """Reasons by what they touch. `at_speed` is whether the wheel turned as designed; True where there is none."""

    payload: ExchangerPayload
    spread: Propagation
    at_speed: bool | None
    closures: dict[str, Figure] = field(default_factory=dict)

    def closed(self, part: str, figure: Figure) -> None:
        self.closures[part] = figure

    def of_closure(self) -> tuple[str, ...]:
        shared = [one.sentence for one in self._found(None) if one.code in _OF_CLOSURE]
        return (*shared, *self._fans(("outdoor", "supply", "return", "exhaust")))

    def of_effectiveness(self, part: str) -> tuple[str, ...]:
        found = [one.sentence for one in self._found(self.deciding_closure)]
        if part == "latent":
            found += self._humidity("w", "humidity ratio")
        if part == "total":
            found += self._humidity("h", "enthalpy")
        return (*found, *self._fans(("outdoor", "supply", "return")))

    @property
    def deciding_closure(self) -> Figure | None:
        """That of enthalpy where it is known well enough: heat alone does not close where water condenses.

        Else that of heat; and none where neither says anything.
        """
        for part, most in (("total", _WELL_KNOWN), ("sensible", _SOMEHOW_KNOWN), ("total", _SOMEHOW_KNOWN)):
            found = self.closures.get(part)
            if found is not None and (found.standard_uncertainty or 0.0) <= most:
                return found
        return None

    def _found(self, closure: Figure | None) -> Sequence[Doubt]:
        payload, spread = self.payload, self.spread
        if not spread.has("t outdoor", "t return"):
            return ()
        bypass = payload.state.bypass
        return exchanger_doubts(
            outdoor_temperature_c=spread.value(lambda air: air["t outdoor"]),
            return_temperature_c=spread.value(lambda air: air["t return"]),
            difference_standard_uncertainty_k=spread.standard_uncertainty(
                lambda air: air["t outdoor"] - air["t return"]
            ),
            temperature_drift_k=self._drift(),
            duration_s=None if payload.duration is None else si(payload.duration),
            closure=None if closure is None else closure.value,
            closure_standard_uncertainty=0.0 if closure is None else closure.standard_uncertainty or 0.0,
            bypass_closed=True if bypass == "none" else _YES_NO.get(bypass),
            wheel_at_speed=self.at_speed,
            frosted=_YES_NO.get(payload.frost),
            coil_between=_YES_NO.get(payload.coil_between),
        )

    def _drift(self) -> float | None:
        """How far an entering temperature moved, the larger of the two; None where one was read only once."""
        moved = []
        for role in ("outdoor", "return"):
            station = self.payload.station(role)
            if station is None or len(station.dry_bulb.values) < 2:
                return None
            moved.append(float(np.ptp(si_values(station.dry_bulb))))
        return max(moved)

    def _humidity(self, key: str, quantity: str) -> list[str]:
        found = humidity_doubts(
            difference=self.spread.value(lambda air: air[f"{key} outdoor"] - air[f"{key} return"]),
            standard_uncertainty=self.spread.standard_uncertainty(
                lambda air: air[f"{key} outdoor"] - air[f"{key} return"]
            ),
            quantity=quantity,
        )
        return [one.sentence for one in found]

    def _fans(self, roles: Sequence[str]) -> list[str]:
        """Heat of a fan between a sensor and the exchanger that nobody can take off."""
        found = []
        for stream in ("supply", "exhaust"):
            fan = self.payload.fan(stream)
            if fan is None or fan.position == "not_seen":
                found.append(f"where the {stream} fan stands was not recorded, so its heat cannot be taken off")
                continue
            face = FACE_OF_FAN.get((stream, fan.position))
            if face in roles and face not in self.spread.model.fan_at:
                found.append(f"the {stream} fan warms the air between sensor and exchanger, by how much is not known")
        return found
