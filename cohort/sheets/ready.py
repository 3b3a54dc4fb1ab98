"""Numbers that stand ready in the workbooks of a study.

What comes in: a study folder and its sheets. What goes out: every number in the tabs ``foundings``
of its workbooks, filled in or not. The reader of workbooks passes over a row that bears nothing but
its number; here those rows matter, for they tell whose workbook it is. It writes nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from cohort.base.errors import CohortError
from cohort.sheets.container import MAX_FILE, contents
from cohort.sheets.files import bytes_of, told
from cohort.sheets.raw import Sheets, column_name, sheet_of
from cohort.sheets.workbook import SUFFIXES, Cell, cell_text, header_row, tabs_of
from cohort.terms.contract import FOUNDINGS, SHEET_NAMES


def ready_numbers(folder: Path, sheets: Sheets) -> tuple[str, ...]:
    """Numbers in the workbooks, in order of file and row.

    Parameters
    ----------
    folder : Path
        The study.
    sheets : Sheets
        Its sheets; a workbook that cannot be read is passed over, the audit tells of it.
    """
    read = {s.name for s in sheets.sources if s.name.lower().endswith(SUFFIXES)}
    books = sorted(path for path in folder.iterdir() if told(path) in read)
    return tuple(number for path in books for number in _of_book(path))


def _of_book(path: Path) -> list[str]:
    try:
        seen = contents(bytes_of(path, MAX_FILE), told(path))
        tabs = [cells for tab, cells, _ in tabs_of(seen, told(path)) if _holds_foundings(tab)]
    except CohortError:
        return []
    return [number for cells in tabs for number in _numbers(cells)]


def _holds_foundings(tab: str) -> bool:
    return sheet_of(tab, SHEET_NAMES) == FOUNDINGS.name


def _numbers(cells: Sequence[Sequence[Cell]]) -> Iterator[str]:
    head = header_row(FOUNDINGS, cells)
    if head < 0:
        return
    names = [column_name(cell) if isinstance(cell, str) else "" for cell in cells[head]]
    if "founding" not in names:
        return
    at = names.index("founding")
    yield from (text for row in cells[head + 1 :] if at < len(row) and (text := cell_text(row[at])))
