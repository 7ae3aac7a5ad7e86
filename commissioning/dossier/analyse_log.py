"""Analysing a kept log in a process of its own, under limits: `python -m commissioning.dossier.analyse_log ORDER`.

The order is a JSON file: {"parquet": path, "file": hash, "mapping": hash, "points": [{"role", "name"}], "plan": {..},
"memory_mb": n, "seconds": n}. The answer, what a judging document carries of the log, is JSON on the standard output.
"""

import json
import resource
import sys
from pathlib import Path
from typing import Any


def main(place: str) -> int:
    order = json.loads(Path(place).read_text("utf-8"))
    size, seconds = order["memory_mb"] * 1024 * 1024, order["seconds"]
    resource.setrlimit(resource.RLIMIT_AS, (size, size))
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 5))
    resource.setrlimit(resource.RLIMIT_FSIZE, (1 << 28, 1 << 28))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    print(json.dumps(answer(order), ensure_ascii=False))
    return 0


def answer(order: dict[str, Any]) -> dict[str, Any]:
    from commissioning.dossier.trend_logs import analysed, series_of
    from commissioning.dossier.trends import Plan
    from commissioning.logs.store import open_log

    series = series_of(open_log(Path(order["parquet"])), order["points"])
    plan = Plan.model_validate(order["plan"])
    return analysed(series, plan, file=order["file"], mapping=order["mapping"])


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
