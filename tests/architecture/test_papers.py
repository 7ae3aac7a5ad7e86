"""What the papers for people show and name is there: pictures, pages, files, tests, ten steps."""

import re
from pathlib import Path

import pytest
from django.urls import Resolver404, resolve
from PIL import Image

ROOT = Path(__file__).resolve().parents[2]
PICTURES = ROOT / "docs" / "pictures"
PEOPLE = sorted((ROOT / "docs" / "people").glob("*.md"))
PAPERS = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").rglob("*.md"))]
AN_ID = "0b9c63a8-5d55-4f5e-8f8b-3d7a2f7c1111"
LARGEST, MOST_WIDE = 150_000, 1280


def shown_in(paper: Path) -> list[Path]:
    text = paper.read_text(encoding="utf-8")
    named = re.findall(r"!\[[^\]]*\]\(([^)]+)\)", text) + re.findall(r'<img[^>]* src="([^"]+)"', text)
    named += re.findall(r'<img src="([^"]+)"', text)
    return [(paper.parent / name).resolve() for name in named]


def test_every_picture_that_is_named_exists_and_every_picture_is_named() -> None:
    named = {picture for paper in PAPERS for picture in shown_in(paper)}
    assert sorted(str(p) for p in named if not p.is_file()) == []
    assert {p.name for p in named} == {p.name for p in PICTURES.glob("*.png")}


def test_the_script_takes_every_picture() -> None:
    script = (ROOT / "tests" / "browser" / "pictures.py").read_text(encoding="utf-8")
    taken = set(re.findall(r'"((?:lead|technician|contractor|owner|binder)-[a-z]+)"', script))
    assert taken == {p.stem for p in PICTURES.glob("*.png")}


@pytest.mark.parametrize("picture", sorted(PICTURES.glob("*.png")), ids=lambda p: p.stem)
def test_a_picture_is_small(picture: Path) -> None:
    assert picture.stat().st_size < LARGEST
    with Image.open(picture) as opened:
        assert opened.width <= MOST_WIDE


def test_every_picture_has_words_for_who_does_not_see_it() -> None:
    for paper in PEOPLE:
        text = paper.read_text(encoding="utf-8")
        words = re.findall(r"!\[([^\]]*)\]", text) + re.findall(r'<img [^>]*alt="([^"]*)"', text)
        assert len(words) == len(set(shown_in(paper)))
        assert all(len(one) > 15 for one in words)


@pytest.mark.parametrize("paper", [*PEOPLE, ROOT / "README.md"], ids=lambda p: p.stem)
def test_every_page_that_is_named_has_its_route(paper: Path) -> None:
    named = re.findall(r"`(/[a-z][^`\s]*|/)`", paper.read_text(encoding="utf-8"))
    missing = []
    for path in named:
        try:
            resolve(path.replace("<id>", AN_ID))
        except Resolver404:
            missing.append(path)
    assert missing == []
    assert named or paper.stem == "README"


@pytest.mark.parametrize("paper", PEOPLE, ids=lambda p: p.stem)
def test_a_day_has_ten_steps_and_fits_a_page_or_two(paper: Path) -> None:
    text = paper.read_text(encoding="utf-8")
    assert re.findall(r"^\*\*(\d+)\. ", text, re.MULTILINE) == [str(n) for n in range(1, 11)]
    assert len(text.splitlines()) <= 120


def test_every_role_has_its_paper() -> None:
    assert [paper.stem for paper in PEOPLE] == ["contractor", "lead", "owner", "technician"]
    assert "engineer of record" in (ROOT / "docs" / "people" / "owner.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("paper", PAPERS, ids=lambda p: p.stem)
def test_every_link_within_the_tree_leads_somewhere(paper: Path) -> None:
    links = re.findall(r"\]\(([^)#\s]+)(?:#[^)]*)?\)", paper.read_text(encoding="utf-8"))
    inside = [link for link in links if "://" not in link and not link.startswith("mailto:")]
    assert [link for link in inside if not (paper.parent / link).exists()] == []


def test_the_threat_model_names_tests_that_exist() -> None:
    text = (ROOT / "docs" / "threat-model.md").read_text(encoding="utf-8")
    named = set(re.findall(r"tests/[a-z_/]+(?:\.py)?", text))
    assert len(named) > 8
    assert sorted(name for name in named if not (ROOT / name).exists()) == []
