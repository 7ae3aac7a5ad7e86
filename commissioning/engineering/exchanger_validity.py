"""When a field test of an exchanger says something, and when it must stay not judged, with the reason."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from commissioning.engineering.guards import within

LARGEST_DRIFT_K = 0.2
LARGEST_CLOSURE = 0.20
LARGEST_RELATIVE_SPAN_UNCERTAINTY = 0.05
LARGEST_RELATIVE_HUMIDITY_SPAN_UNCERTAINTY = 0.20
LEAST_DURATION_S = 600.0
FROST_BELOW_C = 2.0  # entering supply; above it no exchanger frosts
_LAST_BITS = 1e-9


@dataclass(frozen=True, slots=True)
class Doubt:
    """One reason why a test of an exchanger is not judged.

    Attributes:
        code: short name, stable.
        sentence: the reason, for a reader.
    """

    code: str
    sentence: str


def exchanger_doubts(
    *,
    outdoor_temperature_c: float,
    return_temperature_c: float,
    difference_standard_uncertainty_k: float,
    temperature_drift_k: float | None,
    duration_s: float | None,
    closure: float | None = None,
    closure_standard_uncertainty: float = 0.0,
    bypass_closed: bool | None = None,
    wheel_at_speed: bool | None = None,
    frosted: bool | None = None,
    coil_between: bool | None = None,
) -> tuple[Doubt, ...]:
    """Return every reason why a test of sensible effectiveness is not judged; none means that it may be.

        span:     2 u(t_1 - t_3) <= 0.05 |t_1 - t_3|
        drift:    at most 0.2 K over a test of 10 minutes or more
        closure:  |d| - 2 u(d) <= 0.20

    A state that was not recorded (None) is a reason too, but for a wheel on an exchanger that has none: leave
    `wheel_at_speed` True there. Frost need not be looked for where the air enters at 2 degC or more.

    Args:
        outdoor_temperature_c: t_1 [degC], -60 to 60.
        return_temperature_c: t_3 [degC], -60 to 60.
        difference_standard_uncertainty_k: u(t_1 - t_3) [K], 0 to 10. Two sensors of 0.2 K each come to 0.28 K;
            what one instrument reads at both cancels.
        temperature_drift_k: how far an entering temperature moved over the test [K]; None if not recorded.
        duration_s: from the first reading to the last [s]; None if not recorded.
        closure: d by `energy_closure` [-]; None where the leaving exhaust was not read.
        closure_standard_uncertainty: u(d) [-], 0 or more.
        bypass_closed: the bypass damper was closed.
        wheel_at_speed: the wheel turned at its submitted speed.
        frosted: the exchanger had frost on it, or was defrosting.
        coil_between: a coil or heater worked between exchanger and supply sensor.

    Raises:
        OutOfRange: an argument lies outside.

    Source: ASHRAE 84 asks for a satisfactory uncertainty in the field (scope, read); the numbers are common
    practice, no source.

    Example:
        >>> doubts = exchanger_doubts(outdoor_temperature_c=18.0, return_temperature_c=22.0,
        ...     difference_standard_uncertainty_k=0.4, temperature_drift_k=0.1, duration_s=900.0,
        ...     bypass_closed=True, wheel_at_speed=True, frosted=False, coil_between=False)
        >>> [doubt.code for doubt in doubts]
        ['small_difference']
    """
    outdoor = within("outdoor temperature", outdoor_temperature_c, -60.0, 60.0, "degC").item()
    returned = within("return temperature", return_temperature_c, -60.0, 60.0, "degC").item()
    uncertainty = within("uncertainty of the difference", difference_standard_uncertainty_k, 0.0, 10.0, "K").item()
    if outdoor >= FROST_BELOW_C and frosted is None:
        frosted = False
    return (
        *_doubts_on_difference(abs(outdoor - returned), uncertainty),
        *_doubts_on_steadiness(temperature_drift_k, duration_s),
        *_doubts_on_closure(closure, closure_standard_uncertainty),
        *_doubts_on_state(bypass_closed, wheel_at_speed, frosted, coil_between),
    )


def humidity_doubts(*, difference: float, standard_uncertainty: float, quantity: str) -> tuple[Doubt, ...]:
    """Return why a latent or total effectiveness is not judged for want of a difference between the entering streams.

        2 u(x_1 - x_3) <= 0.20 |x_1 - x_3|

    Where heat goes one way and moisture the other, the enthalpies can be all but alike with both differences wide:
    then there is no total effectiveness to speak of.

    Args:
        difference: x_1 - x_3, of humidity ratios [kg/kg] or enthalpies [J/kg].
        standard_uncertainty: u(x_1 - x_3) [same unit], 0 or more.
        quantity: what differs, in words, for the sentence.

    Raises:
        OutOfRange: the uncertainty is negative.

    Source: the number is common practice, no source.

    Example:
        >>> [doubt.code for doubt in humidity_doubts(difference=0.0004, standard_uncertainty=0.0003,
        ...     quantity="humidity ratio")]
        ['small_difference_of_humidity_ratio']
    """
    spread = within("uncertainty of the difference", standard_uncertainty, 0.0, 1e9, "").item()
    code = f"small_difference_of_{quantity.replace(' ', '_')}"
    if 0.0 < abs(difference) >= 2.0 * spread * (1.0 - _LAST_BITS) / LARGEST_RELATIVE_HUMIDITY_SPAN_UNCERTAINTY:
        return ()
    if difference == 0.0:
        return (Doubt(code, f"outdoor and return air do not differ in {quantity}"),)
    share = 2.0 * spread / abs(difference)
    most = LARGEST_RELATIVE_HUMIDITY_SPAN_UNCERTAINTY
    return (
        Doubt(
            code,
            f"outdoor and return air differ in {quantity} by an amount known to {share:.0%} only; {most:.0%} may be",
        ),
    )


def _doubts_on_difference(span: float, uncertainty: float) -> Iterator[Doubt]:
    needed = 2.0 * uncertainty / LARGEST_RELATIVE_SPAN_UNCERTAINTY
    if span + _LAST_BITS < needed or span == 0.0:
        yield Doubt(
            "small_difference",
            f"outdoor and return air differ by {span:.1f} K; with these sensors {needed:.1f} K are needed",
        )


def _doubts_on_steadiness(drift: float | None, duration: float | None) -> Iterator[Doubt]:
    if drift is None:
        yield Doubt("drift_not_recorded", "the drift of the entering temperatures was not recorded")
    elif abs(drift) > LARGEST_DRIFT_K + _LAST_BITS:
        yield Doubt("unsteady", f"an entering temperature moved by {abs(drift):.1f} K during the test")
    elif duration is None:
        yield Doubt("duration_not_recorded", "how long the readings took was not recorded")
    elif duration + _LAST_BITS < LEAST_DURATION_S:
        yield Doubt(
            "short_test",
            f"the readings span {duration / 60.0:.0f} min; it takes {LEAST_DURATION_S / 60.0:.0f} to see it steady",
        )


def _doubts_on_closure(closure: float | None, uncertainty: float) -> Iterator[Doubt]:
    spread = within("closure uncertainty", uncertainty, 0.0, 100.0, "").item()
    if closure is not None and abs(closure) - 2.0 * spread > LARGEST_CLOSURE:
        yield Doubt("energy_does_not_close", f"what one stream gives and the other takes differ by {closure:+.0%}")


def _doubts_on_state(
    bypass_closed: bool | None, wheel_at_speed: bool | None, frosted: bool | None, coil_between: bool | None
) -> Iterator[Doubt]:
    states = (
        (bypass_closed, True, "bypass", "the bypass was open", "the bypass damper"),
        (wheel_at_speed, True, "wheel_speed", "the wheel was not at its speed", "the speed of the wheel"),
        (frosted, False, "frost", "the exchanger was frosted or defrosting", "frost on the exchanger"),
        (coil_between, False, "coil", "a coil worked before the supply sensor", "a coil before the supply sensor"),
    )
    for state, wanted, code, sentence, subject in states:
        if state is None:
            yield Doubt(f"{code}_not_recorded", f"the state of {subject} was not recorded")
        elif state is not wanted:
            yield Doubt(code, sentence)
