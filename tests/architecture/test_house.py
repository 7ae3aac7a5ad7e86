"""What the papers around the code say is so: commands, settings, pinned packages, the image and the services."""

import ast
import re
import subprocess
import sys
import xml.etree.ElementTree as ElementTree
from pathlib import Path
from typing import Any

import pytest
import yaml

from portfolio.celery import app

ROOT = Path(__file__).resolve().parents[2]
OPERATIONS = ROOT / "docs" / "operations.md"
TOP_LEVEL = {
    *("README.md", "DEVELOPERS.md", "pyproject.toml", "manage.py", "docker-compose.yml"),
    *("portfolio", "commissioning", "tests", "fixtures", "docs"),
    *("Makefile", "Dockerfile", "LICENSE", "CHANGELOG.md", "requirements"),  # what tools insist on
}
PINNED = ("run", "bacnet", "dev")


def text(*parts: str) -> str:
    return ROOT.joinpath(*parts).read_text(encoding="utf-8")


def table_of(heading: str) -> dict[str, str]:
    """The first two columns of the table under a heading of docs/operations.md."""
    section = re.search(rf"^## {heading}$(.*?)(?=^## |\Z)", OPERATIONS.read_text(), re.MULTILINE | re.DOTALL)
    assert section, f"docs/operations.md has no section {heading!r}"
    rows = re.findall(r"^\| `([^`]+)` \| (.+?) \|", section.group(1), re.MULTILINE)
    assert rows
    return dict(rows)


# --- the top level and its commands ------------------------------------------------------------------------------
def test_nothing_lies_at_the_top_but_what_belongs_there() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True)
    found = {name.split("/")[0] for name in listed.stdout.splitlines()}
    assert {name for name in found if not name.startswith(".")} == TOP_LEVEL


def targets() -> set[str]:
    return set(re.findall(r"^([a-z]+):(?!=)", text("Makefile"), re.MULTILINE))


def test_the_makefile_has_the_commands_that_the_papers_name() -> None:
    named = {
        target
        for page in (ROOT / "README.md", ROOT / "DEVELOPERS.md", *ROOT.glob("docs/**/*.md"))
        for target in re.findall(r"(?:^    |`)make ([a-z]+)", page.read_text(), re.MULTILINE)
    }
    assert {"demo", "test", "check", "bench", "serve", "lock"} <= targets()
    assert named <= targets()


def test_the_readme_gives_two_commands() -> None:
    block = re.search(r"## Two commands\n.*?\n\n((?:    [^\n]+\n)+)", text("README.md"), re.DOTALL)
    assert block
    assert block.group(1).split("\n")[:-1] == ["    make demo", "    make test"]


def test_check_is_exactly_what_ci_runs() -> None:
    recipe = re.search(r"^check:\n((?:\t.+\n)+)", text("Makefile"), re.MULTILINE)
    assert recipe
    assert recipe.group(1).split() == ["@bash", ".ci/run"]
    subprocess.run(["bash", "-n", str(ROOT / ".ci" / "run")], check=True)


def test_a_python_that_is_too_old_or_absent_is_said_clearly(tmp_path: Path) -> None:
    for name in ("Makefile", "requirements"):
        (tmp_path / name).symlink_to(ROOT / name)
    old = tmp_path / "old-python"
    old.write_text('#!/bin/sh\n[ "$1" = --version ] && echo "Python 3.9.2"\nexit 1\n')
    old.chmod(0o755)
    for given, said in ((str(old), "Python 3.11 or newer is needed"), ("", "No Python 3.11 or newer")):
        made = subprocess.run(
            ["make", "demo", f"PYTHON={given}"], cwd=tmp_path, capture_output=True, text=True, check=False
        )
        assert made.returncode != 0
        assert said in made.stdout


# --- requirements ------------------------------------------------------------------------------------------------
def pins(name: str) -> dict[str, tuple[str, str]]:
    """Package -> (version, everything after it) of a pinned file."""
    joined = text("requirements", f"{name}.txt").replace("\\\n", " ")
    lines = [line for line in joined.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    found = [re.match(r"([A-Za-z0-9._-]+)(?:\[[a-z,]+\])?==(\S+)(.*)", line) for line in lines]
    assert all(found), [line for line, match in zip(lines, found, strict=True) if not match]
    return {match[1]: (match[2], match[3]) for match in found if match}


@pytest.mark.parametrize("name", PINNED)
def test_every_requirement_is_pinned_by_hash_and_names_no_address(name: str) -> None:
    pinned = text("requirements", f"{name}.txt")
    assert "://" not in pinned
    assert not re.search(r"^-", pinned, re.MULTILINE), "an option for pip"
    assert [package for package, (_, rest) in pins(name).items() if "--hash=sha256:" not in rest] == []


@pytest.mark.parametrize("name", PINNED)
def test_every_range_has_its_pin(name: str) -> None:
    wanted = re.findall(r"^([A-Za-z0-9._-]+)", text("requirements", f"{name}.in"), re.MULTILINE)
    pinned = {package.lower() for package in pins(name)}
    assert {package.lower() for package in wanted if not package.startswith("-")} <= pinned


def test_the_tests_run_on_what_the_server_runs_on() -> None:
    run, dev = pins("run"), pins("dev")
    assert {package: version for package, (version, _) in run.items() if dev[package][0] != version} == {}


def test_what_is_imported_is_required_and_what_is_required_is_used() -> None:
    rooms = ["portfolio", "commissioning", "fixtures", "tests"]
    command = [sys.executable, "-m", "deptry", "--no-ansi", "--config", ".ci/deptry.toml", *rooms]
    told = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert told.returncode == 0, told.stderr


# --- settings ----------------------------------------------------------------------------------------------------
def test_every_variable_that_is_read_is_documented() -> None:
    read = {
        call.args[0].value
        for call in ast.walk(ast.parse(text("portfolio", "settings.py")))
        if isinstance(call, ast.Call)
        and isinstance(call.func, ast.Attribute)
        and isinstance(call.func.value, ast.Name)
        and call.func.value.id == "env"
        and isinstance(call.args[0], ast.Constant)
    }
    assert len(read) > 8
    assert read == set(table_of("Environment"))


def configured() -> dict[str, Any]:
    """What portfolio/celery.py sets, by its own keywords; the broker's address is told under Environment."""
    (call,) = [
        node
        for node in ast.walk(ast.parse(text("portfolio", "celery.py")))
        if isinstance(node, ast.Call) and ast.unparse(node.func) == "app.conf.update"
    ]
    names = {keyword.arg for keyword in call.keywords if keyword.arg} - {"broker_url"}
    flat: dict[str, Any] = {}
    for name in names:
        value = app.conf[name]
        if isinstance(value, dict):
            flat |= {f"{name}.{key}": inner for key, inner in value.items()}
        else:
            flat[name] = value
    return flat


def test_celery_is_set_as_the_operations_page_says() -> None:
    written = {name: ast.literal_eval(value) for name, value in table_of("Celery").items()}
    assert configured() == written


# --- the image and the services ----------------------------------------------------------------------------------
def instructions() -> list[tuple[str, str]]:
    joined = re.sub(r"\\\n", " ", text("Dockerfile"))
    lines = [line.strip() for line in joined.splitlines() if line.strip() and not line.startswith("#")]
    return [(word, rest) for word, _, rest in (line.partition(" ") for line in lines)]


def compose() -> dict[str, Any]:
    found = yaml.safe_load(text("docker-compose.yml"))
    assert isinstance(found, dict)
    return found


def names_a_host(image: str) -> bool:
    first, slash, _ = image.partition("/")
    return bool(slash) and ("." in first or ":" in first or first == "localhost")


def test_the_image_is_built_in_two_stages_and_runs_as_nobody_special() -> None:
    lines = instructions()
    stages = [rest for word, rest in lines if word == "FROM"]
    assert len(stages) == 2
    assert all(stage.startswith("python:3.11-slim") and not names_a_host(stage) for stage in stages)
    final = lines[max(i for i, (word, _) in enumerate(lines) if word == "FROM") :]
    users = [rest for word, rest in final if word == "USER"]
    assert users
    assert not any(user.split(":")[0] in {"root", "0"} for user in users)
    assert any(word == "HEALTHCHECK" and "/healthz" in rest for word, rest in final)
    assert not any(word == "ADD" for word, _ in lines)


def test_the_image_installs_by_hash_and_from_wheels() -> None:
    installs = [rest for word, rest in instructions() if word == "RUN" and "pip install" in rest]
    assert len(installs) == 1
    assert {"--require-hashes", "--only-binary", "-r"} <= set(installs[0].split())
    assert "index" not in installs[0]


def test_the_image_gets_only_what_runs() -> None:
    ignored = [line for line in text(".dockerignore").splitlines() if line and not line.startswith("#")]
    assert ignored[0] == "*"
    for let_in in (line[1:] for line in ignored if line.startswith("!")):
        assert (ROOT / let_in).exists()
        assert let_in.split("/")[0] not in {"tests", "fixtures", "var", "secrets"}


def test_the_services_are_those_of_the_operations_page() -> None:
    assert set(compose()["services"]) == {"migrate", "web", "relay", "worker", "postgres", "redis"}
    for name, service in compose()["services"].items():
        assert not names_a_host(service["image"]), name
        assert "privileged" not in service


def test_nothing_of_ours_starts_before_the_tables_are_there() -> None:
    services = compose()["services"]
    assert services["migrate"]["restart"] == "no"
    assert services["migrate"]["depends_on"]["postgres"] == {"condition": "service_healthy"}
    for name in ("web", "relay", "worker"):
        assert services[name]["depends_on"]["migrate"] == {"condition": "service_completed_successfully"}
    assert "redis" not in services["web"]["depends_on"], "the web must start and serve without a broker"


def test_secrets_come_as_files_and_none_is_written_down() -> None:
    held = compose()
    assert all(set(secret) == {"file"} for secret in held["secrets"].values())
    known = set(table_of("Environment"))
    for name, service in held["services"].items():
        assert set(service.get("secrets", [])) <= set(held["secrets"])
        for variable, value in service.get("environment", {}).items():
            if re.search(r"SECRET|PASSWORD|DATABASE_URL", variable):
                assert variable.endswith("_FILE"), (name, variable)
                assert value.startswith("/run/secrets/")
            if name in ("web", "relay", "worker", "migrate"):
                assert variable.removesuffix("_FILE") in known, (name, variable)
    assert "secrets/" in text(".gitignore").splitlines()


def test_our_containers_write_nowhere_but_their_files() -> None:
    services = compose()["services"]
    for name in ("web", "relay", "worker", "migrate"):
        assert services[name]["read_only"] is True
        assert services[name]["cap_drop"] == ["ALL"]
        assert services[name]["volumes"] == ["files:/var/lib/ventfolio"]


def test_redis_evicts_nothing_and_keeps_nothing() -> None:
    command = compose()["services"]["redis"]["command"]
    told = dict(zip(command[1::2], command[2::2], strict=True))
    assert told["--maxmemory-policy"] == "noeviction"
    assert told["--save"] == ""
    assert told["--appendonly"] == "no"


def test_both_databases_and_redis_are_asked_whether_they_are_well() -> None:
    for name in ("postgres", "redis"):
        assert compose()["services"][name]["healthcheck"]["test"][0] == "CMD"


# --- papers ------------------------------------------------------------------------------------------------------
def test_decisions_are_numbered_without_a_gap_and_say_three_things() -> None:
    records = sorted((ROOT / "docs" / "decisions").glob("*.md"))
    assert [record.name[:4] for record in records] == [f"{n:04}" for n in range(1, len(records) + 1)]
    for record in records:
        body = record.read_text()
        assert body.startswith(f"# {record.name[:4]} ")
        assert all(f"**{part}.**" in body for part in ("Context", "Decision", "Consequence")), record.name


def test_links_between_pages_lead_somewhere() -> None:
    broken = []
    for page in (ROOT / "README.md", ROOT / "DEVELOPERS.md", ROOT / "CHANGELOG.md", *ROOT.glob("docs/**/*.md")):
        for target in re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", page.read_text()):
            if not (page.parent / target).exists():
                broken.append(f"{page.relative_to(ROOT)}: {target}")
    assert broken == []


def test_it_is_said_that_the_images_were_not_built() -> None:
    assert "never built" in text("docs", "operations.md")


def test_the_licence_is_whole() -> None:
    licence = text("LICENSE")
    assert "Apache License" in licence
    assert "Version 2.0, January 2004" in licence
    assert "END OF TERMS AND CONDITIONS" in licence


# --- the tally that closes .ci/run -------------------------------------------------------------------------------
def tally(folder: Path, collected: int, *suites: list[str]) -> subprocess.CompletedProcess[str]:
    """Run .ci/tally.py over invented reports. A test is told by how it ended; one with a name runs in each suite."""
    (folder / "collected").write_text(f"tests/x.py::a\n\n{collected} tests collected in 0.1s\n")
    reports = []
    for number, suite in enumerate(suites):
        root = ElementTree.Element("testsuites")
        for place, told in enumerate(suite):
            outcome, _, name = told.partition(" ")
            name = name or f"test_{number}_{place}"
            case = ElementTree.SubElement(root, "testcase", classname="tests.x", name=name)
            if outcome != "passed":
                ElementTree.SubElement(case, outcome, message="why")
        report = folder / f"junit-{number}.xml"
        ElementTree.ElementTree(root).write(report)
        reports.append(str(report))
    command = [sys.executable, str(ROOT / ".ci" / "tally.py"), str(folder / "collected"), *reports]
    return subprocess.run(command, capture_output=True, text=True, check=False)


@pytest.mark.parametrize(
    ("collected", "suites", "code", "last"),
    [
        (3, [["passed", "passed"], ["passed"]], 0, "3 passed, 0 failed"),
        (3, [["passed", "failure"], ["passed"]], 1, "2 passed, 1 failed"),
        (3, [["passed", "error"], ["passed"]], 1, "2 passed, 1 failed"),
        (3, [["passed", "skipped"], ["passed"]], 1, "2 passed, 0 failed, 1 skipped"),
        (4, [["passed", "passed"], ["passed"]], 1, "3 passed, 0 failed"),  # one was left out
        (2, [["passed twice", "passed"], ["passed twice"]], 0, "2 passed, 0 failed"),  # on two databases
        (1, [["passed twice"], ["failure twice"]], 1, "0 passed, 1 failed"),
        (1, [["passed"], []], 1, "1 passed, 0 failed"),  # a suite without a test
        (0, [[]], 1, "0 passed, 0 failed"),
    ],
)
def test_the_tally_holds_only_when_all_ran_and_passed(
    tmp_path: Path, collected: int, suites: list[list[str]], code: int, last: str
) -> None:
    told = tally(tmp_path, collected, *suites)
    assert told.returncode == code, told.stdout + told.stderr
    assert told.stdout.splitlines()[-1] == last
