"""Units found by a setting: the page with many snapshots against few, and the sheet against a search without a table.

What most would build keeps the snapshots alone, and looks into each. Ours has a row for each setting, made by judging.
"""

import csv
import io
import random
from datetime import UTC, datetime
from typing import Any

from django.db import connection
from django.test import Client

from commissioning.dossier.canonical import canonical_json
from commissioning.dossier.settings.catalogue import CATALOGUE, Plain, value_of
from commissioning.engineering import units
from commissioning.models import SettingsNow, SettingValue
from commissioning.verdicts.settings_now import in_columns
from portfolio.models import bulk
from tests.bench import world
from tests.bench.pages import ASKED
from tests.bench.settings_rules import LEFT_OUT, other
from tests.bench.timing import Line, cpu, in_turns, percentile, ratio, spent
from tests.kinds.settings_records import values

SETTING = "supply_minimum_airflow"
LEAST_CFM, MOST_CFM = 1.0, 400.0
AT = datetime(2026, 5, 4, 15, 15, tzinfo=UTC)


def lines(few: world.World, plenty: world.World) -> list[Line]:
    dice = random.Random(16)
    for one in (few, plenty):
        _read_all(one, dice)
    if connection.vendor == "postgresql":  # what its own housekeeping does within a minute of such a change
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
    return [_page(few, plenty), _sheet(plenty)]


def _read_all(there: world.World, dice: random.Random) -> None:
    """A snapshot of each unit. What is asked for was read everywhere, so that both sides show a full page."""
    for start in range(0, len(there.positions), 500):
        heads: list[tuple[Any, ...]] = []
        held: list[tuple[Any, ...]] = []
        for position in there.positions[start : start + 500]:
            snapshot: dict[str, Plain] = {
                code: value_of(CATALOGUE.settings[code], other(given, dice))
                for code, given in values().items()
                if code == SETTING or dice.random() > LEFT_OUT
            }
            heads.append((position.pk, "as_left", AT, position.pk, canonical_json(snapshot).decode()))
            held += [(position.pk, code, *in_columns(value)) for code, value in snapshot.items()]
        bulk.insert(SettingsNow, ("position", "moment", "observed_at", "envelope", "values"), heads)
        bulk.insert(SettingValue, ("settings", "code", "number", "word"), held)


def _page(few: world.World, plenty: world.World) -> Line:
    clients = [_client(one) for one in (few, plenty)]
    times: list[list[float]] = [[], []]
    for number in range(ASKED + 3):
        for side in (0, 1) if number % 2 else (1, 0):
            took = spent(lambda client=clients[side]: _get(client, "/settings", LEAST_CFM)).cpu_s  # type: ignore[misc]
            if number >= 3:
                times[side].append(took)
    p95 = [percentile(side, 0.95) for side in times]
    each = [b / a for a, b in zip(sorted(times[0]), sorted(times[1]), strict=True)]
    what = f"search by a setting, p95 with {len(plenty.positions):,} snapshots / with {len(few.positions)}, CPU"
    figures = f"{1e3 * p95[1]:.1f} against {1e3 * p95[0]:.1f} ms"
    return Line("B16a", what, p95[1] / p95[0], min(each), max(each), 3.0, 1.5, more_is_better=False, figures=figures)


def _sheet(plenty: world.World) -> Line:
    client = _client(plenty)

    def ours(_: int) -> int:
        return len(_get(client, "/settings.csv", MOST_CFM).splitlines())

    def without(_: int) -> int:
        """The same cells of the same units, found in the snapshots themselves."""
        sheet = io.StringIO()
        writer = csv.writer(sheet)
        writer.writerow(("Unit", "Project", "Building", "Place", "Value", "Moment", "Read"))
        rows = SettingsNow.objects.visible_to(plenty.person).order_by("position__tag")
        for row in rows.select_related("position__building__site__project").iterator(500):
            held = row.values.get(SETTING)
            if held is not None and held > LEAST_M3_S:
                unit, building = row.position, row.position.building
                place = (unit.tag, building.site.project.name, building.name, unit.location)
                writer.writerow((*place, held, row.moment, row.observed_at.isoformat()))
        return sheet.getvalue().count("\n")

    found = ours(0)
    assert found == without(0) > 100
    taken, plain = in_turns(ours, without)
    return ratio(
        "B16b",
        "what a search found as CSV / the same from the snapshots, without a table of settings, CPU",
        cpu(taken),
        cpu(plain),
        floor=1.5,
        goal=1.0,
        more_is_better=False,
        figures=f"{found - 1:,} of {len(plenty.positions):,} units; {1e3 * min(cpu(taken)):.0f} ms against "
        f"{1e3 * min(cpu(plain)):.0f} ms",
    )


LEAST_M3_S = float(units.to_si(MOST_CFM, "cfm"))


def _client(there: world.World) -> Client:
    client = Client(SERVER_NAME="localhost")
    client.force_login(there.person)
    return client


def _get(client: Client, path: str, above_cfm: float) -> bytes:
    answer = client.get(f"{path}?setting={SETTING}&is=above&value={above_cfm:g}&unit=cfm")
    assert answer.status_code == 200, answer
    return bytes(answer.getvalue())
