"""Who may do what, and the sentence that says why not."""

import pytest

from portfolio.access import VERBS, Allowed, Denied, Forbidden, Scope, may, may_somewhere, require, roles_on
from portfolio.models import Membership, Person
from portfolio.models.people import Role
from tests.cast import Cast

pytestmark = pytest.mark.django_db


class Thing:
    """Stands for what a room above brings."""

    def __init__(self, scope: Scope) -> None:
        self.scope = scope

    def access_scope(self) -> Scope:
        return self.scope


@pytest.mark.parametrize(
    ("verb", "allowed"),
    [
        ("see", "lead technician contractor owner engineer"),
        ("submit_evidence", "lead technician"),
        ("edit_portfolio", "lead"),
        ("release_issue", "lead"),
        ("work_issue", "lead"),
        ("comment", "lead technician contractor owner engineer"),
        ("accept_as_is", "owner"),
        ("accept_as_engineer", "engineer"),
        ("build_binder", "lead owner"),
        ("rejudge", "lead"),
        ("import_design", "lead"),
    ],
)
def test_each_role_of_the_stage_may_what_the_table_says(cast: Cast, verb: str, allowed: str) -> None:
    position = cast.things["position"]
    found = {role.value for role in Role if may(cast.person("own", role.value), verb, position)}
    assert found == set(allowed.split())
    for relation in ("near", "foreign", "revoked"):
        assert not any(may(cast.person(relation, role.value), verb, position) for role in Role)


def test_a_refusal_says_who_may_and_what_one_is(cast: Cast) -> None:
    answer = may(cast.person("own", "technician"), "release_issue", cast.things["project"])
    assert answer == Denied("Only a commissioning lead may release an issue; here you are a technician.")
    with pytest.raises(Forbidden, match="here you are no one with a part in it"):
        require(cast.person("foreign", "lead"), "release_issue", cast.things["project"])


def test_a_building_role_sees_the_project_in_part_and_may_nothing_to_it(cast: Cast) -> None:
    near = cast.person("near", "lead")
    assert may(near, "see", cast.things["project"]) == Allowed()
    assert isinstance(may(near, "edit_portfolio", cast.things["project"]), Denied)
    assert may(near, "edit_portfolio", cast.things["near_position"])


def test_a_contractor_answers_only_what_its_company_has(cast: Cast) -> None:
    contractor, project, things = cast.person("own", "contractor"), cast.things["project"], cast.things
    ours = Scope(firm_id=project.firm_id, project_id=project.pk, company_id=things["company"].pk)
    theirs = Scope(firm_id=project.firm_id, project_id=project.pk, company_id=things["other_company"].pk)
    assert may(contractor, "answer_issue", Thing(ours))
    assert may(contractor, "comment", Thing(theirs))
    answer = may(contractor, "answer_issue", Thing(theirs))
    assert isinstance(answer, Denied)
    assert "a contractor of the company that has it" in answer.reason


def test_what_lies_in_several_buildings_needs_a_role_in_all_of_them(cast: Cast) -> None:
    near = cast.person("near", "lead")
    both = Thing(
        Scope(
            project_id=cast.things["project"].pk,
            building_ids=frozenset({cast.things["building"].pk, cast.things["near_building"].pk}),
        )
    )
    assert not may(near, "release_issue", both)
    Membership.objects.create(person=near, role="lead", building=cast.things["building"])
    assert may(Person.objects.get(pk=near.pk), "release_issue", both)


def test_a_token_limited_to_a_project_reaches_nothing_else(cast: Cast) -> None:
    lead = cast.person("own", "lead")
    lead.only_project = cast.things["project"].pk
    assert roles_on(lead, cast.things["position"].access_scope()) == {Role.LEAD}
    assert roles_on(lead, cast.things["other_position"].access_scope()) == frozenset()
    assert roles_on(lead, cast.things["firm"].access_scope()) == frozenset()


def test_tokens_are_ones_own_affair(cast: Cast) -> None:
    one, other = cast.person("own", "lead"), cast.person("own", "owner")
    assert may(one, "make_token", one)
    assert may(one, "make_token", other) == Denied("You may only make or revoke tokens of your own.")


def test_an_inactive_person_has_no_role(cast: Cast) -> None:
    lead = cast.person("own", "lead")
    Person.objects.filter(pk=lead.pk).update(is_active=False)
    assert not may(Person.objects.get(pk=lead.pk), "see", cast.things["position"])


def test_somewhere_needs_a_role_in_force(cast: Cast) -> None:
    assert may_somewhere(cast.person("near", "contractor"), "attach_photo")
    assert isinstance(may_somewhere(cast.person("revoked", "lead"), "attach_photo"), Denied)


def test_every_verb_can_be_refused_in_words(cast: Cast) -> None:
    stranger = cast.person("revoked", "contractor")
    for verb in VERBS:
        answer = may(stranger, verb, cast.things["position"])
        assert isinstance(answer, Denied)
        assert answer.reason.endswith(".")
