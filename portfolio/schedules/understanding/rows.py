"""Rows of a table into drafts: each cell read for its column's meaning, each failure an error at that cell."""

from portfolio.schedules.reading.cells import (
    DATE_VALUE,
    FORMULA_WITHOUT_VALUE,
    Address,
    Cell,
    column_letter,
)
from portfolio.schedules.understanding.columns import Column, Columns, title_kind
from portfolio.schedules.understanding.drafts import Draft, Value
from portfolio.schedules.understanding.equipment import WORDS, OwnWord, codes_in
from portfolio.schedules.understanding.headings import unit_in
from portfolio.schedules.understanding.meanings import ELECTRICAL, IGNORE, MAX_MIN, TEXT, Meaning
from portfolio.schedules.understanding.notes import NoteBook
from portfolio.schedules.understanding.places import building_of, scope_of_title
from portfolio.schedules.understanding.result import AirBasis, NotGiven, Quantity, ScopeWord, Written
from portfolio.schedules.understanding.said import Said
from portfolio.schedules.understanding.tables import BodyRow, Table
from portfolio.schedules.understanding.tags import (
    TagReading,
    close_to,
    expected_in,
    kind_of_tag,
    kind_of_title,
    read_tags,
)
from portfolio.schedules.understanding.values import Reading, cites_in, is_blank_text, read_value, scope_word

_ONE_FAN = {"exhaust_fan": "exhaust", "makeup_fan": "supply"}
_SUPPLY_BY_DEFAULT = frozenset({"ahu", "doas"})
_UNIT_TO_FAN = {"volts", "phases", "hertz", "amps"}
_PAIR_FIELDS = {"airflow_and_minimum", "minimum_and_airflow", "airflow"}
_FAULTS = {
    FORMULA_WITHOUT_VALUE: (
        "the cell holds a formula whose value was never stored",
        "Open the file in a spreadsheet program, save it, and send it again",
    ),
    DATE_VALUE: (
        "the file holds a date here; a spreadsheet program makes one of entries such as 1/2",
        "Format the cell as text, or write 0.5",
    ),
}
_BROKEN_VALUE = ("the cell shows a spreadsheet error", "Repair the formula in the file")


class RowReader:
    """Reads the rows of one table."""

    def __init__(
        self,
        table: Table,
        columns: Columns,
        *,
        style: str,
        known: frozenset[str],
        notes: NoteBook,
        basis: AirBasis | None,
        said: Said,
        sheet_building: Written | None,
        own: tuple[OwnWord, ...] = (),
    ) -> None:
        self._table = table
        self._sheet = table.sheet
        self._columns = columns
        self._style = style
        self._known = known
        self._notes = notes
        self._basis = basis
        self._said = said
        self._sheet_building = sheet_building
        self._own = own
        self._title_kind = title_kind(table)
        self._title_scope = scope_of_title(table)
        self._headed = tuple(cite for column in columns.all for cite in column.cites)
        tags = columns.named("tag")
        types = columns.named("type")
        self._key: Column | None = next(iter(tags or types), None)
        self._by_type = not tags and bool(types)
        self._paths: dict[tuple[int, str], str] = {}

    def drafts(self) -> list[Draft]:
        if self._key is None:
            return []
        self._join_continued()
        found = [draft for row in self._table.body if (draft := self._draft(row, self._key)) is not None]
        for row in self._table.without_key:
            self._no_key(row, self._key)
        for row in self._table.totals:
            cell = next(iter(row.cells.values()))
            self._said.remark(self._at(cell), f"row {row.number} is a total and is left out", "total_left_out")
        return found

    def _at(self, cell: Cell) -> Address:
        return Address(self._sheet, cell.row, column_letter(cell.column))

    def _join_continued(self) -> None:
        """A row without a tag and without figures carries on the texts of the row above."""
        for above, row in self._table.continued:
            for index, cell in row.cells.items():
                before = above.cells.get(index)
                text = f"{before.text} {cell.text}" if before is not None else cell.text
                above.cells[index] = (before or cell)._replace(text=text)

    def _no_key(self, row: BodyRow, key: Column) -> None:
        cell = next(iter(row.cells.values()))
        at = Address(self._sheet, row.number, key.letter)
        shown = ", ".join(c.text for c in list(row.cells.values())[:4])
        self._said.error(
            at, "", f"the row has values ({shown}) and no tag", "Write the tag, or clear the row", "no_tag"
        )
        if cell.fault:
            self._fault(cell, None)

    def _draft(self, row: BodyRow, key: Column) -> Draft | None:
        cell = row.cells.get(key.index)
        if cell is None:
            return None
        if cell.fault:
            self._fault(cell, None)
            return None
        at = self._at(cell)
        if self._by_type:
            reading = TagReading((" ".join(cell.text.split()),), expected=expected_in(cell.text))
        else:
            reading = read_tags(cell.text, self._known)
        if reading.problem:
            self._said.error(
                at, cell.text, reading.problem, "Write tags like ERV-1, ERV-1 thru 6, or ERV-1, 2, 5", "tag_unreadable"
            )
            return None
        draft = Draft(self._table.number, Written(cell.text, at), reading, self._by_type, basis=self._basis)
        draft.expected = reading.expected
        draft.expected_at = at if reading.expected else None
        self._set_kind(draft, row)
        self._check_known(draft, at)
        self._read_cells(draft, row, key, cell)
        return draft

    def _set_kind(self, draft: Draft, row: BodyRow) -> None:
        by_tag = kind_of_tag(draft.reading.tags[0])
        by_column = ""
        for column in self._columns.named("kind"):
            cell = row.cells.get(column.index)
            by_column = by_column or (kind_of_title(cell.text) if cell is not None else "")
        by_section = kind_of_title(row.section.text) if row.section is not None else ""
        draft.kind = by_tag or by_column or by_section or self._title_kind
        draft.kind_by_tag = bool(by_tag)

    def _check_known(self, draft: Draft, at: Address) -> None:
        if not self._known or self._by_type:
            return
        for tag in draft.reading.tags:
            near = "" if tag in self._known else close_to(tag, self._known)
            if near:
                self._said.remark(at, f"'{tag}' is new here, and close to the known tag '{near}'", "close_to_known")

    def _read_cells(self, draft: Draft, row: BodyRow, key: Column, key_cell: Cell) -> None:
        cites: list[tuple[str, Address, bool]] = [(cite, draft.key.at, False) for cite in draft.reading.cites]
        cites += [(cite, draft.key.at, False) for cite in self._headed]
        scope: list[ScopeWord] = []
        if draft.reading.scope:
            scope.append(ScopeWord(draft.reading.scope, key_cell.text, draft.key.at))
        said_in_figures: list[ScopeWord] = []
        figures = 0
        for column in self._columns.all:
            cell = row.cells.get(column.index)
            if cell is None or column is key or cell is key_cell:
                continue
            meaning = column.meaning
            if meaning is not None and meaning.code == IGNORE:
                continue
            if cell.fault and (cell.fault != DATE_VALUE or (meaning is not None and meaning.form != TEXT)):
                self._fault(cell, column)
            elif meaning is None:
                draft.other.setdefault(column.header or f"column {column.letter}", Written(cell.text, self._at(cell)))
            elif meaning.form == TEXT:
                self._text(draft, cell, column, meaning, scope, cites)
            else:
                figures += self._figure(draft, cell, column, meaning, said_in_figures, cites)
        if said_in_figures and not figures:
            scope.append(said_in_figures[0])
        if not scope and self._title_scope is not None:
            scope.append(self._title_scope)
        draft.scope = tuple({word.code: word for word in scope}.values())
        draft.notes = self._notes.notes_for(self._table, cites, self._said)
        if "building" not in draft.values:
            building = building_of(self._table, row, self._sheet_building)
            if building is not None:
                draft.values["building"] = building

    def _fault(self, cell: Cell, column: Column | None) -> None:
        if self._said.first_time(self._table, f"{cell.column}:{cell.row}", "fault"):
            reason, remedy = _FAULTS.get(cell.fault, _BROKEN_VALUE)
            self._said.error(self._at(cell), cell.text, reason, remedy, cell.fault)

    def _text(
        self,
        draft: Draft,
        cell: Cell,
        column: Column,
        meaning: Meaning,
        scope: list[ScopeWord],
        cites: list[tuple[str, Address, bool]],
    ) -> None:
        at, code = self._at(cell), meaning.code
        if is_blank_text(cell.text):
            if "." in code and (path := self._path(draft, column, meaning)):
                draft.open.setdefault(path, NotGiven(cell.text, at, "written as not given"))
            return
        if code == "quantity":
            self._quantity(draft, cell, at)
            return
        if code in ("remarks", "notes", "scope"):
            cites += [(cite, at, False) for cite in cites_in(cell.text)]
            word = scope_word(cell.text) or scope_word(cell.text.replace(";", ".").replace(",", ".").split(".")[0])
            if word:
                scope.append(ScopeWord(word, cell.text, at))
            draft.expected = draft.expected or expected_in(cell.text)
            draft.expected_at = draft.expected_at or (at if draft.expected else None)
        elif cell.merged > 1 and scope_word(cell.text):
            scope.append(ScopeWord(scope_word(cell.text), cell.text, at))
            return
        if code == "maker_and_model":
            maker, _, model = cell.text.replace("\n", " / ").partition("/")
            draft.values["manufacturer"] = Written(maker.strip(), at)
            if model.strip():
                draft.values["model"] = Written(model.strip(), at)
            return
        target = "remarks" if code == "notes" and not cites_in(cell.text) else code
        if "." in code:
            target = self._path(draft, column, meaning)
            if not target:
                return
        if code in WORDS:
            self._tell_strange(code, cell, column)
        before = draft.values.get(target)
        if isinstance(before, Written):
            draft.values[target] = Written(f"{before.text}, {cell.text}", before.at)
        else:
            draft.values[target] = Written(cell.text, at)

    def _tell_strange(self, code: str, cell: Cell, column: Column) -> None:
        for words in codes_in(code, cell.text, self._own)[1]:
            if self._said.first_time(self._table, column.letter, f"strange {words.casefold()}"):
                self._said.remark(self._at(cell), f"'{words}' decides no check here; it is left out", "word_unknown")

    def _quantity(self, draft: Draft, cell: Cell, at: Address) -> None:
        count = expected_in(cell.text) or (int(cell.text) if cell.text.isdigit() and len(cell.text) < 5 else 0)
        if count > 1 and not draft.expected:
            draft.expected, draft.expected_at = count, at

    def _figure(
        self,
        draft: Draft,
        cell: Cell,
        column: Column,
        meaning: Meaning,
        said_in_figures: list[ScopeWord],
        cites: list[tuple[str, Address, bool]],
    ) -> int:
        """Read a number cell; 1 if it gave a value."""
        number = cell.number
        if number is not None and number >= 0 and not cell.unit and meaning.form != ELECTRICAL and column.unit:
            path = self._path(draft, column, meaning)
            if path:
                at = Address(self._sheet, cell.row, column_letter(cell.column))
                self._set(draft, path, Quantity(number, column.unit, at, cell.text))
            return 1
        at = self._at(cell)
        reading = self._reading(cell, column, meaning)
        if reading.problem:
            self._said.error(at, cell.text, reading.problem, reading.remedy, reading.code)
            return 0
        path = self._path(draft, column, meaning)
        cites += [(cite, at, bool(reading.open)) for cite in reading.cites]
        if reading.remark and reading.remark != "pair_by_form":
            self._said.remark(at, reading.remark, "read_with_care")
        if reading.open:
            if reading.code:
                said_in_figures.append(ScopeWord(reading.code, cell.text, at))
            for target in self._targets(path, meaning):
                draft.open.setdefault(target, NotGiven(cell.text, at, reading.open))
            return 0
        if path:
            self._given(draft, cell, column, meaning, reading, path)
        return 1

    def _reading(self, cell: Cell, column: Column, meaning: Meaning) -> Reading:
        if cell.number is None or meaning.form == ELECTRICAL:
            return read_value(cell.text, meaning.code, column.unit, self._style)
        unit = unit_in(cell.unit) if cell.unit else None
        if unit is not None and meaning.quantity and unit[0] == meaning.quantity:
            return Reading(cell.number, unit[1])
        if cell.unit and meaning.quantity != "airflow" and unit is None:
            return read_value(cell.text, meaning.code, column.unit, "point")
        return read_value(f"{cell.number:.15g} {cell.unit}".strip(), meaning.code, column.unit, "point")

    def _given(self, draft: Draft, cell: Cell, column: Column, meaning: Meaning, reading: Reading, path: str) -> None:
        at = self._at(cell)
        assert reading.value is not None
        if meaning.form == ELECTRICAL:
            group = path.rpartition(".")[0]
            for name, value, unit in (
                ("volts", reading.value, "V"), ("phases", reading.second, "1"), ("hertz", reading.third, "Hz")
            ):  # fmt: skip
                if value is not None:
                    self._set(draft, f"{group}.{name}", Quantity(value, unit, at, cell.text))
            return
        if meaning.quantity and not reading.unit:
            self._no_unit(column, meaning)
            return
        unit = reading.unit or meaning.unit
        if reading.second is not None:
            name = meaning.code.rpartition(".")[2]
            if name not in _PAIR_FIELDS:
                self._said.error(
                    at, cell.text, "two numbers in a column that has one", "Write one number", "not_a_number"
                )
                return
            if reading.remark == "pair_by_form" and self._said.first_time(self._table, column.letter, "pair"):
                text = f"'{cell.text}' is understood as maximum / minimum; the heading does not say so"
                self._said.remark(at, text, "pair_by_form")
            group = path.rpartition(".")[0]
            self._set(draft, f"{group}.minimum", Quantity(reading.second, unit, at, cell.text))
        self._set(draft, path, Quantity(reading.value, unit, at, cell.text))
        if reading.motors:
            group = path.rpartition(".")[0]
            self._set(draft, f"{group}.motors", Quantity(float(reading.motors), "1", at, cell.text))

    def _no_unit(self, column: Column, meaning: Meaning) -> None:
        if self._said.first_time(self._table, column.letter, "unit_unknown"):
            self._said.error(
                column.at,
                column.header,
                f"the column reads as {meaning.label}, and nothing says in which unit",
                "Choose the unit of the column",
                "unit_unknown",
            )

    def _targets(self, path: str, meaning: Meaning) -> tuple[str, ...]:
        if not path:
            return ()
        group = path.rpartition(".")[0]
        if meaning.form == ELECTRICAL:
            return (f"{group}.volts", f"{group}.phases", f"{group}.hertz")
        if meaning.form == MAX_MIN:
            return (f"{group}.airflow", f"{group}.minimum")
        return (path,)

    def _path(self, draft: Draft, column: Column, meaning: Meaning) -> str:
        """The field's path for this row; the kind of unit says which port or fan, where the heading does not."""
        key = (column.index, draft.kind)
        path = self._paths.get(key)
        if path is None:
            path = self._paths[key] = self._path_for(draft, column, meaning)
        return path

    def _path_for(self, draft: Draft, column: Column, meaning: Meaning) -> str:
        code = meaning.code
        if code.startswith("electrical.") and draft.kind in _ONE_FAN:
            name = code.partition(".")[2]
            if name in _UNIT_TO_FAN or name == "supply":
                return f"fan.{_ONE_FAN[draft.kind]}.{name}"
        if meaning.form == MAX_MIN:
            code = code.replace("airflow_and_minimum", "airflow").replace("minimum_and_airflow", "airflow")
        if not meaning.by_kind:
            return code
        side = _ONE_FAN.get(draft.kind, "supply" if draft.kind in _SUPPLY_BY_DEFAULT else "")
        if not side:
            if self._said.first_time(self._table, column.letter, "port_not_said"):
                self._said.error(
                    column.at,
                    column.header,
                    f"the heading does not say of which side the {meaning.label} is, and the unit has two",
                    "Choose the meaning of the column",
                    "port_not_said",
                )
            return ""
        if draft.kind in _SUPPLY_BY_DEFAULT and self._said.first_time(self._table, column.letter, "taken_as_supply"):
            text = f"'{column.header}' names no side; it is taken as the supply side"
            self._said.remark(column.at, text, "taken_as_supply")
        return f"fan.{side}.{code.partition('.')[2]}" if code.startswith("fan.") else f"{side}.{code}"

    def _set(self, draft: Draft, path: str, value: Value) -> None:
        before = draft.values.get(path)
        if isinstance(before, Quantity) and isinstance(value, Quantity):
            if before.at != value.at and (before.value, before.unit) != (value.value, value.unit):
                reason = f"{before.at} says {before.value:g} {before.unit} for the same"
                self._said.error(value.at, value.text, reason, "Correct one of the two", "contradiction")
            return
        draft.values[path] = value
