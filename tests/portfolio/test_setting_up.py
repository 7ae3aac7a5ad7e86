"""Setting a project up over HTTP, from owner to position, and what each act makes the judges do."""

from typing import Any
from uuid import UUID

import pytest

from portfolio.models import Installation, Job, Membership, Person, Position, ProjectConventions, Site, TagAlias
from tests.cast import Actor, Cast

pytestmark = pytest.mark.django_db


def lead(cast: Cast) -> Actor:
    return cast.actor("own", "lead")


def wanted() -> set[tuple[str, UUID]]:
    return set(Job.objects.values_list("kind", "subject"))


def made(response: Any) -> dict[str, Any]:
    assert response.status_code == 201, response.content
    document: dict[str, Any] = response.json()
    return document


def fault(response: Any, pointer: str, code: str) -> None:
    assert response.status_code == 400, response.content
    error = response.json()["errors"][0]
    assert (error["pointer"], error["code"]) == (pointer, code)
    assert error["detail"]
    assert error["remedy"]


def test_from_owner_to_position(cast: Cast) -> None:
    firm, actor = cast.things["firm"].pk, lead(cast)
    owner = made(actor.call("POST", f"firms/{firm}/owners", {"name": "Valley Schools"}))
    project = made(
        actor.call("POST", f"firms/{firm}/projects", {"owner": owner["id"], "code": "VS-1", "name": "Valley"})
    )
    company = made(actor.call("POST", f"firms/{firm}/companies", {"name": "Ducts", "trade": "mechanical"}))
    patched = actor.call("PATCH", f"projects/{project['id']}", {"parties": [company["id"]]}).json()
    assert patched["parties"] == [company["id"]]
    site = made(
        actor.call(
            "POST",
            f"projects/{project['id']}/sites",
            {"name": "High", "time_zone": "America/Denver", "elevation": {"value": 5280, "unit": "ft"}},
        )
    )
    assert site["elevation"] == {"value": pytest.approx(1609.344), "unit": "m"}
    building = made(actor.call("POST", f"sites/{site['id']}/buildings", {"name": "Gym"}))
    system = made(actor.call("POST", f"buildings/{building['id']}/systems", {"name": "Riser"}))
    space = made(actor.call("POST", f"buildings/{building['id']}/spaces", {"name": "Hall"}))
    position = made(
        actor.call(
            "POST",
            f"buildings/{building['id']}/positions",
            {"tag": "ERV-9", "kind": "erv", "system": system["id"], "spaces": [space["id"]]},
        )
    )
    assert (position["system"], position["spaces"], position["scope"]) == (system["id"], [space["id"]], "in_scope")
    assert ("judge", UUID(position["id"])) in wanted()
    assert actor.call("GET", f"positions?tag=ERV-9&building={building['id']}").json()["results"] == [position]


def test_a_project_begins_with_usual_conventions_and_a_new_version_is_judged_by(cast: Cast) -> None:
    project, actor = cast.things["project"], lead(cast)
    second = made(actor.call("POST", f"projects/{project.pk}/conventions", {"decision_rule": "guarded_acceptance"}))
    assert second["version"] == 2
    assert second["coverage_probability"] == 0.95
    listed = actor.call("GET", f"projects/{project.pk}/conventions").json()["results"]
    assert [row["version"] for row in listed] == [2, 1]
    assert listed[1]["decision_rule"] == "simple"
    assert ("rejudge", project.pk) in wanted()
    agreed = ProjectConventions.objects.get(project=project, version=2).agreed
    assert set(agreed) == set(ProjectConventions.objects.get(project=project, version=1).agreed)
    assert agreed["standard_density"] == {"value": 0.075, "unit": "lb/ft3"}


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"decision_rule": "lenient"}, "/decision_rule"),
        ({"coverage_probability": 1}, "/coverage_probability"),
        ({"coverage_probability": "0.95"}, "/coverage_probability"),
        ({"guard_multiplier": True}, "/guard_multiplier"),
        ({"standard_density": {"value": 1.2, "unit": "kg"}}, "/standard_density/unit"),
        ({"standard_density": 1.2}, "/standard_density"),
        ({"default_tolerance": {"low": 0.1, "high": 0.1, "clause": ""}}, "/default_tolerance/low"),
        ({"default_tolerance": {"low": -0.1, "high": 0.1, "clause": "", "extra": 1}}, "/default_tolerance/extra"),
        ({"version": 7}, "/version"),
    ],
)
def test_conventions_out_of_form_are_refused_where_they_are(cast: Cast, body: dict[str, Any], pointer: str) -> None:
    response = lead(cast).call("POST", f"projects/{cast.things['project'].pk}/conventions", body)
    assert response.status_code == 400
    assert response.json()["errors"][0]["pointer"] == pointer


@pytest.mark.parametrize(
    ("change", "pointer", "code"),
    [
        ({"time_zone": "Mars/Olympus"}, "/time_zone", "unknown_time_zone"),
        ({"time_zone": "../../etc/passwd"}, "/time_zone", "unknown_time_zone"),
        ({"elevation": 1600}, "/elevation", "not_a_quantity"),
        ({"elevation": {"value": "1600", "unit": "m"}}, "/elevation/value", "not_a_number"),
        ({"elevation": {"value": 1600, "unit": "cfm"}}, "/elevation/unit", "unknown_unit"),
        ({"elevation": {"value": 1600, "unit": "M"}}, "/elevation/unit", "unknown_unit"),
        ({"elevation": {"value": 160000, "unit": "m"}}, "/elevation", "out_of_range"),
    ],
)
def test_a_sites_place_in_the_world_is_checked(cast: Cast, change: dict[str, Any], pointer: str, code: str) -> None:
    response = lead(cast).call("PATCH", f"sites/{cast.things['site'].pk}", change)
    assert response.status_code == 400
    assert (response.json()["errors"][0]["pointer"], response.json()["errors"][0]["code"]) == (pointer, code)
    assert Site.objects.get(pk=cast.things["site"].pk).elevation_m == 1600


def test_what_the_air_depends_on_is_judged_again_and_a_name_is_not(cast: Cast) -> None:
    site, actor = cast.things["site"], lead(cast)
    assert actor.call("PATCH", f"sites/{site.pk}", {"name": "Renamed"}).status_code == 200
    assert wanted() == set()
    actor.call("PATCH", f"sites/{site.pk}", {"elevation": {"value": 0, "unit": "m"}})
    assert wanted() == {("rejudge", site.project_id)}


# --- positions and machines ----------------------------------------------------------------------------------------


def test_a_swap_ends_the_former_machine_on_that_day(cast: Cast) -> None:
    position, actor = cast.things["position"], lead(cast)
    path = f"positions/{position.pk}/installations"
    made(actor.call("POST", path, {"serial": "NEW-1", "maker": "Maker", "since": "2026-03-02"}))
    rows = actor.call("GET", path).json()["results"]
    assert [(row["serial"][:3], row["since"], row["until"]) for row in rows] == [
        ("NEW", "2026-03-02", None),
        ("SN ", "2026-01-05", "2026-03-02"),
    ]
    assert wanted() == {("judge", position.pk)}


def test_a_machine_is_in_one_place_and_time_runs_forward(cast: Cast) -> None:
    position, near, actor = cast.things["position"], cast.things["near_position"], lead(cast)
    serial = cast.things["near_installation"].machine.serial
    path = f"positions/{position.pk}/installations"
    elsewhere = actor.call("POST", path, {"serial": serial, "since": "2026-03-02"})
    assert (elsewhere.status_code, elsewhere.json()["code"]) == (409, "machine_elsewhere")
    fault(actor.call("POST", path, {"serial": "NEW-1", "since": "2025-12-31"}), "/until", "before_since")
    assert Installation.objects.filter(position=position).count() == 1
    again = actor.call("POST", path, {"serial": cast.things["installation"].machine.serial, "since": "2026-03-02"})
    assert (again.status_code, again.json()["code"]) == (409, "exists")
    taken_out = actor.call("PATCH", f"installations/{cast.things['near_installation'].pk}", {"until": "2026-03-01"})
    assert taken_out.status_code == 200
    made(actor.call("POST", path, {"serial": serial, "since": "2026-03-02"}))
    assert not Installation.objects.filter(position=near, until__isnull=True).exists()


def test_a_serial_is_one_machine(cast: Cast) -> None:
    path = f"positions/{cast.things['position'].pk}/installations"
    serial = cast.things["near_installation"].machine.serial
    response = lead(cast).call("POST", path, {"serial": serial, "maker": "Somebody else", "since": "2026-03-02"})
    fault(response, "/serial", "serial_differs")


def test_a_renamed_tag_keeps_its_old_name_as_an_alias(cast: Cast) -> None:
    position, actor = cast.things["position"], lead(cast)
    old = position.tag
    assert actor.call("PATCH", f"positions/{position.pk}", {"tag": "ERV-77"}).json()["aliases"] == [old]
    assert actor.call("PATCH", f"positions/{position.pk}", {"tag": "ERV-77"}).json()["aliases"] == [old]
    Position.objects.create(building=position.building, tag="ERV-78", kind="erv")
    taken = actor.call("PATCH", f"positions/{position.pk}", {"tag": "ERV-78"})
    assert (taken.status_code, taken.json()["code"]) == (409, "exists")
    assert TagAlias.objects.count() == 1


def test_scope_changes_only_with_a_reason_and_calls_the_judges(cast: Cast) -> None:
    position, actor = cast.things["position"], lead(cast)
    path = f"positions/{position.pk}"
    fault(actor.call("PATCH", path, {"scope": "deleted"}), "/reason", "required")
    fault(actor.call("PATCH", path, {"reason": "because"}), "/scope", "required")
    fault(actor.call("PATCH", path, {}), "", "empty")
    assert wanted() == set()
    changed = actor.call("PATCH", path, {"scope": "deleted", "reason": "Addendum 2"}).json()
    assert (changed["scope"], changed["scope_reason"]) == ("deleted", "Addendum 2")
    assert wanted() == {("judge", position.pk)}


@pytest.mark.parametrize("name", ["near", "foreign"])
@pytest.mark.parametrize(("field", "thing"), [("system", "system"), ("spaces", "space")])
def test_a_system_or_space_of_another_building_is_no_side_door(cast: Cast, name: str, field: str, thing: str) -> None:
    other = str(cast.things[f"{name}_{thing}"].pk)
    value: Any = [other] if field == "spaces" else other
    pointer = f"/{field}/0" if field == "spaces" else f"/{field}"
    body = {"tag": "X", "kind": "erv", field: value}
    fault(lead(cast).call("POST", f"buildings/{cast.things['building'].pk}/positions", body), pointer, "does_not_exist")
    fault(
        lead(cast).call("PATCH", f"positions/{cast.things['position'].pk}", {field: value}), pointer, "does_not_exist"
    )


def test_no_other_foreign_id_is_a_side_door(cast: Cast) -> None:
    actor, things = lead(cast), cast.things
    body = {"owner": str(things["foreign_owner"].pk), "code": "X", "name": "X"}
    fault(actor.call("POST", f"firms/{things['firm'].pk}/projects", body), "/owner", "does_not_exist")
    parties = {"parties": [str(things["company"].pk), str(things["foreign_company"].pk)]}
    fault(actor.call("PATCH", f"projects/{things['project'].pk}", parties), "/parties/1", "does_not_exist")
    token = {"label": "x", "scope": "act", "project": str(things["foreign_project"].pk)}
    fault(actor.call("POST", "tokens", token), "/project", "does_not_exist")


# --- instruments ---------------------------------------------------------------------------------------------------


def test_a_certificate_calls_every_project_of_the_firm_to_be_judged_again(cast: Cast) -> None:
    instrument, actor = cast.things["instrument"], lead(cast)
    body = {"certificate": "C-9", "on": "2026-02-01", "due": "2027-02-01", "as_found": "outside"}
    assert made(actor.call("POST", f"instruments/{instrument.pk}/calibrations", body))["as_found"] == "outside"
    assert wanted() == {("rejudge", cast.things["project"].pk), ("rejudge", cast.things["other_project"].pk)}
    again = actor.call("POST", f"instruments/{instrument.pk}/calibrations", body)
    assert (again.status_code, again.json()["code"]) == (409, "exists")
    backwards = {"certificate": "C-10", "on": "2026-02-01", "due": "2026-01-01"}
    fault(actor.call("POST", f"instruments/{instrument.pk}/calibrations", backwards), "/due", "due_before_on")


@pytest.mark.parametrize(
    ("accuracy", "pointer"),
    [
        ({"relative": 3, "absolute": None}, "/accuracy/relative"),
        ({"relative": 0.03, "absolute": {"value": 7, "unit": "furlong"}}, "/accuracy/absolute/unit"),
        ({"relative": 0.03, "absolute": {"value": 7, "unit": ["cfm"]}}, "/accuracy/absolute/unit"),
        ({"relative": 0.03, "absolute": {"value": 1e300, "unit": "cfm"}}, "/accuracy/absolute/value"),
        ({"relative": 0.03, "absolute": {"value": -7, "unit": "cfm"}}, "/accuracy/absolute/value"),
        ({"relative": 0.03, "shape": "triangular"}, "/accuracy/shape"),
        ({}, "/accuracy/relative"),
    ],
)
def test_an_instruments_promise_is_in_the_judges_form(cast: Cast, accuracy: dict[str, Any], pointer: str) -> None:
    body = {"name": "Hood", "kind": "hood", "serial": "H-2", "accuracy": accuracy}
    response = lead(cast).call("POST", f"firms/{cast.things['firm'].pk}/instruments", body)
    assert response.status_code == 400
    assert response.json()["errors"][0]["pointer"] == pointer


# --- people --------------------------------------------------------------------------------------------------------


def membership(cast: Cast, kind: str, thing: str, role: str, **more: str) -> dict[str, Any]:
    scope = {"kind": kind, "id": str(cast.things[thing].pk)}
    return {"email": "new@cast.example", "name": "New", "role": role, "scope": scope} | more


def test_a_new_person_comes_with_a_first_role_and_may_get_a_second(cast: Cast) -> None:
    actor = lead(cast)
    first = made(
        actor.call(
            "POST", "memberships", membership(cast, "project", "project", "technician", password="x" * 9 + "abcdefgh")
        )
    )
    second = made(actor.call("POST", "memberships", membership(cast, "firm", "firm", "lead", name="Ignored")))
    assert first["person"] == second["person"]
    person = Person.objects.get(pk=first["person"])
    assert person.name == "New"
    assert person.check_password("x" * 9 + "abcdefgh")
    again = actor.call("POST", "memberships", membership(cast, "firm", "firm", "lead"))
    assert (again.status_code, again.json()["code"]) == (409, "exists")


@pytest.mark.parametrize(
    ("kind", "thing", "role"),
    [("firm", "firm", "owner"), ("project", "project", "contractor"), ("owner", "owner", "lead")],
)
def test_a_role_has_only_the_scopes_that_fit_it(cast: Cast, kind: str, thing: str, role: str) -> None:
    fault(
        lead(cast).call("POST", "memberships", membership(cast, kind, thing, role)), "/scope/kind", "scope_does_not_fit"
    )


def test_a_weak_password_makes_nobody_and_is_not_repeated(cast: Cast) -> None:
    before = Person.objects.count()
    for weak in ("kurz-17", "a" * 15 + "\u202e"):
        body = membership(cast, "firm", "firm", "lead", password=weak)
        response = lead(cast).call("POST", "memberships", body)
        assert response.status_code == 400
        assert response.json()["errors"][0]["pointer"] == "/password"
        assert weak not in response.content.decode()
    assert Person.objects.count() == before


def test_an_ended_role_is_gone_at_the_next_request_and_the_last_lead_stays(cast: Cast) -> None:
    actor, technician = lead(cast), cast.actor("own", "technician")
    path = f"positions/{cast.things['position'].pk}"
    assert technician.call("GET", path).status_code == 200
    role = Membership.objects.get(person=technician.person)
    assert actor.call("DELETE", f"memberships/{role.pk}").status_code == 204
    assert technician.call("GET", path).status_code == 404
    assert actor.call("GET", "memberships").status_code == 200
    own = Membership.objects.get(person=actor.person)
    last = actor.call("DELETE", f"memberships/{own.pk}")
    assert (last.status_code, last.json()["code"]) == (409, "last_lead")
