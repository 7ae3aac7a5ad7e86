"""Writes docs/nomenclature.md and docs/methods.md from the docstrings: `python -m tests.engineering.method_pages`.

The pages are committed; a test holds them against the code, so neither can drift from the other.
"""

from __future__ import annotations

import dataclasses
import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

import commissioning.engineering as package

DOCS = Path(__file__).parents[2] / "docs"
_ENTRY = re.compile(r"^    ([a-z_0-9]+(?:, [a-z_0-9]+)*): (.*)$", re.IGNORECASE)
_UNIT = re.compile(r"\[([^\]]*)\]")


@dataclass(frozen=True)
class Name:
    """One documented parameter or attribute."""

    name: str
    unit: str
    meaning: str
    where: str


def modules() -> Iterator[ModuleType]:
    for entry in sorted(pkgutil.iter_modules(package.__path__), key=lambda entry: entry.name):
        yield importlib.import_module(f"{package.__name__}.{entry.name}")


def public(module: ModuleType, kind: Callable[[Any], bool]) -> Iterator[tuple[str, Any]]:
    for name, value in sorted(vars(module).items()):
        if kind(value) and value.__module__ == module.__name__ and not name.startswith("_"):
            yield name, value


def section(text: str, title: str) -> str:
    """The indented block under 'Title:'; '' where there is none."""
    found = re.search(rf"^{title}:\n((?:    .*\n|\n)+)", text + "\n", re.MULTILINE)
    return found.group(1) if found else ""


def entries(block: str) -> Iterator[tuple[str, str]]:
    """Pairs of name and text in an Args or Attributes block."""
    current: tuple[str, list[str]] | None = None
    for line in block.splitlines():
        found = _ENTRY.match(line)
        if found:
            if current:
                yield current[0], " ".join(current[1])
            current = (found.group(1), [found.group(2)])
        elif current and line.strip():
            current[1].append(line.strip())
    if current:
        yield current[0], " ".join(current[1])


def names() -> list[Name]:
    """Every public parameter and attribute, as documented."""
    found: list[Name] = []
    for module in modules():
        short = module.__name__.rpartition(".")[2]
        documented = [(name, value, "Args") for name, value in public(module, inspect.isfunction)]
        documented += [(name, value, "Attributes") for name, value in public(module, dataclasses.is_dataclass)]
        for owner, value, title in documented:
            for listed, text in entries(section(inspect.getdoc(value) or "", title)):
                unit = _UNIT.search(text)
                meaning = _UNIT.sub("", text, count=1) if unit else text
                found += [
                    Name(name, unit.group(1) if unit else "", _tidy(meaning), f"{short}.{owner}")
                    for name in listed.split(", ")
                ]
    return found


def nomenclature() -> str:
    by_name: dict[str, list[Name]] = {}
    for entry in names():
        by_name.setdefault(entry.name, []).append(entry)
    lines = [
        "# Nomenclature",
        "",
        "Every parameter and attribute of `commissioning/engineering`: one name, one quantity, one unit. A name ends",
        "in its unit where it has one (`airflow_m3_s`); a name without is a ratio, a count, a word, or takes the unit",
        "of the value beside it. Where a name serves in several places, the meaning is that of the first.",
        "",
        "Written from the docstrings by `python -m tests.engineering.method_pages`, and held against them by a test.",
        "",
        "| name | unit | meaning | used by |",
        "| --- | --- | --- | --- |",
    ]
    for name, uses in sorted(by_name.items()):
        units = " or ".join(dict.fromkeys(use.unit for use in uses if use.unit)) or "none"
        where = ", ".join(f"`{use.where}`" for use in uses)
        lines.append(f"| `{name}` | {_cell(units)} | {_cell(uses[0].meaning)} | {where} |")
    return "\n".join(lines) + "\n"


def methods() -> str:
    lines = [
        "# Methods",
        "",
        "Every formula of `commissioning/engineering` with its validity and its source. *From memory* and *common",
        "practice, no source* say what could not be read in a stored source; check those against the purchased",
        "standard before they are printed in a report. Published values that the tests hold the formulas to lie in",
        "`tests/engineering/references/`.",
        "",
        "How often the stated 95 % intervals hold against a known truth: [coverage.md](coverage.md). What small",
        "faults in the formulas the tests notice: [mutation.md](mutation.md).",
        "",
        "Written from the docstrings by `python -m tests.engineering.method_pages`, and held against them by a test.",
    ]
    for module in modules():
        functions = list(public(module, inspect.isfunction))
        if not functions:
            continue
        short = module.__name__.rpartition(".")[2]
        lines += ["", f"## {short}", "", inspect.cleandoc(module.__doc__ or "")]
        for name, function in functions:
            lines += ["", f"### {short}.{name}", "", *_method(inspect.getdoc(function) or "")]
    return "\n".join(lines) + "\n"


def _method(text: str) -> Iterator[str]:
    before = text.partition("\nArgs:")[0].rstrip()
    in_formula = False
    for line in before.splitlines():
        formula = line.startswith("    ")
        if formula != in_formula and (formula or line.strip()):
            yield "```" if in_formula else "```text"
            if in_formula:
                yield ""
            in_formula = formula
        if not (in_formula and not line.strip()):
            yield line[4:] if formula else line
    if in_formula:
        yield "```"
    source = re.search(r"^Source: ((?:.+\n?)+?)(?=\n|\Z)", text, re.MULTILINE)
    ranges = [f"`{name}`: {_tidy(meaning)}" for name, meaning in entries(section(text, "Args"))]
    yield ""
    yield from (f"- {entry}" for entry in ranges)
    yield ""
    yield f"Source: {' '.join(source.group(1).split())}" if source else "Source: none"


def _tidy(text: str) -> str:
    return re.sub(r"\s+([,;.])", r"\1", re.sub(r"\s+", " ", text)).strip()


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


if __name__ == "__main__":
    (DOCS / "nomenclature.md").write_text(nomenclature(), encoding="utf-8")
    (DOCS / "methods.md").write_text(methods(), encoding="utf-8")
