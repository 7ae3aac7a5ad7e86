"""One hash of all that matters in the end, whatever order things arrived in and whatever was killed on the way."""

from typing import Any

from commissioning.dossier.canonical import canonical_json, sha256_hex
from commissioning.models import CurrentVerdict, Issue, IssueCheck, JudgedPosition, Record, Submission, Supersession
from portfolio.models import Job, Standing


def end_state() -> dict[str, Any]:
    """By names and client ids, so that two databases can be compared. Times of the server are left out."""
    return {
        "submissions": sorted(f"{s.client_id} {s.sha256}" for s in Submission.objects.all()),
        "records": sorted(
            f"{r.submission.client_id} {r.position.tag} {r.is_final} {r.needs_attention}"
            for r in Record.objects.select_related("submission", "position")
        ),
        "supersessions": sorted(
            f"{s.record.submission.client_id} {s.names}"
            for s in Supersession.objects.select_related("record__submission")
        ),
        "judged": sorted(
            f"{j.position.tag} {j.inputs_hash}" for j in JudgedPosition.objects.select_related("position")
        ),
        "verdicts": sorted(
            f"{v.position.tag} {v.requirement} {v.port} {v.outcome} {v.judgement.result_hash}"
            for v in CurrentVerdict.objects.select_related("position", "judgement")
        ),
        "standings": sorted(f"{s.position.tag} {s.code}" for s in Standing.objects.select_related("position")),
        "checks": sorted(
            f"{c.position.tag} {c.requirement} {c.port}"
            for c in IssueCheck.objects.filter(live=True).select_related("position")
        ),
        "live issues": Issue.objects.filter(state__in=Issue.LIVE).count(),
        "jobs due": Job.objects.filter(due=True).count(),
    }


def end_hash() -> str:
    return sha256_hex(canonical_json(end_state()))
