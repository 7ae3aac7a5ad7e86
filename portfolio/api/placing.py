"""A machine comes into a position, or leaves it: a rule that crosses rows and dates."""

from datetime import date

from portfolio.api.writes import wrong
from portfolio.door.problems import Problem
from portfolio.jobs import queue
from portfolio.models import Installation, Machine, Position


def place_machine(*, position: Position, serial: str, since: date, maker: str = "", model: str = "") -> Installation:
    """Put the machine with that serial into the position. Call it in a transaction.

    What sat there ends on that date: from then on start-up, airflow and settings are due again.
    """
    machine = _machine(position, serial, maker, model)
    present = Installation.objects.filter(position=position, until__isnull=True).first()
    if present is not None:
        if present.machine_id == machine.pk:
            raise Problem(409, "exists", "There is one already", "It sits there.", extra={"id": str(present.pk)})
        end_installation(installation=present, until=since)
    if Installation.objects.filter(machine=machine, until__isnull=True).exists():
        raise Problem(
            409, "machine_elsewhere", "The machine sits elsewhere", "Say first that it was taken out there, and when."
        )
    installation = Installation.objects.create(position=position, machine=machine, since=since)
    queue.want("judge", [position.pk])
    return installation


def end_installation(*, installation: Installation, until: date) -> None:
    if installation.until is not None:
        raise Problem(409, "ended", "It has ended already", f"The machine was taken out on {installation.until}.")
    if until < installation.since:
        raise wrong(
            "/until", "before_since", f"The machine came on {installation.since}.", "Send a date that is not before it."
        )
    installation.until = until
    installation.save(update_fields=["until"])
    queue.want("judge", [installation.position_id])


def _machine(position: Position, serial: str, maker: str, model: str) -> Machine:
    project = position.building.site.project
    machine, _ = Machine.objects.get_or_create(
        project=project, serial=serial, defaults={"maker": maker, "model": model}
    )
    if (maker and machine.maker != maker) or (model and machine.model != model):
        raise wrong(
            "/serial",
            "serial_differs",
            f"{serial} is known as {machine.maker} {machine.model}.",
            "Check the nameplate: a serial is one machine.",
        )
    return machine
