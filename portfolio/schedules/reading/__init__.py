"""A file or a pasted text in, grids of cells out. Pure: no framework, no database.

Nothing here knows what a schedule is. A grid holds what a person sees in the file, each cell with the address that an
error can name; a file that cannot be read becomes a grid with one error and no cells, never an exception.
"""

from portfolio.schedules.reading.cells import Address, Cell, Grid, GridRow, ScheduleError
from portfolio.schedules.reading.files import read_pasted, read_workbook

__all__ = ["Address", "Cell", "Grid", "GridRow", "ScheduleError", "read_pasted", "read_workbook"]
