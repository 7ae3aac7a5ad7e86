"""A firm's mappings of controllers, kept for ever, and the table in which settings are searched."""

import uuid
from typing import TYPE_CHECKING

from django.db import models

from portfolio.models import Firm, Person, Position, Project
from portfolio.models.reach import Scope

if TYPE_CHECKING:
    from portfolio.models import Person as PersonType


class MappingVersionQuerySet(models.QuerySet["MappingVersion"]):
    def visible_to(self, person: "PersonType") -> "MappingVersionQuerySet":
        """As instruments: those of one's firm, and of the firms whose projects one sees."""
        firms = Project.objects.visible_to(person).values("firm")
        return self.filter(person.reach.directory("firm") | models.Q(firm__in=firms))

    def newest(self) -> "MappingVersionQuerySet":
        """The newest version of each family."""
        later = MappingVersion.objects.filter(
            firm=models.OuterRef("firm"),
            family_key=models.OuterRef("family_key"),
            version__gt=models.OuterRef("version"),
        )
        return self.filter(~models.Exists(later))


class MappingVersion(models.Model):
    """A version of a firm's mapping of one family of controllers, byte for byte. Insert-only: records name it."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    firm = models.ForeignKey(Firm, on_delete=models.PROTECT, related_name="settings_mappings")
    family = models.CharField(max_length=200)
    family_key = models.CharField(max_length=400)  # without regard to capitals
    version = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64)
    raw = models.BinaryField()
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)

    objects = MappingVersionQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["firm", "family_key", "version"], name="mapping_version_once_per_family")
        ]

    def __str__(self) -> str:
        return f"{self.family}, version {self.version}"

    def access_scope(self) -> Scope:
        return Scope(firm_id=self.firm_id)


class SettingsNowQuerySet(models.QuerySet["SettingsNow"]):
    def visible_to(self, person: "PersonType") -> "SettingsNowQuerySet":
        return self.filter(position__in=Position.objects.visible_to(person).values("id"))


class SettingsNow(models.Model):
    """What a position's controller is set to: by the newest record as left, else by the newest. Derived."""

    position = models.OneToOneField(Position, primary_key=True, on_delete=models.CASCADE, related_name="settings_now")
    moment = models.CharField(max_length=20)
    observed_at = models.DateTimeField()
    envelope = models.UUIDField()
    values = models.JSONField(default=dict)  # in SI, by the names of the catalogue

    objects = SettingsNowQuerySet.as_manager()

    def __str__(self) -> str:
        return f"{self.position_id} {self.moment}, {self.observed_at}"


class SettingValue(models.Model):
    """One of these settings again, a number or a word, as yes and no are: its two indexes are what is searched."""

    id = models.BigAutoField(primary_key=True)
    settings = models.ForeignKey(SettingsNow, on_delete=models.CASCADE, related_name="held")
    code = models.CharField(max_length=60)
    number = models.FloatField(null=True)
    word = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["settings", "code"], name="a_setting_once_in_a_position")]
        indexes = [
            models.Index(fields=["code", "number", "settings"], name="settings_by_number"),
            models.Index(fields=["code", "word", "settings"], name="settings_by_word"),
        ]

    def __str__(self) -> str:
        return f"{self.code} of {self.settings_id}"
