"""The restore sheet as blocks: by what a controller is set again after a swap or a reset. One page on paper.

Never a password: free text in which one seems to stand is left out here too, whatever the door let through.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from commissioning.blocks import Block, Caution, Column, Sentence, Table
from commissioning.dossier import printing
from commissioning.dossier.settings import printed
from commissioning.dossier.settings.catalogue import CATALOGUE, NotASetting
from commissioning.dossier.settings.compare import Change
from commissioning.dossier.settings.restore import Place, Restore, Snapshot, Source
from commissioning.dossier.settings.secrecy import refuse_text
from commissioning.dossier.settings.words import MOMENTS
from commissioning.dossier.shows import GRADES

MOST_LISTED = 10  # changes and photos on the sheet; the unit page has all
STARTERS = ("network", "enabling", "supply", "exhaust")
"""Groups in which a setting can start a fan."""
NOTHING = "No settings of this controller are on record, so there is nothing to set it by. Record them as left."
NO_SECRETS = "No password, code of entry or key stands on this sheet; they are handed over by another way."
READ_BACK = "After setting, read it all back and record it as a follow-up: that shows what is set, this sheet does not."
_LEFT_OUT = "left out: a password or a key seems to stand in it"


@dataclass(frozen=True)
class Sheet:
    """`head` goes across the page, `body` into columns where there is room for several."""

    head: tuple[Block, ...]
    body: tuple[Block, ...] = ()


def sheet(place: Place, found: Restore | None, sources: Mapping[str, Source], display: str) -> Sheet:
    """`sources` are of the snapshots, by their envelope."""
    if found is None:
        return Sheet((Sentence(NOTHING, "lead"),))
    groups = _groups(found.snapshot, display)
    titles = [title for group, title in CATALOGUE.groups.items() if group in STARTERS and group in groups]
    head: list[Block] = [Sentence(_lead(place, found.snapshot), "lead")]
    head.append(_read_from(place, found.snapshot, sources))
    head += _which_machine(place, found.snapshot)
    head += [_before_setting(titles)] if titles else []
    head += _later(found)
    return Sheet(
        (*head, Sentence(READ_BACK)),
        (
            *groups.values(),
            *_changed(found, display),
            *_photos(found.snapshot),
            *_not_read(found.snapshot),
            Sentence(NO_SECRETS, "aside"),
        ),
    )


# --- before anything is set ----------------------------------------------------------------------------------------
def _lead(place: Place, snapshot: Snapshot) -> str:
    facts = snapshot["facts"]
    number = len(facts["values"])
    many = f"{number} setting{'' if number == 1 else 's'}"
    stage = ", preliminary" if snapshot["stage"] == "preliminary" else ""
    when = printing.moment(snapshot["observed_at"])
    if facts["moment"] == "as_left":
        return f"{place.tag} as left on {when}{stage}: {many}."
    return (
        f"No settings as left are on record for {place.tag}. These are as found on {when}{stage}: {many}. "
        "Whoever is responsible for the controls says first whether they are to be set."
    )


def _which_machine(place: Place, snapshot: Snapshot) -> list[Block]:
    then, now, seen = place.machine_at(snapshot["observed_at"]), place.machine_now, snapshot["serial_seen"]
    blocks: list[Block] = []
    if seen and then and seen != then.serial:
        text = f"Whoever read them saw serial {seen}; on record here was {then.serial}."
        blocks.append(Caution(f"{text} Settle first which unit they are of.", "Perhaps another unit"))
    if then and now and then.serial != now.serial:
        blocks.append(
            Caution(
                f"They were read on {then.serial}; {now.serial} sits here since {_day(now.since)}. Hold each "
                "value against what the new controller and its sensors take before it is set.",
                "Another machine",
            )
        )
    return blocks


def _before_setting(titles: Sequence[str]) -> Caution:
    return Caution(
        f"What is set under {_listed(titles)} can start a fan at once. Before the first of them is set, whoever sets "
        "it sees that nobody is inside or at the ducts, by the site's lockout rules, permits and local codes; Enabling "
        "is set last. Nothing here says that it is safe to start or to energise.",
        "A fan that starts",
    )


def _later(found: Restore) -> list[Block]:
    if found.later is None:
        return []
    when = f"{MOMENTS['follow_up']} on {printing.moment(found.later['observed_at'])}"
    if not found.drifted:
        return [Sentence(f"What was read {when} was the same.")]
    number = len(found.drifted)
    what = "one setting was" if number == 1 else f"{number} settings were"
    return [
        Sentence(
            f"Read {when}, {what} otherwise than as left: see below, and ask who changed them before setting back."
        )
    ]


# --- what is set -----------------------------------------------------------------------------------------------------
def _read_from(place: Place, snapshot: Snapshot, sources: Mapping[str, Source]) -> Sentence:
    """Who read it on which machine, and which record it is."""
    source = sources.get(snapshot["envelope"])
    machine = place.machine_at(snapshot["observed_at"])
    by = f"Read by {source.by}, " if source else ""
    model = f" ({machine.model})" if machine and machine.model else ""
    on = f"the machine of serial {machine.serial}{model}" if machine else "a machine whose serial is not on record"
    seen = f"; serial seen: {snapshot['serial_seen']}" if snapshot["serial_seen"] else "; no serial was noted"
    family = _harmless(snapshot["facts"]["controller"])
    controller = f". Controller: {family.rstrip('.')}" if family else ""
    record = f" SHA-256 of the record: {hash_in_parts(source.sha256)}." if source else ""
    grade, session = GRADES[snapshot["grade"]], snapshot["session"]
    return Sentence(_upper(f"{by}{grade}, in session {session}, on {on}{seen}{controller}.{record}"))


def hash_in_parts(sha256: str) -> str:
    """All of a hash, in parts that fit a narrow column.

    >>> hash_in_parts("0123456789abcdef" * 4)
    '0123456789abcdef 0123456789abcdef 0123456789abcdef 0123456789abcdef'
    """
    return " ".join(sha256[at : at + 16] for at in range(0, len(sha256), 16))


def _groups(snapshot: Snapshot, display: str) -> dict[str, Table]:
    values = snapshot["facts"]["values"]
    made = {}
    for group, title in CATALOGUE.groups.items():
        rows = tuple(
            (one.title, _harmless(printed.value(code, values[code], display)))
            for code, one in CATALOGUE.settings.items()
            if one.group == group and code in values
        )
        if rows:
            heads = (Column("Setting"), Column("Set to (can start a fan)" if group in STARTERS else "Set to"))
            made[group] = Table(heads, rows, title)
    return made


def _changed(found: Restore, display: str) -> list[Block]:
    blocks: list[Block] = []
    if found.before is not None:
        before = moment_of(found.before)
        if found.changed:
            blocks.append(_change_table(found.changed, display, f"Changed since {before}", ("Then", "Now")))
        else:
            blocks.append(Sentence(f"Nothing that was read both times changed since {before}."))
    if found.later is not None and found.drifted:
        caption = f"Read otherwise at {moment_of(found.later)}"
        blocks.append(
            _change_table(found.drifted, display, caption, (_upper(MOMENTS[found.snapshot["facts"]["moment"]]), "Then"))
        )
    return blocks


def _change_table(found: Sequence[Change], display: str, caption: str, heads: tuple[str, str]) -> Table:
    rows = [
        (
            printed.title_of(one.code),
            _harmless(printed.value(one.code, one.before, display)),
            _harmless(printed.value(one.code, one.after, display)),
        )
        for one in found[:MOST_LISTED]
    ]
    if len(found) > MOST_LISTED:
        rows.append((f"and {len(found) - MOST_LISTED} more, on the unit page", "", ""))
    return Table((Column("Setting"), Column(heads[0]), Column(heads[1])), tuple(rows), caption)


def _photos(snapshot: Snapshot) -> list[Block]:
    held = snapshot["facts"]["photos"]
    if not held:
        return []
    rows = [
        (_harmless(_shortened(caption)) or "no caption", f"{sha256[:16]}…") for sha256, caption in held[:MOST_LISTED]
    ]
    if len(held) > MOST_LISTED:
        rows.append((f"and {len(held) - MOST_LISTED} more, on the unit page", ""))
    return [Table((Column("Photo"), Column("SHA-256")), tuple(rows), "Photos of the controller")]


def _not_read(snapshot: Snapshot) -> list[Block]:
    missing = [one.title for one in CATALOGUE.first if one.code not in snapshot["facts"]["values"]]
    if not missing:
        return []
    return [Sentence(f"Of the settings that matter most these were not read: {'; '.join(missing)}.", "aside")]


# --- words -----------------------------------------------------------------------------------------------------------
def moment_of(snapshot: Snapshot) -> str:
    """
    >>> moment_of({"facts": {"moment": "as_found"}, "observed_at": "2026-05-04T10:15:00-06:00"})
    'as found, 4 May 2026'
    """
    moment = snapshot["facts"]["moment"]
    named = "the follow-up" if moment == "follow_up" else MOMENTS[moment]
    return f"{named}, {_day(datetime.fromisoformat(snapshot['observed_at']))}"


def _day(when: date) -> str:
    return f"{when.day} {when:%B %Y}"


def _harmless(text: str) -> str:
    try:
        refuse_text(text)
    except NotASetting:
        return _LEFT_OUT
    return text


def _shortened(text: str) -> str:
    return text if len(text) <= 80 else f"{text[:79]}…"


def _listed(titles: Sequence[str]) -> str:
    return titles[0] if len(titles) == 1 else f"{', '.join(titles[:-1])} and {titles[-1]}"


def _upper(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"
