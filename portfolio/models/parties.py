"""Firm, owner, project and the companies that work on it."""

import uuid
from typing import TYPE_CHECKING

from django.db import models

from portfolio.models.reach import Scope

if TYPE_CHECKING:
    from portfolio.models.people import Person


class FirmQuerySet(models.QuerySet["Firm"]):
    def visible_to(self, person: "Person") -> "FirmQuerySet":
        """One's own firm, and the firm of a project that one sees."""
        projects = Project.objects.visible_to(person).values("firm")
        return self.filter(models.Q(id__in=person.reach.firms) | models.Q(id__in=projects))


class Firm(models.Model):
    """A commissioning firm: the outer wall of what anyone sees."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=200, unique=True)

    objects = FirmQuerySet.as_manager()

    def __str__(self) -> str:
        return self.name

    def access_scope(self) -> Scope:
        return Scope(firm_id=self.id)


class OwnerQuerySet(models.QuerySet["Owner"]):
    def visible_to(self, person: "Person") -> "OwnerQuerySet":
        reach = person.reach
        seen = reach.directory("firm") | models.Q(id__in=Project.objects.visible_to(person).values("owner"))
        return self.filter(seen if reach.only_project else seen | models.Q(id__in=reach.owners))


class Owner(models.Model):
    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    firm = models.ForeignKey(Firm, on_delete=models.PROTECT, related_name="owners")
    name = models.CharField(max_length=200)

    objects = OwnerQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["firm", "name"], name="owner_name_once_per_firm")]

    def __str__(self) -> str:
        return self.name

    def access_scope(self) -> Scope:
        return Scope(firm_id=self.firm_id, owner_id=self.id)


class CompanyQuerySet(models.QuerySet["Company"]):
    def visible_to(self, person: "Person") -> "CompanyQuerySet":
        """Companies of the firm's directory; others see those that are party to a project they see."""
        reach = person.reach
        projects = Project.objects.visible_to(person).values("id")
        return self.filter(
            reach.directory("firm")
            | models.Q(id__in=reach.companies)
            | models.Q(id__in=Project.parties.through.objects.filter(project__in=projects).values("company"))
        )


class Company(models.Model):
    """A contractor in a firm's directory."""

    class Trade(models.TextChoices):
        MECHANICAL = "mechanical", "Mechanical"
        CONTROLS = "controls", "Controls"
        ELECTRICAL = "electrical", "Electrical"
        BALANCING = "balancing", "Balancing"
        FIRE_ALARM = "fire_alarm", "Fire alarm"
        GENERAL = "general", "General contracting"
        OTHER = "other", "Other"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    firm = models.ForeignKey(Firm, on_delete=models.PROTECT, related_name="companies")
    name = models.CharField(max_length=200)
    trade = models.CharField(max_length=20, choices=Trade.choices)

    objects = CompanyQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["firm", "name"], name="company_name_once_per_firm")]

    def __str__(self) -> str:
        return self.name

    def access_scope(self) -> Scope:
        return Scope(firm_id=self.firm_id, company_id=self.id)


class ProjectQuerySet(models.QuerySet["Project"]):
    def visible_to(self, person: "Person") -> "ProjectQuerySet":
        reach = person.reach
        seen = reach.projects_whole()
        if reach.buildings:
            in_part = models.Q(sites__buildings__in=reach.buildings)
            seen |= in_part & models.Q(id=reach.only_project) if reach.only_project else in_part
        return self.filter(models.Q(id__in=Project.objects.filter(seen).values("id")))


class Project(models.Model):
    """What a firm does for an owner."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    firm = models.ForeignKey(Firm, on_delete=models.PROTECT, related_name="projects")
    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="projects")
    code = models.CharField(max_length=40)
    name = models.CharField(max_length=200)
    parties = models.ManyToManyField(Company, related_name="projects", blank=True)

    objects = ProjectQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["firm", "code"], name="project_code_once_per_firm")]

    def __str__(self) -> str:
        return self.name

    def access_scope(self) -> Scope:
        return Scope(firm_id=self.firm_id, owner_id=self.owner_id, project_id=self.id)


class ProjectConventions(models.Model):
    """A version of what a project has agreed on: decision rule, standard air, tolerances (the dossier's form)."""

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="conventions")
    version = models.PositiveIntegerField()
    agreed = models.JSONField()
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["project", "version"], name="conventions_version_once_per_project")
        ]

    def __str__(self) -> str:
        return f"{self.project}, conventions version {self.version}"

    def access_scope(self) -> Scope:
        return self.project.access_scope()
