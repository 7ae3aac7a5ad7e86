"""The life of an issue as a table: which act leads from where to where, who may, and what it needs.

draft --release--> released --answer ready--> ready --close--> closed
released --answer not ours--> not ours --release--> released (another company)
ready --call-out wasted--> released; closed or accepted --reopen--> released
"""

from collections.abc import Iterable
from dataclasses import dataclass

from commissioning.models import Issue

S = Issue.State


@dataclass(frozen=True)
class Act:
    """`verb` is a key of portfolio.access; `needs` are the fields without which the act says nothing."""

    code: str
    words: str
    verb: str
    begins: frozenset[str]
    ends: str | None  # None: the state stays
    needs: tuple[str, ...] = ()


def _act(code: str, words: str, verb: str, begins: Iterable[str], ends: str | None, *needs: str) -> Act:
    return Act(code, words, verb, frozenset(begins), ends, needs)


_LIVE = {str(state) for state in Issue.LIVE}
_RELEASED = {S.RELEASED, S.READY, S.NOT_OURS}
_ALL = {str(state) for state in S}

ACTS = {
    act.code: act
    for act in (
        _act("release", "release to a company", "release_issue", {S.DRAFT, S.NOT_OURS}, S.RELEASED, "company"),
        _act("hand_over", "hand to another company", "release_issue", {S.RELEASED, S.READY}, S.RELEASED, "company"),
        _act("drop", "drop the draft", "release_issue", {S.DRAFT}, S.DROPPED, "text"),
        _act("describe", "describe", "work_issue", _LIVE, None),
        _act("answer_ready", "declare ready, with proof", "answer_issue", {S.RELEASED}, S.READY, "text"),
        _act("answer_not_ours", "answer: not ours", "answer_issue", {S.RELEASED}, S.NOT_OURS, "text"),
        _act("schedule", "schedule the retest", "work_issue", {S.READY}, None, "retest_on"),
        _act("waste_call_out", "the call-out was wasted", "work_issue", {S.READY}, S.RELEASED, "text"),
        _act("close", "close on passing evidence", "work_issue", {S.RELEASED, S.READY, S.NOT_OURS}, S.CLOSED),
        _act("accept", "accept as is", "accept_as_is", _RELEASED, S.ACCEPTED, "text"),
        _act("reopen", "open again", "work_issue", {S.CLOSED, S.ACCEPTED}, S.RELEASED, "text"),
        _act("merge", "merge into another issue", "work_issue", _LIVE, S.MERGED, "into"),
        _act("split", "split checks off into an issue of their own", "work_issue", _LIVE, None, "checks"),
        _act("comment", "comment", "comment", _ALL, None, "text"),
        _act("add_photo", "add a photo", "comment", _ALL, None, "photo"),
    )
}


def acts_from(state: str) -> tuple[Act, ...]:
    return tuple(act for act in ACTS.values() if state in act.begins)
