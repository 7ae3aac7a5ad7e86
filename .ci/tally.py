"""Adds up what pytest reported: fails unless every collected test ran and passed. Closes with 'N passed, N failed'.

python .ci/tally.py COLLECTED JUNIT_XML...   (COLLECTED is the output of `pytest --collect-only -q`)
"""

import re
import sys
import xml.etree.ElementTree as ElementTree
from collections.abc import Sequence
from pathlib import Path


def reported(report: Path) -> tuple[int, list[str], list[str]]:
    """How many passed, and the names of those that failed and of those that were skipped or expected to fail."""
    passed = 0
    failed: list[str] = []
    skipped: list[str] = []
    for case in ElementTree.parse(report).iter("testcase"):  # noqa: S314  (pytest's own file)
        name = f"{case.get('classname')}::{case.get('name')}"
        if case.find("failure") is not None or case.find("error") is not None:
            failed.append(name)
        elif (skip := case.find("skipped")) is not None:
            skipped.append(f"{name}: {skip.get('message', '')}")
        else:
            passed += 1
    return passed, failed, skipped


def collected(text: str) -> int:
    found = re.findall(r"^(\d+) tests? collected", text, flags=re.MULTILINE)
    return int(found[-1]) if found else 0


def main(arguments: Sequence[str]) -> int:
    expected = collected(Path(arguments[0]).read_text())
    passed = 0
    failed: list[str] = []
    skipped: list[str] = []
    empty: list[str] = []
    for report in arguments[1:]:
        more, bad, left = reported(Path(report))
        passed, failed, skipped = passed + more, failed + bad, skipped + left
        if not (more or bad or left):
            empty.append(Path(report).stem.removeprefix("junit-"))
    for name in failed:
        print(f"failed: {name}")
    for name in skipped:
        print(f"skipped, where nothing may be: {name}")
    for name in empty:
        print(f"the suite on {name} has no test")
    ran = passed + len(failed) + len(skipped)
    if ran != expected:
        print(f"{expected} tests were collected, but {ran} ran")
    print(f"{passed} passed, {len(failed)} failed" + (f", {len(skipped)} skipped" if skipped else ""))
    return 0 if passed and not (failed or skipped or empty) and ran == expected else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
