"""CSV files as keepers and their spreadsheets make them -> raw tables.

What comes in: the text of one file with commas, semicolons or tabs between cells. What goes out:
one `RawTable` with the row each line bears in a spreadsheet, and notices. No cell is turned into
a number, no row is mended; a row that cannot be read is told as an error and left out.
"""

from __future__ import annotations

import csv
import io
import re

import numpy as np
import pandas as pd

from cohort.sheets.files import MAX_HEADINGS, unlike_sheet
from cohort.sheets.guard import unguard
from cohort.sheets.raw import Notice, RawTable
from cohort.sheets.sentences import tell
from cohort.sheets.text import decode

_SPARE = 2  # columns beyond the headings that are looked into for stray cells
_SEPARATORS = ",;\t"


def read_delimited(data: bytes, file: str, sheet: str) -> tuple[RawTable, list[Notice]]:
    """Table of one CSV file.

    Parameters
    ----------
    data : bytes
        The whole file.
    file : str
        Name of the file, for the findings.
    sheet : str
        Sheet of the contract it belongs to.

    Returns
    -------
    table : RawTable
        Empty when the file holds no headings.
    notices : list of Finding
        Damaged bytes, rows with too many cells, quotes left open.
    """
    text, found = decode(data, file)
    notices = list(found)
    odd = unlike_sheet(text)
    if odd or not text.strip():
        notices.append(_no_sheet(file, odd) if odd else _empty(file))
        return RawTable(sheet, file, "", pd.DataFrame(), np.zeros(0, np.int64)), notices
    separator = _separator(text)
    width = _width(text, separator)
    try:
        grid = _fast(text, separator, width + _SPARE)
    except (pd.errors.ParserError, pd.errors.EmptyDataError):
        grid, more = _slow(text, separator, width + _SPARE, file)
        notices += more
    rows = np.arange(1, len(grid) + 1)
    keep = ~_blank_rows(grid)
    if _has_separator_line(grid):
        keep[0] = False
    grid, rows = grid[keep], rows[keep]
    if not len(grid):
        notices.append(_empty(file))
        return RawTable(sheet, file, "", pd.DataFrame(), np.zeros(0, np.int64)), notices
    return _with_headings(grid, rows, file, sheet, notices)


def _empty(file: str) -> Notice:
    return Notice(
        level="error",
        rule="empty-sheet",
        file=file,
        what=tell("empty_file"),
        remedy=tell("empty_file_do"),
    )


def _no_sheet(file: str, odd: str) -> Notice:
    return Notice(
        level="error",
        rule="not-a-sheet",
        file=file,
        what=odd,
        remedy=tell("not_a_sheet_do"),
    )


def _first_line(text: str) -> str:
    for line in text[: 2 * MAX_HEADINGS].splitlines()[:50]:
        if line.strip(_SEPARATORS + ' "') and not re.fullmatch(r'"?sep=.?"?', line.strip()):
            return line
    return ""


def _separator(text: str) -> str:
    """Sign between cells: the commonest of comma, semicolon and tab in the heading line."""
    bare = re.sub(r'"[^"]*"', "", _first_line(text) or text[:1000])
    counts = [bare.count(sign) for sign in _SEPARATORS]
    return _SEPARATORS[counts.index(max(counts))]


def _width(text: str, separator: str) -> int:
    try:
        return max(len(next(csv.reader([_first_line(text)], delimiter=separator), [""])), 1)
    except csv.Error:
        return 1


def _fast(text: str, separator: str, width: int) -> pd.DataFrame:
    return pd.read_csv(
        io.StringIO(text),
        sep=separator,
        header=None,
        names=list(range(width)),
        dtype=str,
        index_col=False,
        na_filter=False,
        skip_blank_lines=False,
        engine="c",
    )


def _slow(text: str, separator: str, width: int, file: str) -> tuple[pd.DataFrame, list[Notice]]:
    """Row by row, for files that the fast way refuses; faulty rows are told and left blank."""
    lines: list[list[str]] = []
    notices: list[Notice] = []
    # Lines are kept with their ends, so that an open quote swallows the rest as one cell.
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    before = 0
    total = text.count("\n") + 1
    while True:
        try:
            cells = next(reader)
        except StopIteration:
            break
        except csv.Error as fault:
            spanned, before = reader.line_num - before, reader.line_num
            notices.append(
                _open_quote(file, len(lines) + 1, spanned)
                if spanned > 1
                else _unreadable(file, len(lines) + 1, str(fault))
            )
            lines.append([])
            continue
        spanned = reader.line_num - before
        before = reader.line_num
        if spanned > 1 and reader.line_num >= total - 1 and text.count('"') % 2:
            notices.append(_open_quote(file, len(lines) + 1, spanned))
            cells = []
        elif any(cell.strip() for cell in cells[width:]):
            owner = cells[0].strip() if _is_founding(lines[0][0] if lines else "") else ""
            notices.append(_too_many(file, len(lines) + 1, owner))
            cells = []
        lines.append((cells + [""] * width)[:width])
    padded = [(line + [""] * width)[:width] for line in lines]
    return pd.DataFrame(padded, columns=list(range(width)), dtype=object), notices


def _unreadable(file: str, row: int, why: str) -> Notice:
    return Notice(
        level="error",
        rule="unreadable-row",
        file=file,
        row=row,
        what=tell("unreadable_row", why=why),
        remedy=tell("unreadable_row_do"),
    )


def _open_quote(file: str, row: int, lines: int) -> Notice:
    return Notice(
        level="error",
        rule="open-quote",
        file=file,
        row=row,
        what=tell("open_quote", lines=lines),
        remedy=tell("open_quote_do"),
    )


def _too_many(file: str, row: int, founding: str = "") -> Notice:
    return Notice(
        level="error",
        rule="too-many-cells",
        file=file,
        row=row,
        founding=founding,
        what=tell("too_many_cells"),
        remedy=tell("too_many_cells_do"),
    )


def _blank_rows(grid: pd.DataFrame) -> np.ndarray:
    blank = np.ones(len(grid), dtype=bool)
    for name in grid.columns:
        if not blank.any():
            break
        cells = grid[name].to_numpy()
        some = np.flatnonzero(blank)
        blank[some] = [not str(cell).strip() for cell in cells[some]]
    return blank


def _has_separator_line(grid: pd.DataFrame) -> bool:
    return bool(len(grid)) and str(grid.iloc[0, 0]).strip().lower() in {"sep=", "sep=;", "sep=,"}


def _with_headings(
    grid: pd.DataFrame, rows: np.ndarray, file: str, sheet: str, notices: list[Notice]
) -> tuple[RawTable, list[Notice]]:
    headings = [str(cell).strip() for cell in grid.iloc[0]]
    grid, rows = grid.iloc[1:], rows[1:]
    columns: dict[str, np.ndarray] = {}
    stray = np.zeros(len(grid), dtype=bool)
    for place, heading in enumerate(headings):
        cells = _stripped(grid[place].to_numpy())
        if heading in columns:
            notices.append(_twice(file, heading))
        elif heading:
            columns[heading] = cells
        else:
            stray |= cells != ""
    frame = pd.DataFrame(columns, dtype=object)
    first = next(iter(columns), "")
    owners = columns[first] if _is_founding(first) else np.full(len(grid), "", dtype=object)
    notices += [
        _too_many(file, int(row), str(owner))
        for row, owner in zip(rows[stray], owners[stray], strict=True)
    ]
    keep = ~stray
    return RawTable(sheet, file, "", frame[keep].reset_index(drop=True), rows[keep]), notices


def _is_founding(heading: str) -> bool:
    return heading.strip().lower() == "founding"


def _twice(file: str, heading: str) -> Notice:
    return Notice(
        level="error",
        rule="heading-twice",
        file=file,
        row=1,
        column=heading,
        what=tell("heading_repeated", heading=heading),
        remedy=tell("heading_repeated_do"),
    )


def _stripped(cells: np.ndarray) -> np.ndarray:
    """Cells without outer spaces; quick because each distinct text is stripped once."""
    codes, texts = pd.factorize(cells)
    bare = np.array([unguard(str(text).strip()) for text in texts], dtype=object)
    return bare[codes] if len(bare) else np.array([], dtype=object)
