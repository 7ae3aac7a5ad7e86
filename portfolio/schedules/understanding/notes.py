"""Footnotes and who cites them."""

from typing import Protocol

from portfolio.schedules.reading.cells import Address
from portfolio.schedules.understanding.result import Note
from portfolio.schedules.understanding.tables import Table


class Saying(Protocol):
    """Where errors and remarks are told."""

    def error(self, at: Address, value: str, reason: str, remedy: str, code: str) -> None: ...

    def remark(self, at: Address, text: str, code: str) -> None: ...


class NoteBook:
    """The footnotes of a file, found by a table and a number."""

    def __init__(self, tables: list[Table]) -> None:
        self._by_table: dict[tuple[str, int], dict[str, Note]] = {}
        self._general: dict[tuple[str, int], tuple[Note, ...]] = {}
        self._by_sheet: dict[str, dict[str, list[Note]]] = {}
        self._found: dict[tuple[str, int, tuple[str, ...]], tuple[Note, ...]] = {}
        for table in tables:
            key = (table.sheet, table.number)
            self._by_table[key] = {note.number: note for note in table.notes if note.number}
            self._general[key] = tuple(note for note in table.notes if not note.number)
            on_sheet = self._by_sheet.setdefault(table.sheet, {})
            for note in table.notes:
                if note.number and note not in on_sheet.setdefault(note.number, []):
                    on_sheet[note.number].append(note)

    def notes_for(self, table: Table, cites: list[tuple[str, Address, bool]], said: Saying) -> tuple[Note, ...]:
        """The notes of a row: general ones, then those it cites.

        Args:
            table: the row's table.
            cites: number of the note, the citing cell, whether a value is missing because of it.
            said: where a note that is missing is told: an error if a value hangs on it, else a remark.
        """
        key = (table.sheet, table.number)
        numbers = tuple(dict.fromkeys(number for number, _, _ in cites))
        for number, at, needed in cites:
            if self._note(table, number) is None:
                self._tell_missing(number, at, needed, said)
        cached = self._found.get((*key, numbers))
        if cached is None:
            cited = tuple(note for number in numbers if (note := self._note(table, number)) is not None)
            cached = self._general.get(key, ()) + cited
            self._found[(*key, numbers)] = cached
        return cached

    def _note(self, table: Table, number: str) -> Note | None:
        own = self._by_table.get((table.sheet, table.number), {}).get(number)
        if own is not None:
            return own
        others = self._by_sheet.get(table.sheet, {}).get(number, [])
        return others[0] if len(others) == 1 else None

    @staticmethod
    def _tell_missing(number: str, at: Address, needed: bool, said: Saying) -> None:
        named = f"note {number}" if number != "*" else "the note marked *"
        if needed:
            said.error(
                at,
                f"note {number}",
                f"the cell refers to {named}, and there is no such note",
                "Write the value, '-' for not given, or add the note",
                "note_missing",
            )
        else:
            said.remark(at, f"{named} is cited here and not found", "note_missing")
