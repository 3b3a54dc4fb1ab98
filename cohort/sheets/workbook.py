"""Workbooks (XLSX, ODS) as tables that remember tab and row.

What comes in: the bytes of a workbook. What goes out: one `RawTable` per tab that bears the name
of a sheet, and findings that name the cell. Titles above the headings, empty formatted rows,
both date systems and stored results of formulas are read; an id that the spreadsheet turned into
a date, an error value or a formula without a result is refused. It never writes to a workbook,
runs a formula, follows a link or guesses a value.
"""

from __future__ import annotations

import datetime as dt
import io
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from cohort.base.errors import Finding, Level
from cohort.sheets.container import Contents, contents, letters
from cohort.sheets.guard import unguard
from cohort.sheets.raw import RawTable, column_name, sheet_of
from cohort.sheets.reach import Refused
from cohort.sheets.sentences import NOTHING, tell
from cohort.terms.columns import Column, Sheet
from cohort.terms.contract import SHEET_NAMES, SHEETS

SUFFIXES = (".xlsx", ".xlsm", ".ods")
"""Endings of the workbooks that are read."""
EXPLAINS = "words"
"""Tab that explains the words; it holds no data."""
HEAD_ROWS = 40
"""Rows among which the headings are looked for."""

Cell = int | float | str | bool | dt.time | dt.date | dt.datetime | dt.timedelta


@dataclass(frozen=True)
class Place:
    """The tab that is read, for findings."""

    file: str
    tab: str

    def finding(
        self,
        level: Level,
        rule: str,
        what: str,
        remedy: str,
        row: int = 0,
        column: str = "",
        founding: str = "",
    ) -> Finding:
        """Make a finding in this tab."""
        return Finding(
            level=level,
            rule=rule,
            what=what,
            remedy=remedy,
            file=self.file,
            tab=self.tab,
            row=row,
            column=column,
            founding=founding,
        )


def read_workbook(data: bytes, name: str) -> tuple[list[RawTable], list[Finding]]:
    """Tables and findings of one workbook.

    Parameters
    ----------
    data : bytes
        The file, as it lies in the folder.
    name : str
        Its name in the study folder.

    Returns
    -------
    tables : list of RawTable
        One for each tab that bears a sheet's name and holds rows.
    findings : list of Finding
        One error and no table if the file is damaged, locked, too large or no workbook.
    """
    try:
        return _read(data, name)
    except Refused as fault:
        return [], [
            Finding(
                level="error",
                rule="workbook-not-read",
                file=name,
                what=fault.what,
                remedy=fault.remedy,
            )
        ]


def _read(data: bytes, name: str) -> tuple[list[RawTable], list[Finding]]:
    seen = contents(data, name)
    findings = list(_file_notes(seen, name))
    tables: list[RawTable] = []
    for tab, cells, merged in tabs_of(seen, name):
        sheet = sheet_of(tab, SHEET_NAMES)
        place = Place(name, tab)
        if not sheet:
            if tab.strip().lower() != EXPLAINS and any(any(map(_filled, row)) for row in cells):
                findings.append(
                    place.finding(
                        "note",
                        "unknown-tab",
                        tell("unknown_tab"),
                        tell("unknown_tab_do", sheets=", ".join(SHEET_NAMES)),
                    )
                )
            continue
        table, found = _table(SHEETS[sheet], place, cells, merged, seen)
        findings += found
        if table is not None:
            tables.append(table)
    return tables, findings


def _file_notes(seen: Contents, name: str) -> Iterator[Finding]:
    if seen.macros:
        yield Finding(
            level="note",
            rule="macros",
            file=name,
            what=tell("macros"),
            remedy=NOTHING,
        )
    if seen.links:
        yield Finding(
            level="note",
            rule="links",
            file=name,
            what=tell("links"),
            remedy=NOTHING,
        )


Merged = list[tuple[tuple[int, int], tuple[int, int]]]


def tabs_of(seen: Contents, name: str) -> Iterator[tuple[str, list[list[Cell]], Merged]]:
    """Tabs of a workbook: name, cells by row from A1, merged areas (from 0).

    Parameters
    ----------
    seen : Contents
        Of the file, from `contents`.
    name : str
        Its name, for messages.

    Raises
    ------
    StudyError
        If the file is damaged.
    """
    import python_calamine as calamine

    try:
        with calamine.load_workbook(io.BytesIO(seen.packet)) as book:
            for tab in book.sheet_names:
                sheet = book.get_sheet_by_name(tab)
                cells = sheet.to_python(skip_empty_area=False)
                yield tab, cells, sheet.merged_cell_ranges or []
    except (GeneratorExit, KeyboardInterrupt, SystemExit, MemoryError):
        raise
    except BaseException as fault:  # a panic of the reader is no Exception
        raise Refused(name, tell("damaged_book", why=_short(fault))) from fault


def _short(fault: BaseException) -> str:
    return " ".join(str(fault).split())[:80] or type(fault).__name__


# --- headings -----------------------------------------------------------------------------------


def _filled(cell: Cell) -> bool:
    return cell is not None and not (isinstance(cell, str) and not cell.strip())


def header_row(sheet: Sheet, cells: Sequence[Sequence[Cell]]) -> int:
    """Index of the row with the headings: the one with most columns of the sheet; -1 if none.

    A row counts only with two columns of the sheet, so a title or a remark is never taken for it.
    """
    known = set(sheet.names)
    best, most = -1, min(2, len(known)) - 1
    for i, row in enumerate(cells[:HEAD_ROWS]):
        hits = len({column_name(c) for c in row if isinstance(c, str)} & known)
        if hits > most:
            best, most = i, hits
    return best


def _headings(
    cells: Sequence[Sequence[Cell]], head: int, sheet: Sheet, place: Place
) -> tuple[list[str], list[Finding]]:
    """Heading of each column, blank where there is none; a second one bears its letters too."""
    body = cells[head + 1 :]
    width = max(len(row) for row in cells[head:])
    names: list[str] = []
    findings: list[Finding] = []
    for j in range(width):
        text = cell_text(cells[head][j]) if j < len(cells[head]) else ""
        at = letters(j + 1)
        if not text and any(j < len(row) and _filled(row[j]) for row in body):
            findings.append(
                place.finding(
                    "note",
                    "no-heading",
                    tell("no_heading", column=at),
                    tell("no_heading_do"),
                    head + 1,
                )
            )
        elif text and any(column_name(text) == column_name(n) for n in names):
            findings.append(
                place.finding(
                    "error" if column_name(text) in sheet.names else "note",
                    "heading-twice",
                    tell("heading_twice_at", heading=text, column=at),
                    tell("heading_twice_at_do"),
                    head + 1,
                    text,
                )
            )
            text = f"{text} ({at})"
        names.append(text)
    return names, findings


# --- rows ---------------------------------------------------------------------------------------


def _table(
    sheet: Sheet, place: Place, cells: list[list[Cell]], merged: Merged, seen: Contents
) -> tuple[RawTable | None, list[Finding]]:
    if not any(any(map(_filled, row)) for row in cells):
        return None, []
    head = header_row(sheet, cells)
    if head < 0:
        return None, [
            place.finding(
                "error",
                "no-headings",
                tell("no_headings", sheet=sheet.name, rows=HEAD_ROWS),
                tell("no_headings_do", columns=", ".join(sheet.needed)),
                1,
            )
        ]
    names, findings = _headings(cells, head, sheet, place)
    columns = {j: _column_of(sheet, names[j]) for j, n in enumerate(names) if n}
    texts: list[list[str]] = []
    rows: list[int] = []
    for number, row in enumerate(cells[head + 1 :], start=head + 2):
        line = {j: cell_text(row[j]) if j < len(row) else "" for j in columns}
        if _empty(sheet, names, line):
            continue
        texts.append(list(line.values()))
        rows.append(number)
        founding = next((t for j, t in line.items() if column_name(names[j]) == "founding"), "")
        for j, column in columns.items():
            if column is not None and line[j]:
                findings += _cell_findings(column, row[j], place, number, j, founding)
    findings += _stored(place, seen, columns, names, set(rows))
    findings += _merged(place, merged, columns, set(rows))
    if not texts:
        return None, findings
    frame = pd.DataFrame(texts, columns=[names[j] for j in columns], dtype=object)
    table = RawTable(sheet.name, place.file, place.tab, frame, np.array(rows, dtype=np.int64))
    return table, findings


def _column_of(sheet: Sheet, name: str) -> Column | None:
    return next((c for c in sheet.columns if c.name == column_name(name)), None)


def _empty(sheet: Sheet, names: Sequence[str], line: dict[int, str]) -> bool:
    """Whether a row holds nothing, or, in `foundings`, its number (and keeper) alone."""
    filled = {column_name(names[j]) for j, text in line.items() if text}
    return not filled or (sheet.name == "foundings" and filled <= {"founding", "keeper"})


def cell_text(cell: Cell) -> str:
    """Cell as text: real dates as ``YYYY-MM-DD``, whole numbers without ``.0``."""
    if isinstance(cell, str):
        return unguard(cell.strip().strip("\u00a0\ufeff").strip())
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, dt.datetime):
        return cell.date().isoformat()
    if isinstance(cell, dt.date | dt.time):
        return cell.isoformat()
    if isinstance(cell, dt.timedelta):
        return str(cell)
    if isinstance(cell, float):
        whole = cell == cell and abs(cell) < 1e15 and cell == int(cell)
        return str(int(cell)) if whole else repr(cell)
    return str(cell)


def _cell_findings(
    column: Column, cell: Cell, place: Place, row: int, j: int, founding: str
) -> Iterator[Finding]:
    at, text = f"{letters(j + 1)}{row}", cell_text(cell)
    dated = isinstance(cell, dt.date | dt.time | dt.timedelta)
    if dated and column.kind in ("id", "genus", "word"):
        yield place.finding(
            "error",
            "turned-into-date",
            tell("turned_into_date", cell=at, text=text),
            tell("type_as_text_do"),
            row,
            column.name,
            founding,
        )
    elif column.kind == "id" and isinstance(cell, float) and not text.isdigit():
        yield place.finding(
            "error",
            "turned-into-number",
            tell("turned_into_number", cell=at, text=text),
            tell("type_as_text_do"),
            row,
            column.name,
            founding,
        )


def _stored(
    place: Place,
    seen: Contents,
    columns: dict[int, Column | None],
    names: Sequence[str],
    rows: set[int],
) -> Iterator[Finding]:
    """Error values and formulas without a result, which the reader shows as empty cells."""
    for t in seen.troubles.get(place.tab, ()):
        j = t.column - 1
        if j not in columns:
            continue
        known = columns[j] is not None
        at = f"{letters(t.column)}{t.row}"
        if t.kind == "error":
            what, remedy = tell("cell_error", cell=at, text=t.text), tell("cell_error_do")
        else:
            what, remedy = tell("cell_formula", cell=at), tell("cell_formula_do")
        if t.row in rows or known:
            yield place.finding(
                "error" if known else "note", "cell-" + t.kind, what, remedy, t.row, names[j]
            )


def _merged(
    place: Place, merged: Merged, columns: dict[int, Column | None], rows: set[int]
) -> Iterator[Finding]:
    ordered = sorted(rows)
    wide = max(columns, default=-1)
    for (top, left), (bottom, right) in merged:
        hit = [j for j in range(left, min(right, wide) + 1) if columns.get(j) is not None]
        first = bisect_left(ordered, top + 1)  # merged areas may cover whole columns
        inside = ordered[first : first + 1] if first < len(ordered) else []
        if hit and inside and inside[0] <= bottom + 1 and (bottom > top or len(hit) > 1):
            area = f"{letters(left + 1)}{top + 1}:{letters(right + 1)}{bottom + 1}"
            yield place.finding(
                "error",
                "merged-cells",
                tell("merged_cells", area=area),
                tell("merged_cells_do"),
                inside[0],
            )
