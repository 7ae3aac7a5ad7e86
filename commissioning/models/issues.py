"""Issues, from draft to verified closure."""

import uuid
from dataclasses import replace
from typing import TYPE_CHECKING

from django.db import models

from portfolio.models import Company, Person, Position, Project
from portfolio.models.people import Role
from portfolio.models.reach import Scope

if TYPE_CHECKING:
    from portfolio.models import Person as PersonType


class IssueQuerySet(models.QuerySet["Issue"]):
    def visible_to(self, person: "PersonType") -> "IssueQuerySet":
        """The firm sees all of its projects; a contractor what was released to its company; others no drafts."""
        roles = {Role(m.role) for m in person.memberships_in_force}
        projects = Project.objects.visible_to(person).values("id")
        in_reach = models.Q(project__in=projects) & (
            models.Q(project__in=Project.objects.filter(person.reach.projects_whole()).values("id"))
            | models.Q(checks__position__in=Position.objects.visible_to(person).values("id"))
        )
        released = ~models.Q(state__in=[Issue.State.DRAFT, Issue.State.DROPPED])
        seen = models.Q(pk__in=[])
        if roles & {Role.LEAD, Role.TECHNICIAN}:
            working = Project.objects.filter(
                models.Q(firm__in=person.reach.firms)
                | models.Q(id__in=person.reach.projects)
                | models.Q(sites__buildings__in=person.reach.buildings)
            ).values("id")
            seen |= in_reach & models.Q(project__in=working)
        if roles & {Role.OWNER, Role.ENGINEER}:
            seen |= in_reach & released & ~models.Q(project__parties__in=person.reach.companies)
        if Role.CONTRACTOR in roles:
            seen |= released & models.Q(project__in=projects, company__in=person.reach.companies)
        return self.filter(pk__in=Issue.objects.filter(seen).values("pk"))


class Issue(models.Model):
    """One cause: many checks, many units, one company that has it, one story."""

    class State(models.TextChoices):
        DRAFT = "draft", "draft"
        RELEASED = "released", "released"
        READY = "ready", "ready for retest"
        NOT_OURS = "not_ours", "answered not ours"
        CLOSED = "closed", "closed"
        ACCEPTED = "accepted", "accepted as is"
        DROPPED = "dropped", "dropped"
        MERGED = "merged", "merged into another"

    LIVE = frozenset({State.DRAFT, State.RELEASED, State.READY, State.NOT_OURS})

    class Priority(models.TextChoices):
        SAFETY = "safety", "safety"
        CODE = "code", "code"
        PERFORMANCE = "performance", "performance"
        PAPER = "paper", "paper"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="issues")
    number = models.PositiveIntegerField()
    title = models.CharField(max_length=200)
    state = models.CharField(max_length=12, choices=State.choices, default=State.DRAFT)
    priority = models.CharField(max_length=12, choices=Priority.choices, default=Priority.PERFORMANCE)
    root_cause = models.CharField(max_length=400, blank=True)
    company = models.ForeignKey(Company, null=True, blank=True, on_delete=models.PROTECT, related_name="issues")
    assignee = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    due = models.DateField(null=True, blank=True)
    retest_on = models.DateField(null=True, blank=True)
    wasted_call_outs = models.PositiveSmallIntegerField(default=0)
    merged_into = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    opened_at = models.DateTimeField()
    moved_at = models.DateTimeField()  # since when its state is what it is
    version = models.PositiveIntegerField(default=1)

    objects = IssueQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["project", "number"], name="issue_number_once")]
        indexes = [models.Index(fields=["state"])]

    def __str__(self) -> str:
        return f"Issue {self.number}"

    def access_scope(self) -> Scope:
        buildings = frozenset(self.checks.values_list("position__building", flat=True))
        return replace(self.project.access_scope(), building_ids=buildings, company_id=self.company_id)

    @property
    def is_live(self) -> bool:
        return self.state in self.LIVE


class IssueCheck(models.Model):
    """A check that the issue is about, by its natural key: judgements may be burnt, the link stays."""

    issue = models.ForeignKey(Issue, on_delete=models.CASCADE, related_name="checks")
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="issue_checks")
    requirement = models.CharField(max_length=40)
    port = models.CharField(max_length=20, blank=True)
    live = models.BooleanField(default=True)  # follows the issue's state; one live issue per check

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["position", "requirement", "port"],
                condition=models.Q(live=True),
                name="a_check_in_one_live_issue",
            ),
            models.UniqueConstraint(
                fields=["issue", "position", "requirement", "port"], name="a_check_once_in_an_issue"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.position_id} {self.requirement} {self.port}"


class IssueEvent(models.Model):
    """The issue's story: acts, comments, answers, photos. Insert-only."""

    id = models.BigAutoField(primary_key=True)
    issue = models.ForeignKey(Issue, on_delete=models.PROTECT, related_name="events")
    at = models.DateTimeField()
    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    said_by = models.CharField(max_length=200, blank=True)  # who answered through a link, without an account
    act = models.CharField(max_length=20)
    before = models.CharField(max_length=12, blank=True)
    after = models.CharField(max_length=12, blank=True)
    text = models.TextField(blank=True)
    detail = models.JSONField(default=dict)

    def __str__(self) -> str:
        return f"{self.act} at {self.at}"


class AnswerLink(models.Model):
    """Lets one company answer its list without an account, until a date. Only a digest of the secret is kept."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="answer_links")
    company = models.ForeignKey(Company, on_delete=models.CASCADE, related_name="answer_links")
    digest = models.CharField(max_length=64, unique=True)
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"link for {self.company_id} until {self.expires_at}"

    def access_scope(self) -> Scope:
        return replace(self.project.access_scope(), company_id=self.company_id)
