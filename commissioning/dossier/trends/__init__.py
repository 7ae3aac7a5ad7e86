"""Trend logs judged, purely: `analyse(series by role, plan)` gives findings; `default_plan` says what may be asked."""

from commissioning.dossier.trends.analysis import FORM, VERSION, analyse
from commissioning.dossier.trends.logged import Logged
from commissioning.dossier.trends.plan import Plan, default_plan
from commissioning.dossier.trends.said import printed

__all__ = ["FORM", "VERSION", "Logged", "Plan", "analyse", "default_plan", "printed"]
