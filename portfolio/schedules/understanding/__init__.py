"""Grids in, design rows out: with what each column was understood as, and every error at its cell. Pure."""

from portfolio.schedules.understanding.result import Choices, ColumnChoice, DesignRow, Understanding
from portfolio.schedules.understanding.stored import choices_from, to_json, understanding_from
from portfolio.schedules.understanding.understand import understand

__all__ = [
    "Choices",
    "ColumnChoice",
    "DesignRow",
    "Understanding",
    "choices_from",
    "to_json",
    "understand",
    "understanding_from",
]
