"""Judging: a document in, judgements out. Pure: the same here, in a job, and from a binder years later."""

from commissioning.judging.document import (
    RESULT_SCHEMA,
    DocumentError,
    Prepared,
    exit_code,
    judge_document,
    prepare,
)
from commissioning.judging.position import PositionDossier, PositionResult, inputs_hash, judge_position
from commissioning.judging.reading import Read, read_envelope
from commissioning.judging.registry import KINDS, RULES, rules_hash
from commissioning.judging.show import failing, headline, place_of, show_judgement, show_measurement

__all__ = [
    "KINDS",
    "RESULT_SCHEMA",
    "RULES",
    "DocumentError",
    "PositionDossier",
    "PositionResult",
    "Prepared",
    "Read",
    "exit_code",
    "failing",
    "headline",
    "inputs_hash",
    "judge_document",
    "judge_position",
    "place_of",
    "prepare",
    "read_envelope",
    "rules_hash",
    "show_judgement",
    "show_measurement",
]
