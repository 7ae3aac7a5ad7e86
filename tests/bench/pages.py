"""The pages that people open first, with a hundred units and with many: what a reader waits for must not grow."""

import statistics

from django.test import Client

from tests.bench import world
from tests.bench.timing import Line, percentile, spent

ASKED = 40
FEW = 100


def lines(few: world.World, plenty: world.World) -> list[Line]:
    found, many = [], len(plenty.positions)
    for code, what, role in (("B4a", "work list", "person"), ("B4b", "owner's dashboard", "owner")):
        clients = [_client(getattr(one, role)) for one in (few, plenty)]
        times: list[list[float]] = [[], []]
        for number in range(ASKED + 3):
            for side in (0, 1) if number % 2 else (1, 0):
                took = spent(lambda client=clients[side]: _get(client)).cpu_s  # type: ignore[misc]
                if number >= 3:
                    times[side].append(took)
        p95 = [percentile(side, 0.95) for side in times]
        middle = [statistics.median(side) for side in times]
        each = [b / a for a, b in zip(sorted(times[0]), sorted(times[1]), strict=True)]
        found.append(
            Line(
                code,
                f"{what}, p95 with {many:,} positions / with {FEW}, CPU",
                p95[1] / p95[0],
                min(each),
                max(each),
                2.0,
                1.3,
                more_is_better=False,
                figures=f"{1e3 * p95[1]:.1f} against {1e3 * p95[0]:.1f} ms; medians {1e3 * middle[1]:.1f}, "
                f"{1e3 * middle[0]:.1f}",
            )
        )
    return found


def stood(name: str, number: int) -> world.World:
    """Ten buildings however many units, so that the pages show the same."""
    made = world.build(name, projects=10, each=number // 10)
    world.stand(made.positions)
    return made


def _client(person: object) -> Client:
    client = Client(SERVER_NAME="localhost")
    client.force_login(person)  # type: ignore[arg-type]
    return client


def _get(client: Client) -> None:
    answer = client.get("/")
    assert answer.status_code == 200, answer
