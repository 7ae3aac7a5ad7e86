"""Every page, as each role sees it, at phone and at desk width, by day and by night."""

import re
from pathlib import Path

import pytest

from portfolio.settings import BASE_DIR
from tests.browser.chromium import DESK, PHONE
from tests.browser.conftest import House, Visit
from tests.browser.soundness import LEAST_CONTRAST, faults, tabs_to

pytestmark = pytest.mark.browser
TOKENS = Path(BASE_DIR) / "portfolio" / "static" / "portfolio" / "tokens.css"


def pages_of(house: House, who: str) -> list[str]:
    """What this person comes to in a day."""
    unit, company = house.unit("ERV-3"), f"/companies/{house.known['company']}/list"
    common = [
        "/",
        "/issues",
        house.issue("released"),
        "/projects",
        house.project(),
        house.building("Sorrel Hall"),
        unit,
    ]
    mine = {
        "lead": [
            *("/?sort=-since", house.issue("ready"), house.project("/meeting"), house.project("/import")),
            *(house.project("/binders"), house.project(company), house.unit("ERV-9"), house.unit("ERV-5")),
            *(house.project("/samples"), house.project("/instruments")),
            *(house.building("Moor House") + "/trends", house.building("Sorrel Hall") + "/trends"),
        ],
        "technician": [
            *(f"{unit}/record", f"{unit}?sessions=all", house.project("/meeting")),
            *("/traverse", "/traverse?unit=in&width=20&height=16&mark=1/8", f"{unit}/start", f"{unit}/restore"),
            *(f"{unit}/record/test_run", f"{unit}/record/test_run?procedure=minimum"),
            *(f"{house.unit('ERV-50')}/trends", f"{house.unit('ERV-50')}/trends/1", f"{unit}/trends/new"),
        ],
        "contractor": [house.project(company)],
        "owner": [house.project("/binders"), house.project("/meeting")],
        "engineer": [],
    }
    return common + mine[who]


@pytest.mark.parametrize(
    ("who", "size", "dark"),
    [
        ("lead", DESK, False),
        ("lead", PHONE, True),
        ("technician", PHONE, False),
        ("contractor", PHONE, False),
        ("contractor", DESK, True),
        ("owner", PHONE, True),
        ("owner", DESK, False),
        ("engineer", DESK, False),
    ],
)
def test_every_page_is_sound(visit: Visit, house: House, who: str, size: tuple[int, int], dark: bool) -> None:
    with visit(who, size, dark=dark) as visitor:
        found = [fault for path in pages_of(house, who) for fault in faults(visitor.open(path))]
    assert found == []


@pytest.mark.parametrize("dark", [False, True])
def test_pages_without_an_account_are_sound(visit: Visit, house: House, dark: bool) -> None:
    with visit("", PHONE, dark=dark) as visitor:
        found = [fault for path in ("/login", house.answer("good")) for fault in faults(visitor.open(path))]
    assert found == []


def test_the_keyboard_reaches_what_a_page_is_for(visit: Visit, house: House) -> None:
    with visit("") as nobody:
        page = nobody.open("/login")
        assert tabs_to(page, page.get_by_role("button", name="Sign in")) <= 6
    with visit("technician", PHONE) as technician:
        page = technician.open(house.unit("ERV-5"))
        assert tabs_to(page, page.get_by_role("link", name="Record readings")) <= 12
        page = technician.open(house.unit("ERV-5") + "/record")
        tabs_to(page, page.get_by_role("button", name="Send: kept once received"))
    with visit("lead") as lead:
        page = lead.open("/")
        tabs_to(page, page.locator("tbody a.tag").first, most=60)
        page = lead.open(house.issue("released"))
        tabs_to(page, page.locator("summary").first, most=40)
        page = lead.open(house.project("/binders"))
        tabs_to(page, page.get_by_role("button", name="Have it built"), most=40)


def test_the_first_tab_skips_to_the_content(visit: Visit) -> None:
    with visit("lead") as lead:
        page = lead.open("/")
        assert tabs_to(page, page.get_by_text("Skip to the content")) == 1
        page.keyboard.press("Enter")
        assert page.evaluate("document.activeElement.id") == "content"


# --- the test of the test ---------------------------------------------------------------------------------------
def test_what_is_not_sound_is_found(visit: Visit, house: House) -> None:
    with visit("", PHONE) as visitor:
        page = visitor.open("/login")
        page.evaluate(
            """() => { const add = (tag, text) => { const e = document.createElement(tag); e.textContent = text;
              document.querySelector('main').append(e); return e };
              add('h1', 'Another'); add('input', ''); add('button', ''); add('p', 'dim').style.color = '#777';
              add('p', 'broad').style.width = '900px'; add('p', 'one').id = 'content' }"""
        )
        said = " ".join(faults(page))
        for words in ("2 first headings", "no label", "no name", "for dim", "pixels wide", "id twice"):
            assert words in said
        page.evaluate(
            "() => { const e = document.createElement('script'); e.textContent = '1'; document.body.append(e) }"
        )
        page.wait_for_timeout(100)
        assert any("Content Security Policy" in one for one in visitor.watch.complaints)
        visitor.watch.complaints.clear()


# --- by arithmetic, without a browser ---------------------------------------------------------------------------
def tokens(dark: bool) -> dict[str, str]:
    """The colours as the style sheet says them for the screen."""
    day, night, *_ = TOKENS.read_text().split("@media")
    found = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", day))
    return found | (dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", night)) if dark else {})


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour, as WCAG 2.2 defines it."""
    channels = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_contrast_is_what_its_definition_says() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)  # WCAG 2.2, definition of contrast ratio: 1 to 21
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)  # (1 + 0.05) / (0.1845 + 0.05)


@pytest.mark.parametrize("dark", [False, True])
def test_every_ink_stands_out_from_every_ground_it_is_set_on(dark: bool) -> None:
    held = tokens(dark)
    pairs = [(ink, ground) for ink in ("ink", "quiet", "accent", "brick", "ochre") for ground in ("paper", "field")]
    pairs += [("on-accent", "accent"), ("paper", "ink"), ("ink", "band")]
    low = {
        pair: round(value, 2) for pair in pairs if (value := contrast(held[pair[0]], held[pair[1]])) < LEAST_CONTRAST
    }
    assert low == {}
