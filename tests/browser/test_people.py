"""Each person signs in and finds the sentence that they came for, and nothing that is not theirs."""

import re

import pytest

from tests.browser.chromium import DESK, PHONE
from tests.browser.conftest import House, Visit
from tests.pages.world import PASSWORD

pytestmark = pytest.mark.browser

OWNERS = r"\w+ of five units in Sorrel Hall delivers? (its|their) air\. "  # beside those of other buildings
OPENINGS = {
    "lead": (DESK, "Work", r"\w+ of \w+ units can be signed\. .*for you"),
    "technician": (PHONE, "Work", r"Next: [EH]RV-\d+, .+\. .+"),
    "contractor": (PHONE, "Your issues", r"\w+ issues? (is|are) yours"),
    "owner": (DESK, "Buildings", OWNERS),
    "engineer": (DESK, "Buildings", OWNERS),
    "stranger": (DESK, "Buildings", r"Nothing is yours to see at present\."),
}
NOT_THEIRS = {
    "technician": ["Have it built", "Release to a company"],
    "contractor": ["draft", "Import a design schedule", "Record readings"],
    "owner": ["Record readings", "Import a design schedule"],
    "engineer": ["Record readings", "Import a design schedule"],
    "stranger": ["ERV-", "Sorrel", "Thane", "Garrowby", "Ostrander"],
}


@pytest.mark.parametrize("who", OPENINGS)
def test_each_role_meets_its_sentence_and_not_what_is_not_theirs(visit: Visit, house: House, who: str) -> None:
    size, heading, sentence = OPENINGS[who]
    with visit(who, size, anew=True) as visitor:
        page = visitor.open("/")
        assert page.locator("h1").inner_text() == heading
        leads = page.locator(".lead").all_inner_texts()
        assert any(re.match(sentence, one) for one in leads), leads
        said = ""
        for path in ["/", "/issues", "/projects"] + ([] if who == "stranger" else [house.project()]):
            said += visitor.open(path).locator("body").inner_text()
        assert [word for word in NOT_THEIRS.get(who, []) if word in said] == []


@pytest.mark.parametrize(("who", "path"), [("stranger", "unit"), ("contractor", "draft"), ("owner", "record")])
def test_what_is_not_theirs_does_not_exist_or_is_refused_in_words(
    visit: Visit, house: House, who: str, path: str
) -> None:
    asked = {"unit": house.unit("ERV-3"), "draft": house.issue("draft"), "record": house.unit("ERV-3") + "/record"}
    with visit(who) as visitor:
        page = visitor.open(asked[path])
        refused = [one for one in visitor.watch.complaints if re.match("40[34] for", one)]
        assert len(refused) == 1
        assert page.locator("h1").count() == 1
        assert len(page.locator(".lead").inner_text()) > 20
        assert "ERV-" not in page.locator("main").inner_text()
        visitor.watch.complaints.clear()


def test_nobody_is_sent_to_the_door_and_then_where_they_wanted_to_go(visit: Visit, house: House) -> None:
    with visit("") as visitor:
        page = visitor.open(house.unit("ERV-3"))
        assert page.locator("h1").inner_text() == "Sign in"
        page.get_by_label("Mail address").fill("lead@example.test")
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_label("Password").press("Enter")
        page.get_by_role("heading", name="ERV-3", level=1).wait_for()


def test_a_wrong_password_is_told_and_the_address_is_kept(visit: Visit) -> None:
    with visit("") as visitor:
        page = visitor.open("/login")
        page.get_by_label("Mail address").fill("lead@example.test")
        page.get_by_label("Password").fill("not this one at all")
        page.get_by_role("button", name="Sign in").click()
        assert page.get_by_role("alert").inner_text() == "No account has this mail address and password."
        assert page.get_by_label("Mail address").input_value() == "lead@example.test"
        visitor.watch.complaints.clear()  # the 400 itself


def test_units_of_measure_follow_the_reader(visit: Visit, house: House) -> None:
    with visit("lead", anew=True) as lead:
        page = lead.open(house.unit("ERV-3"))
        assert " cfm" in page.locator(".ports").inner_text()
        page.get_by_role("button", name="SI", exact=True).click()
        page.wait_for_url("**" + house.unit("ERV-3"))
        assert " L/s" in page.locator(".ports").inner_text()
        assert " cfm" not in page.locator(".ports").inner_text()


def test_the_working_of_a_number_opens_in_place(visit: Visit, house: House) -> None:
    with visit("lead") as lead:
        page = lead.open(house.unit("ERV-3"))
        line = page.locator("details.judged").filter(has_text="Design airflow, supply").first
        line.locator("summary").first.press("Enter")
        said = line.inner_text()
        assert "23 05 93, 3.4" in said  # the clause of the limit
        assert "Revision 1" in said


def test_a_company_answers_by_its_link_without_an_account(visit: Visit, house: House) -> None:
    """The lead makes the link; who has it answers, sees that list and nothing else."""
    with visit("lead") as lead:
        page = lead.open(house.project(f"/companies/{house.known['company']}/list"))
        page.get_by_role("button", name="Make a link").click()
        address = page.locator(".told code").inner_text()
    with visit("", PHONE) as company:
        page = company.page
        page.goto(address)
        assert re.match(r"\w+ issues? awaits? the answer of Garrowby Mechanical\.", page.locator(".lead").inner_text())
        section = page.locator("section").filter(has_text="ERV-3")
        section.locator("summary").click()
        section.get_by_label("Ready for the retest").check()
        section.get_by_label("What was done").fill("Outdoor damper freed and set to full stroke.")
        section.get_by_label("Your name").fill("Peregrine Moss")
        section.get_by_role("button", name="Send the answer").click()
        page.get_by_text("has been received").wait_for()
        assert page.locator("section").filter(has_text="ERV-3").count() == 0
        assert page.get_by_role("link", name="Issues", exact=True).count() == 0
        page.goto(company.base + house.unit("ERV-3"))
        assert page.locator("h1").inner_text() == "Sign in"
    with visit("lead") as lead:
        page = lead.open(house.issue("released"))
        assert "Peregrine Moss" in page.locator(".story").inner_text()


def test_a_link_that_has_ended_opens_nothing(visit: Visit, house: House) -> None:
    with visit("", PHONE) as visitor:
        page = visitor.open(house.answer("expired"))
        assert "not valid, or not any longer" in page.locator(".lead").inner_text()
        assert "ERV-" not in page.locator("body").inner_text()
        assert page.locator("form").count() == 0
        visitor.watch.complaints.clear()  # the 404 itself
