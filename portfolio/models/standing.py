"""Where each position stands: a cache for pages, recomputed whole and never counted up.

Dates, never ages. `manage.py rebuild_standing` makes it again and says what differed. Lists are counted and sorted by
this table alone: it repeats the building and the tag, and its two indexes hold all that is counted or sorted by.
"""

from collections.abc import Mapping

from django.db import models

from portfolio.models.parties import Company
from portfolio.models.places import Building, Position


def as_text(outcomes: Mapping[str, str]) -> str:
    """Outcomes by requirement as one text, each outcome once, the same for the same outcomes: positions group by it.

    >>> as_text({"one_session": "not_due", "design_airflow": "conforms", "mass_balance": "conforms"})
    'conforms:design_airflow,mass_balance not_due:one_session'
    """
    found: dict[str, list[str]] = {}
    for requirement, outcome in sorted(outcomes.items()):
        found.setdefault(outcome, []).append(requirement)
    return " ".join(f"{outcome}:{','.join(requirements)}" for outcome, requirements in sorted(found.items()))


def from_text(text: str) -> dict[str, str]:
    """
    >>> from_text("conforms:design_airflow,mass_balance not_due:one_session")
    {'design_airflow': 'conforms', 'mass_balance': 'conforms', 'one_session': 'not_due'}
    """
    parts = (one.split(":") for one in text.split())
    return {requirement: outcome for outcome, requirements in parts for requirement in requirements.split(",")}


class Standing(models.Model):
    class Code(models.TextChoices):
        NOT_COUNTED = "not_counted", "not counted"
        NO_DESIGN = "no_design", "no design"
        NOT_MEASURED = "not_measured", "not measured"
        PRELIMINARY = "preliminary", "preliminary readings"
        ATTENTION = "attention", "a record needs attention"
        DISPUTED = "disputed", "disputed"
        RECHECK = "recheck", "re-check"
        DRAFT = "draft", "drafts to release"
        WITH_COMPANY = "with_company", "with a company"
        READY = "ready", "ready for retest"
        TO_CLOSE = "to_close", "evidence passes, to be closed"
        UNSETTLED = "unsettled", "inconclusive or not judged"
        SIGNABLE = "signable", "can be signed"
        SEASON = "season", "accepted, seasonal test outstanding"
        SIGNED = "signed", "signed"

    position = models.OneToOneField(Position, primary_key=True, on_delete=models.CASCADE, related_name="standing")
    code = models.CharField(max_length=20, choices=Code.choices)
    sentence = models.CharField(max_length=400)
    mover = models.CharField(max_length=20, blank=True)  # the role that has the next move
    company = models.ForeignKey(Company, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    since = models.DateField(null=True, blank=True)
    due = models.DateField(null=True, blank=True)
    band = models.JSONField(null=True, blank=True)  # the worst port's band, as the block's JSON
    live_issues = models.PositiveIntegerField(default=0)
    last_observed_at = models.DateTimeField(null=True, blank=True)
    building = models.ForeignKey(Building, on_delete=models.CASCADE, related_name="+", db_index=False)
    tag = models.CharField(max_length=60)
    # The worst outcome of each requirement over the ports, `as_text`; PostgreSQL takes 2,700 bytes into an index.
    outcomes = models.CharField(max_length=2400, blank=True)

    class Meta:
        indexes = [
            models.Index(fields=["building", "code", "outcomes", "tag", "position"], name="standing_by_outcomes"),
            models.Index(
                fields=["building", "mover", "code", "company", "due", "since", "tag", "position"],
                name="standing_by_next_move",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.position_id}: {self.code}"
