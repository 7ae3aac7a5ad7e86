"""Reading a log in a process of its own, under limits: `python -m commissioning.logs.child ORDER`.

The order is JSON on the command line's file: {"raw": path, "mapping": {..} or null, "parquet": path, "memory_mb": n,
"seconds": n}. The answer is JSON on the standard output. Without a mapping, or with one
that names no point yet, the file is looked at only. What cannot be read is an answer; only what breaks the limits
ends the process.
"""

import json
import resource
import sys
from pathlib import Path
from typing import Any


def main(place: str) -> int:
    order = json.loads(Path(place).read_text("utf-8"))
    _limit(order["memory_mb"], order["seconds"])
    print(json.dumps(_answer(order), ensure_ascii=False))
    return 0


def _limit(memory_mb: int, seconds: int) -> None:
    """Before anything large is loaded: address space, processor time, size of what is written, and no core."""
    size = memory_mb * 1024 * 1024
    resource.setrlimit(resource.RLIMIT_AS, (size, size))
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 5))
    resource.setrlimit(resource.RLIMIT_FSIZE, (1 << 30, 1 << 30))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _answer(order: dict[str, Any]) -> dict[str, Any]:
    from commissioning.logs.mapping import LogMapping
    from commissioning.logs.understand import understand

    data = Path(order["raw"]).read_bytes()
    mapping = LogMapping.model_validate(order["mapping"]) if order["mapping"] is not None else None
    if mapping is None or not mapping.points:
        return {"seen": understand(data, mapping).to_json()}
    return {"result": _converted(data, mapping, Path(order["parquet"]))}


def _converted(data: bytes, mapping: Any, place: Path) -> dict[str, Any]:
    from dataclasses import asdict

    from commissioning.logs.convert import convert
    from commissioning.logs.problems import told
    from commissioning.logs.store import write

    held = convert(data, mapping)
    if not held.problems:
        write(place, [(one.point, one.times_s, one.values) for one in held.series])
    return {
        "problems": told(held.problems),
        "repairs": told(held.repairs),
        "left_out": list(held.left_out[:500]),
        "points": [asdict(one.point) for one in held.series],
        "samples": held.samples,
    }


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
