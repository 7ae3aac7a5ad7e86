"""Where the steps of understanding say what is wrong and what is worth a look."""

from dataclasses import dataclass, field

from portfolio.schedules.reading.cells import Address, ScheduleError
from portfolio.schedules.understanding.result import Remark
from portfolio.schedules.understanding.tables import Table


@dataclass
class Said:
    """Errors and remarks, some of which are said once per column and not once per row."""

    errors: list[ScheduleError] = field(default_factory=list)
    remarks: list[Remark] = field(default_factory=list)
    _once: set[tuple[str, int, str, str]] = field(default_factory=set)

    def error(self, at: Address, value: str, reason: str, remedy: str, code: str) -> None:
        self.errors.append(ScheduleError(at.sheet, at.row, at.column, value[:200], reason, remedy, code))

    def remark(self, at: Address, text: str, code: str) -> None:
        self.remarks.append(Remark(at.sheet, at.row, at.column, text, code))

    def first_time(self, table: Table, column: str, code: str) -> bool:
        key = (table.sheet, table.number, column, code)
        if key in self._once:
            return False
        self._once.add(key)
        return True
