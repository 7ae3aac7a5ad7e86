"""Adds up what pytest reported: fails unless every collected test ran and passed, wherever it ran and at least once.
Closes with 'N passed, N failed'.

python .ci/tally.py COLLECTED JUNIT_XML...   (COLLECTED is the output of `pytest --collect-only -q`)

A test counts once, however many of the suites ran it; it failed if it failed in any of them.
"""

import re
import sys
import xml.etree.ElementTree as ElementTree
from collections.abc import Sequence
from pathlib import Path


def reported(report: Path) -> tuple[set[str], set[str], list[str]]:
    """Those that passed, those that failed, and those that were skipped or expected to fail, with the reason."""
    passed: set[str] = set()
    failed: set[str] = set()
    skipped: list[str] = []
    for case in ElementTree.parse(report).iter("testcase"):  # noqa: S314  (pytest's own file)
        name = f"{case.get('classname')}::{case.get('name')}"
        if case.find("failure") is not None or case.find("error") is not None:
            failed.add(name)
        elif (skip := case.find("skipped")) is not None:
            skipped.append(f"{name}: {skip.get('message', '')}")
        else:
            passed.add(name)
    return passed, failed, skipped


def collected(text: str) -> int:
    found = re.findall(r"^(\d+) tests? collected", text, flags=re.MULTILINE)
    return int(found[-1]) if found else 0


def main(arguments: Sequence[str]) -> int:
    expected = collected(Path(arguments[0]).read_text())
    passed: set[str] = set()
    failed: set[str] = set()
    skipped: list[str] = []
    empty: list[str] = []
    for report in map(Path, arguments[1:]):
        more, bad, left = reported(report)
        passed, failed, skipped = passed | more, failed | bad, skipped + left
        suite = report.stem.removeprefix("junit-")
        print(f"{suite}: {len(more)} passed, {len(bad)} failed")
        if not (more or bad or left):
            empty.append(suite)
    passed -= failed
    for name in sorted(failed):
        print(f"failed: {name}")
    for name in skipped:
        print(f"skipped, where nothing may be: {name}")
    for suite in empty:
        print(f"the suite on {suite} has no test")
    ran = len(passed) + len(failed)
    if ran != expected:
        print(f"{expected} tests were collected, but {ran} ran")
    print(f"{len(passed)} passed, {len(failed)} failed" + (f", {len(skipped)} skipped" if skipped else ""))
    return 0 if passed and not (failed or skipped or empty) and ran == expected else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
