"""The house holds: rooms import downwards only, the pure ones know no framework, no file grows past reading."""

import re
import subprocess
import sys
from pathlib import Path

import pytest
from importlinter.cli import lint_imports

ROOT = Path(__file__).resolve().parents[2]
PURE = ("engineering", "blocks", "catalogue", "dossier", "kinds", "requirements", "judging", "logs")
FRAMEWORKS = ("django", "rest_framework", "celery", "reportlab", "portfolio.models")
LONGEST_FILE = 400


def tracked(*suffixes: str) -> list[Path]:
    """Files of the tree as it would be committed."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    paths = [ROOT / name for name in listed.stdout.splitlines()]
    return [path for path in paths if path.is_file() and (not suffixes or path.suffix in suffixes)]


def test_rooms_import_downwards_only(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    assert lint_imports(no_cache=True) == 0, "run lint-imports to see the contract that is broken"


def test_the_pure_rooms_load_no_framework() -> None:
    modules = [
        ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
        for path in tracked(".py")
        if path.parts[len(ROOT.parts)] == "commissioning"
        and path.relative_to(ROOT).parts[1].removesuffix(".py") in PURE
    ]
    assert len(modules) > 10
    script = (
        f"import importlib, sys\nfor name in {modules!r}: importlib.import_module(name)\n"
        f"bad = [m for m in sys.modules if m.split('.')[0] in {FRAMEWORKS!r} or m in {FRAMEWORKS!r}]\n"
        "sys.exit(', '.join(sorted(bad)[:5]) or 0)"
    )
    child = subprocess.run([sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=False)
    assert child.returncode == 0, child.stderr


def test_no_file_is_longer_than_can_be_read() -> None:
    long = {
        str(path.relative_to(ROOT)): lines
        for path in tracked(".py", ".css", ".js", ".html")
        if (lines := len(path.read_text().splitlines())) > LONGEST_FILE and "migrations" not in path.parts
    }
    assert long == {}


def test_no_file_names_where_it_was_made_or_fetched() -> None:
    """No registry's host, no path of the machine it was written on: neither would be true elsewhere."""
    hosts = [host[::-1] for host in ("gro.ipyp", "gro.detsohnohtyp", "gro.sjmpn", "gro.gnalog.yxorp", "gro.naibed.bed")]
    bad = re.compile("|".join(map(re.escape, hosts)) + r"|(?<![\w.}])/" + "work" + r"/\w|--(extra-)?index-url")
    named = []
    for path in tracked():
        try:
            text = path.read_text()
        except UnicodeDecodeError:
            continue
        named += [f"{path.relative_to(ROOT)}: {found.group()}" for found in bad.finditer(text)]
    assert named == []


@pytest.mark.parametrize("word", ["utils", "common", "core", "helpers"])
def test_nothing_is_called_by_a_name_that_says_nothing(word: str) -> None:
    assert [path for path in tracked(".py") if word in {*path.parts[len(ROOT.parts) :], path.stem}] == []
