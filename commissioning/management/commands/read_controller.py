"""Reads a unit's controller over BACnet/IP: `manage.py read_controller --address .. --device .. --mapping FILE ..`.

It asks and never writes. What it read goes through the firm's mapping, a file or one that the firm keeps, and is then

- submitted for `--person` at `--unit`, by the same door as a record that comes by HTTP; or
- with `--out FILE` (or `-`) written as JSON: with both ids the envelope as the API takes it, else the payload alone.

Exit code 0: done; 1: something stands against it, each thing named, and nothing was kept or written.
"""

import csv
import io
import json
import uuid
from collections.abc import Sequence
from datetime import datetime
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from django.core.management.base import BaseCommand, CommandError, CommandParser

from commissioning import judging
from commissioning.dossier.envelope import SCHEMA
from commissioning.dossier.problem import Problem
from commissioning.dossier.settings.catalogue import NotASetting
from commissioning.dossier.settings.mapping import HIDDEN, MappingRefused, SettingsMapping, folded, read_mapping
from commissioning.dossier.settings.secrecy import refuse_name, refuse_text
from commissioning.evidence.accept import Refused, Sender, accept
from commissioning.evidence.mappings import mapping_of
from commissioning.models import MappingVersion
from commissioning.models.settings import MappingVersionQuerySet
from portfolio import access
from portfolio.dashboards.sheet import safe
from portfolio.models import Person, Position

if TYPE_CHECKING:
    from commissioning.controllers.visit import Found, Way

MOST_NAMED = 20
NOBODY = uuid.UUID(int=0)
MOMENTS = ("as_ordered", "as_found", "as_left", "follow_up")
ABSENT = (
    "This command needs what an installation does without: bacpypes3. "
    "Install it by pip install --require-hashes -r requirements/bacnet.txt"
)


class Command(BaseCommand):
    help = "Read the settings of a unit's controller over BACnet/IP, without ever writing to it."
    requires_system_checks = []
    requires_migrations_checks = False

    def add_arguments(self, parser: CommandParser) -> None:
        way = parser.add_argument_group("the controller")
        way.add_argument("--address", required=True, help="192.0.2.10:47808, or 2001:21@192.0.2.10 behind a router")
        way.add_argument("--device", required=True, type=int, help="its device instance; another one is refused")
        way.add_argument("--local", default="", help="address of this machine to ask from")
        way.add_argument("--broadcast", default="", help="also ask this broadcast address who has the instance")
        way.add_argument("--wait", type=float, default=3.0, help="seconds that an answer may take (3)")
        way.add_argument("--again", type=int, default=2, help="how often a question is sent again (2)")
        what = parser.add_argument_group("what is read")
        what.add_argument("--list", action="store_true", help="every object as CSV, to write a mapping from; no record")
        what.add_argument("--mapping", type=Path, help="which object is which setting: TOML or JSON")
        what.add_argument("--kept-mapping", default="", metavar="NAME", help="instead the newest that the firm keeps")
        what.add_argument("--firm", default="", help="whose, by name or id, where several keep one of that name")
        what.add_argument("--without", action="append", default=[], metavar="OBJECT", help="not on this controller")
        visit = parser.add_argument_group("the record")
        visit.add_argument("--moment", choices=MOMENTS, default="as_found")
        visit.add_argument("--session", default="", help="of the visit, such as 'AL 2026-05-04' (today's)")
        visit.add_argument("--purpose", choices=("as_left", "verification"), default="as_left")
        visit.add_argument("--final", action="store_true", help="these settings are final")
        where = parser.add_argument_group("where it goes")
        where.add_argument("--unit", default="", help="id of the unit, or its tag with --project")
        where.add_argument("--project", default="", help="code of the project, where --unit is a tag")
        where.add_argument("--person", default="", help="who reads: address or id")
        where.add_argument("--out", default="", help="write it instead, to a new file or - for standard output")
        where.add_argument("--raw", default="", help="also write what the controller answered, to a new file")
        where.add_argument("--dry-run", action="store_true", help="read and check all of it, keep nothing")

    def handle(self, *args: Any, **options: Any) -> None:
        if find_spec("bacpypes3") is None:
            raise CommandError(ABSENT)
        from commissioning.controllers.failures import NotRead

        for place in (options["out"], options["raw"]):
            if place not in ("", "-") and Path(place).exists():
                raise CommandError(f"{place} is there already. Nothing is written over it, so nothing was read.")
        try:
            self._list(options) if options["list"] else self._read(options)
        except NotRead as error:
            raise CommandError(_told(error.reason, error.remedy, error.problems)) from None
        except OSError as error:
            raise CommandError(f"{error.filename}: {error.strerror}") from None

    def _list(self, options: dict[str, Any]) -> None:
        from commissioning.controllers.visit import list_controller

        found = list_controller(_way(options))
        self._put(options["out"] or "-", _csv(found))
        for problem in found.reading.problems:
            self.stderr.write(_line(problem))

    def _read(self, options: dict[str, Any]) -> None:
        from commissioning.controllers.record import raw_of, sources_of
        from commissioning.controllers.visit import read_controller

        unit, person = self._whose(options)
        mapping = _mapping(options, unit, person)
        sources = sources_of(mapping, options["without"])
        found = read_controller(_way(options), sources)
        envelope = _envelope(found, mapping, options, unit, person)
        told = f"{len(envelope['payload']['values'])} settings from {len(sources)} objects of {found.address}"
        if options["dry_run"]:
            self.stdout.write(f"{told}. Nothing is kept.")
            return
        if isinstance(person, Person):
            self._submit(person, envelope, told)
        else:
            self._put(options["out"] or "-", _json(envelope if unit else envelope["payload"]))
        if options["raw"]:
            self._put(options["raw"], raw_of(found.reading, found.address, found.at))

    def _whose(self, options: dict[str, Any]) -> tuple[uuid.UUID | None, Person | uuid.UUID | None]:
        """Unit and person: by id where it is written down for later, else as the database knows them."""
        unit, person = options["unit"], options["person"]
        if bool(unit) != bool(person):
            raise CommandError("A unit and a person belong together: name both or neither.")
        if not unit:
            return None, None
        if options["out"]:
            try:
                return uuid.UUID(unit), uuid.UUID(person)
            except ValueError:
                raise CommandError("For --out name unit and person by their ids: nothing is looked up then.") from None
        sender = _person(person)
        return _unit(sender, unit, options["project"]), sender

    def _submit(self, person: Person, envelope: dict[str, Any], told: str) -> None:
        outcome = accept(Sender(person), [_json(envelope)])[0]
        if isinstance(outcome, Refused):
            raise CommandError(_told(outcome.detail, "Nothing is kept.", outcome.problems))
        self.stdout.write(f"{told}: kept as {json.loads(outcome.receipt)['id']}.")

    def _put(self, place: str, data: bytes) -> None:
        if place == "-":
            self.stdout.write(data.decode())
        else:
            with Path(place).open("xb") as file:  # never over another one
                file.write(data)


def _envelope(
    found: "Found",
    mapping: SettingsMapping,
    options: dict[str, Any],
    unit: uuid.UUID | None,
    person: Person | uuid.UUID | None,
) -> dict[str, Any]:
    """As the API takes it, and seen to be without fault: what has one is not sent at all."""
    from commissioning.controllers.record import Visit, payload_of

    stage = "final" if options["final"] else "preliminary"
    zone = _zone_of(unit) if unit and isinstance(person, Person) else "UTC"
    session = options["session"] or session_on(found.at, zone)
    visit = Visit(options["moment"], session, options["purpose"], stage)
    envelope = {
        "schema": SCHEMA,
        "id": str(uuid.uuid4()),
        "kind": "settings",
        "position": str(unit or NOBODY),
        "observed_at": found.at.isoformat(),
        "observed_by": str(person.pk if isinstance(person, Person) else person or NOBODY),
        "payload": payload_of(found.reading, mapping, visit, address=found.address, at=found.at),
    }
    problems = judging.read_envelope(_json(envelope)).problems
    if problems:
        raise CommandError(_told("This would be no record, so nothing is kept.", "See each one.", problems))
    return envelope


def _zone_of(unit: uuid.UUID) -> str:
    return Position.objects.values_list("building__site__time_zone", flat=True).get(pk=unit)


def session_on(at: datetime, zone: str) -> str:
    """Named as the forms name it, by the day at the site: settings hold for the finals of their own session.

    >>> session_on(datetime.fromisoformat("2026-05-05T01:30:00+00:00"), "America/Chicago")
    'AL 2026-05-04'
    """
    return f"AL {at.astimezone(ZoneInfo(zone)):%Y-%m-%d}"


def _way(options: dict[str, Any]) -> "Way":
    from commissioning.controllers.client import Patience
    from commissioning.controllers.link import EVERY
    from commissioning.controllers.visit import Way

    if not (0.0 < options["wait"] <= 60.0 and 0 <= options["again"] <= 10):
        raise CommandError("--wait is up to 60 seconds, --again up to 10 times.")
    return Way(
        options["address"],
        options["device"],
        options["broadcast"],
        options["local"] or EVERY,
        Patience(options["wait"], options["again"]),
    )


def _mapping(options: dict[str, Any], unit: uuid.UUID | None, person: Person | uuid.UUID | None) -> SettingsMapping:
    path, name = options["mapping"], options["kept_mapping"]
    if bool(path) == bool(name):
        told = "Name --mapping FILE or --kept-mapping NAME, one of them; --list shows the objects."
        raise CommandError(f"Which object is which setting? {told}")
    try:
        if path:
            return read_mapping(path.read_bytes())
        rows, whose = MappingVersion.objects.all(), options["firm"]
        if isinstance(person, Person):
            rows = rows.visible_to(person)
            theirs = Position.objects.filter(pk=unit or NOBODY).values("building__site__project__firm")
            rows = rows if whose else rows.filter(firm__in=theirs)
        return mapping_of(_kept(rows, name.strip(), whose.strip()))
    except MappingRefused as refused:
        told = f"{name or path.name} cannot be used."
        raise CommandError(_told(told, "See each one.", refused.problems)) from None


def _kept(rows: MappingVersionQuerySet, name: str, firm: str) -> MappingVersion:
    """The newest version of the one family of this name, or the version of this id."""
    if firm:
        known = _uuid(firm)
        rows = rows.filter(firm=known) if known else rows.filter(firm__name__iexact=firm)
        if not rows.exists():
            raise CommandError(f"No firm that keeps a mapping is called {firm}. Name it in full, or by its id.")
    given = _uuid(name)
    found = rows.filter(pk=given) if given else rows.newest().filter(family_key=folded(name))
    fitting = list(found.select_related("firm").order_by("firm__name", "pk"))
    if len(fitting) == 1:
        return fitting[0]
    if fitting:
        firms = ", ".join(f"{one.firm.name} ({one.firm_id})" for one in fitting[:MOST_NAMED])
        raise CommandError(f"{len(fitting)} firms keep a mapping called {name}: {firms}. Name one of them by --firm.")
    kept = ", ".join(map(str, rows.newest().defer("raw").order_by("family_key")[:MOST_NAMED]))
    raise CommandError(f"No kept mapping is called {name}. {f'Kept here: {kept}.' if kept else 'None is kept here.'}")


def _person(named: str) -> Person:
    people = Person.objects.filter(is_active=True)
    given = _uuid(named)
    found = people.filter(pk=given) if given else people.filter(email__iexact=named.strip())
    person = found.first()
    if person is None:
        raise CommandError(f"Nobody is called {named}.")
    return person


def _unit(person: Person, named: str, project: str) -> uuid.UUID:
    """What this person may not see does not exist here either."""
    seen = Position.objects.visible_to(person)
    given = _uuid(named)
    if given is not None:
        found = seen.filter(pk=given)
    elif project:
        found = seen.filter(tag=named, building__site__project__code=project)
    else:
        raise CommandError(f"{named} is no id: a tag needs the project's code with it, --project.")
    ids = list(found.order_by("pk").values_list("pk", flat=True)[:2])
    if len(ids) != 1:
        many = "more than one unit is" if ids else "no unit that this person may see is"
        raise CommandError(f"In this place {many} called {named}. Name the unit by its id.")
    answer = access.may(person, "submit_evidence", Position.lie(set(ids))[ids[0]])
    if isinstance(answer, access.Denied):
        raise CommandError(f"{answer.reason} The controller was not asked.")
    return ids[0]


def _uuid(text: str) -> uuid.UUID | None:
    try:
        return uuid.UUID(text)
    except ValueError:
        return None


def _csv(found: "Found") -> bytes:
    """What each object is called and holds; what looks like a secret is not shown."""
    text = io.StringIO()
    sheet = csv.writer(text, lineterminator="\n")
    sheet.writerow(("object", "value", "unit", "called", "status"))
    for one in found.reading.points:
        called = found.names[one.source]
        value = HIDDEN if _is_secret(called, str(one.value)) else one.value
        row = (str(one.source), value, one.unit or one.stated, called, "; ".join(one.remarks))
        sheet.writerow(safe(cell) for cell in row)
    return text.getvalue().encode()


def _is_secret(name: str, value: str) -> bool:
    try:
        refuse_name(name)
        refuse_text(value)
    except NotASetting:
        return True
    return False


def _json(data: dict[str, Any]) -> bytes:
    return json.dumps(data, ensure_ascii=False, indent=1).encode()


def _told(reason: str, remedy: str, problems: Sequence[Problem]) -> str:
    return "\n".join([f"{reason} {remedy}", *map(_line, problems)])


def _line(problem: Problem) -> str:
    shown = f" ({problem.value})" if problem.value else ""
    return f"- {problem.pointer}{shown}: {problem.reason} {problem.remedy}"
