"""A record is what the bytes say, in columns: made at acceptance, and made again from the bytes at any time."""

from collections.abc import Sequence

from commissioning.dossier.envelope import Envelope
from commissioning.dossier.problem import Problem
from commissioning.models import Record, RecordPhoto, Submission, Supersession

PARSE_VERSION = 2


def record_of(submission: Submission, envelope: Envelope, problems: Sequence[Problem]) -> Record:
    return Record(
        submission=submission,
        position_id=envelope.position,
        kind=envelope.kind,
        observed_at=envelope.observed_at,
        observed_by=envelope.observed_by,
        is_final=envelope.is_final,
        session=envelope.session,
        problems=[problem.to_json() for problem in problems],
        needs_attention=bool(problems),
        parse_version=PARSE_VERSION,
    )


def supersessions_of(record: Record, envelope: Envelope) -> list[Supersession]:
    return [Supersession(record=record, names=one.id, reason=one.reason) for one in envelope.supersedes]


def photos_of(record: Record, envelope: Envelope) -> list[RecordPhoto]:
    captions = {one.sha256: one.caption for one in envelope.photos}
    return [RecordPhoto(record=record, sha256=sha256, caption=caption) for sha256, caption in captions.items()]
