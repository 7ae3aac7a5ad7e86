"""Words for what these pages show beside standing: checks and acts."""

from commissioning.issues.queries import Check
from commissioning.judging import place_of
from portfolio.dashboards.words import requirement_in_words

ACTS_DONE = {
    "draft": "found by judging",
    "release": "released",
    "hand_over": "handed over",
    "drop": "dropped",
    "withdrawn": "withdrawn by the evidence",
    "describe": "described",
    "answer_ready": "declared ready",
    "answer_not_ours": "answered: not ours",
    "schedule": "retest scheduled",
    "waste_call_out": "call-out wasted",
    "retest_failed": "retest failed",
    "evidence_passes": "evidence passes",
    "close": "closed",
    "accept": "accepted as it is",
    "reopen": "opened again",
    "merge": "merged",
    "split": "split",
    "comment": "comment",
    "add_photo": "photo added",
}


def check_in_words(check: Check) -> str:
    where = place_of(check.port, [check.requirement])
    return f"{check.tag}{f', {where}' if where else ''}: {requirement_in_words(check.requirement).lower()}"
