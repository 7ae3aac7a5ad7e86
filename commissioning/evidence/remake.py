"""Records made again from the bytes: after a change of the parse, or to show that nothing else is needed."""

from commissioning import judging
from commissioning.dossier.problem import Problem
from commissioning.evidence.records import photos_of, record_of, supersessions_of
from commissioning.evidence.senders import pointers_of
from commissioning.models import Record, RecordPhoto, Submission, Supersession

BATCH = 500


def records() -> int:
    """Every record anew, in the caller's transaction; what only acceptance could see is taken over."""
    doubts = dict(Record.objects.filter(needs_attention=True).values_list("pk", "problems"))
    withheld = _withheld()
    RecordPhoto.objects.all().delete()
    Supersession.objects.all().delete()
    Record.objects.all().delete()
    count = 0
    batch: list[Submission] = []
    for submission in Submission.objects.order_by("pk").iterator(BATCH):
        batch.append(submission)
        if len(batch) == BATCH:
            count += _remake(batch, doubts, withheld)
            batch = []
    return count + _remake(batch, doubts, withheld)


def _withheld() -> set[tuple[int, str]]:
    """Supersessions that an envelope claims and acceptance withheld, since its sender may not submit there."""
    kept = {(pk, str(names)) for pk, names in Supersession.objects.values_list("record_id", "names")}
    claimed = set()
    for submission in Submission.objects.order_by("pk").iterator(BATCH):
        frame = judging.read_envelope(bytes(submission.raw)).frame
        if frame is not None:
            claimed |= {(submission.pk, str(one.id)) for one in frame.supersedes}
    return claimed - kept


def _remake(batch: list[Submission], doubts: dict[int, list[dict[str, str]]], withheld: set[tuple[int, str]]) -> int:
    rows, supersessions, photos = [], [], []
    for submission in batch:
        frame = judging.read_envelope(bytes(submission.raw)).frame
        if frame is None:
            raise ValueError(f"Submission {submission.pk} was kept and cannot be read: its bytes are damaged.")
        seen_there = {"/observed_by", "/observed_at", *pointers_of(frame.payload)}
        from_acceptance = [Problem(**one) for one in doubts.get(submission.pk, []) if one["pointer"] in seen_there]
        row = record_of(submission, frame, [*frame.problems, *from_acceptance])
        rows.append(row)
        photos += photos_of(row, frame)
        supersessions += [
            one for one in supersessions_of(row, frame) if (submission.pk, str(one.names)) not in withheld
        ]
    Record.objects.bulk_create(rows)
    Supersession.objects.bulk_create(supersessions)
    RecordPhoto.objects.bulk_create(photos)
    return len(rows)
