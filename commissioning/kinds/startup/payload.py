"""What is sent of a start: permissives, dampers and fans with their times, losses of proof, or why it does not run.

A time is a span since the start command, as a stopwatch shows it, or a moment of the clock; with moments the start
command's own moment is needed. Spans of the stop count from the stop command.
"""

from collections.abc import Iterator
from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import Discriminator, Field, StringConstraints, Tag, model_validator

from commissioning.dossier import quantities as q
from commissioning.dossier.envelope import Moment
from commissioning.dossier.field_record import FieldRecord, Line, Session
from commissioning.dossier.startup.words import CAUSES

Named = Annotated[str, StringConstraints(min_length=2, max_length=200, strip_whitespace=True)]
Note = Annotated[str, StringConstraints(max_length=1000)]
Permissive = Literal["given", "missing", "not_applicable", "not_seen"]
Hours = Annotated[q.Number, Field(ge=0.0, le=50_000.0)]


def _form(given: Any) -> str:
    return "span" if isinstance(given, dict | q.Quantity) else "moment"


Time = Annotated[
    Annotated[q.Duration, Tag("span")] | Annotated[Moment, Tag("moment")],
    Discriminator(_form),
]


class Permissives(q.Closed):
    """What has to be there before a start. What is bypassed or jumpered is missing."""

    power: Permissive = "not_seen"
    enable: Permissive = "not_seen"
    schedule: Permissive = "not_seen"
    network: Permissive = "not_seen"
    external_interlock: Permissive = "not_seen"
    smoke_input: Permissive = "not_seen"
    safeties: Permissive = "not_seen"
    dampers_free: Permissive = "not_seen"
    doors: Permissive = "not_seen"


class DamperStart(q.Closed):
    """`proof`: by what its open position is known. `closed` counts from the stop command."""

    damper: Literal["outdoor", "exhaust", "supply", "return", "bypass", "recirculation"]
    opening: Literal["seen", "stays_closed", "not_seen"] = "not_seen"
    proof: Literal["end_switch", "position_signal", "by_eye", "none"] = "none"
    commanded: Time | None = None  # with the start command, where it is left out
    proven: Time | None = None
    closed: q.Duration | None = None

    @model_validator(mode="after")
    def _proof_is_of_something(self) -> "DamperStart":
        if self.proven is not None and (self.proof == "none" or self.opening == "stays_closed"):
            raise ValueError("it is said when the damper was proven open: say by what, and that it opened")
        return self


class Current(q.Closed):
    seen: Literal["flows", "none", "not_seen"] = "not_seen"
    at: Time | None = None

    @model_validator(mode="after")
    def _seen_when(self) -> "Current":
        if self.at is not None and self.seen != "flows":
            raise ValueError("it is said when the current was proven, and not that it flows")
        return self


class AirProof(q.Closed):
    """That the air moves, by a pressure or a flow: a current is no proof of it."""

    seen: Literal["moves", "still", "not_seen"] = "not_seen"
    by: Literal["pressure_rise", "pressure_switch", "airflow_reading", "airflow_station"] | None = None
    at: Time | None = None

    @model_validator(mode="after")
    def _seen_how(self) -> "AirProof":
        if self.at is not None and self.seen != "moves":
            raise ValueError("it is said when the air was proven, and not that it moves")
        if (self.seen == "moves") != (self.by is not None):
            raise ValueError("say by what it was seen that the air moves, and only then")
        return self


class Loss(q.Closed):
    """Proof lost while commanded. Without `lasted` it did not come back. `alarm`: when the alarm was logged."""

    of: Literal["current", "air"] = "air"
    at: Time
    lasted: q.Duration | None = None
    alarm: Time | None = None
    on_purpose: bool = False


class Settled(q.Closed):
    """Simple readings once the unit had settled: shown, never judged. Motors, airflow and pressure have own records."""

    after: q.Duration | None = None
    speed: q.Speed | None = None
    pressure_rise: q.Pressure | None = None
    airflow: q.Airflow | None = None

    @model_validator(mode="after")
    def _something(self) -> "Settled":
        if self.speed is None and self.pressure_rise is None and self.airflow is None:
            raise ValueError("say what was read after settling: speed, pressure rise or airflow")
        return self


class FanStart(q.Closed):
    """`electrical`: where the readings of its motor are. `stopped` counts from the stop command."""

    fan: Literal["supply", "exhaust"]
    command: Literal["on", "off"] = "on"
    commanded: Time | None = None
    current: Current = Current()
    air: AirProof = AirProof()
    rotation: Literal["correct", "reversed", "not_seen"] = "not_seen"
    rotation_by: Literal["run_down", "short_start", "mark_on_shaft"] | None = None
    lost: Annotated[list[Loss], Field(max_length=50)] = []
    stopped: q.Duration | None = None
    settled: Settled | None = None
    electrical: Literal["in_electrical_record", "none_apply", "not_taken"] = "not_taken"

    @model_validator(mode="after")
    def _hangs_together(self) -> "FanStart":
        if (self.rotation == "not_seen") != (self.rotation_by is None):
            raise ValueError("say how its rotation was seen, and only then")
        if self.command == "off" and (self.commanded is not None or self.lost):
            raise ValueError("it is said not to be commanded, and when it was, or when proof was lost")
        return self


class Limits(q.Closed):
    """Delays that somebody gave, with their source; else those of the controller's settings count."""

    damper_proof: q.Duration | None = None
    fan_proof: q.Duration | None = None
    exhaust_after_supply: q.Duration | None = None
    source: Named


class NotRunning(q.Closed):
    """Why it does not run, and who unblocks it: by company, by trade, or as the cause usually is."""

    cause: Literal[
        "no_power",
        "safety_hold",
        "not_enabled",
        "interlock_open",
        "fire_alarm",
        "safety_trip",
        "controls_not_ready",
        "damper_stays_closed",
        "fan_does_not_turn",
        "motor_protection",
        "part_missing",
        "other",
    ]
    note: Note = ""
    trade: Literal["mechanical", "electrical", "controls", "fire_alarm", "balancing", "general"] | None = None
    company: Line = ""

    @property
    def unblocked_by(self) -> str:
        return self.trade or CAUSES[self.cause][1]

    @model_validator(mode="after")
    def _somebody_unblocks_it(self) -> "NotRunning":
        if self.cause == "other" and not self.note.strip():
            raise ValueError("for another cause say in the note which")
        if not self.unblocked_by and not self.company.strip():
            raise ValueError("for another cause say who unblocks it: a trade or a company")
        return self


class TemporaryOperation(q.Closed):
    """A unit that runs for somebody's convenience before it is commissioned. Without `until` it still does."""

    since: q.Day
    until: q.Day | None = None
    hours: Line = ""  # of the day, as 06:00 to 18:00
    hours_run: Hours | None = None
    filters: Literal["construction", "final", "none", "not_seen"]
    allowed_by: Named
    company: Line = ""

    @model_validator(mode="after")
    def _ends_after_it_began(self) -> "TemporaryOperation":
        if self.until is not None and self.until < self.since:
            raise ValueError(f"it ends on {self.until}, before it began on {self.since}")
        return self


class StartupPayload(FieldRecord):
    """A start is seen as it happens, so the frame has its usual values. `controller`: whether there are settings."""

    stage: Literal["preliminary", "final"] = "final"
    session: Session = Session(id="start", purpose="as_left")
    grade: Literal["measured", "witnessed", "transcribed", "controller"] = "witnessed"
    start_command: Moment | None = None
    permissives: Permissives = Permissives()
    dampers: Annotated[list[DamperStart], Field(max_length=6)] = []
    fans: Annotated[list[FanStart], Field(max_length=2)] = []
    limits: Limits | None = None
    controller: Literal["present", "none"] = "present"
    not_running: NotRunning | None = None
    temporary_operation: TemporaryOperation | None = None

    @model_validator(mode="after")
    def _says_something(self) -> "StartupPayload":
        seen = any(one != "not_seen" for one in self.permissives.model_dump().values())
        if not (seen or self.dampers or self.fans or self.not_running or self.temporary_operation):
            raise ValueError("nothing was seen or done in it; give permissives, a damper, a fan, or why it stands")
        for what, names in (("damper", [d.damper for d in self.dampers]), ("fan", [f.fan for f in self.fans])):
            if len(names) != len(set(names)):
                raise ValueError(f"a {what} stands twice in one start; send what holds")
        if self.not_running and self.fans and all(one.air.seen == "moves" for one in self.fans):
            raise ValueError("it is said not to run, and every fan in it moves air; send what holds")
        return self

    @model_validator(mode="after")
    def _times_count_from_the_start(self) -> "StartupPayload":
        for what, time in self._times():
            if not isinstance(time, datetime):
                continue
            if self.start_command is None:
                raise ValueError(f"{what} is a moment of the clock: give the moment of `start_command` too")
            span = (time - self.start_command).total_seconds()
            if not 0.0 <= span <= 86_400.0:
                raise ValueError(f"{what}, {time.isoformat()}, does not lie in the day after the start command")
        for fan in self.fans:
            self._losses_follow(fan)
        return self

    def _times(self) -> Iterator[tuple[str, Any]]:
        for damper in self.dampers:
            yield from ((f"the {damper.damper} damper's time", one) for one in (damper.commanded, damper.proven))
        for fan in self.fans:
            held = (fan.commanded, fan.current.at, fan.air.at, *(t for one in fan.lost for t in (one.at, one.alarm)))
            yield from ((f"the {fan.fan} fan's time", one) for one in held)

    def _losses_follow(self, fan: FanStart) -> None:
        commanded = self.offset(fan.commanded)
        for one in fan.lost:
            at, alarm = self.offset(one.at), self.offset(one.alarm)
            assert at is not None
            if commanded is not None and at < commanded:
                raise ValueError(f"proof of the {fan.fan} fan was lost at {at:g} s, before its command")
            if alarm is not None and alarm < at:
                raise ValueError(f"the alarm of the {fan.fan} fan came at {alarm:g} s, before proof was lost")

    def offset(self, time: Any) -> float | None:
        """Seconds since the start command."""
        if isinstance(time, datetime):
            assert self.start_command is not None
            return (time - self.start_command).total_seconds()
        return None if time is None else q.si(time)


def facts(payload: StartupPayload) -> tuple[bool, str]:
    """Lists show no session: a start belongs to none."""
    return payload.stage == "final", ""
