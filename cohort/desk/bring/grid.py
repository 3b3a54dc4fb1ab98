"""A table as its keeper laid it out: headings and rows of text.

What comes in: the bytes of a CSV file or workbook that follows no contract. What goes out: `Grid`.
Real dates come out as ``YYYY-MM-DD``; nothing else is changed.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass

from cohort.base.errors import Finding, StudyError
from cohort.desk.bring.heads import ROWS, Head, find_head
from cohort.desk.sentences import tell
from cohort.sheets.container import contents, letters
from cohort.sheets.delimited import read_delimited
from cohort.sheets.text import decode
from cohort.sheets.workbook import SUFFIXES, Cell, cell_text, tabs_of

MAX_ROWS = 50_000
"""Most rows brought at once."""


@dataclass(frozen=True)
class Grid:
    """Headings and rows of one table.

    Parameters
    ----------
    file, tab : str
    headings : tuple of str
        As typed, each once (a second one bears its column letters).
    rows : tuple of tuple of str
        As long as `headings`.
    numbers : tuple of int
        Row of each in the file, from 1.
    findings : tuple of Finding
        Cells that hold an error or a formula without a result.
    parts : tuple of (str, str)
        Of each heading what stands above it (blank in a table with one row of headings), and the
        text in its own row.
    """

    file: str
    tab: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: tuple[int, ...]
    findings: tuple[Finding, ...] = ()
    parts: tuple[tuple[str, str], ...] = ()

    def column(self, heading: str) -> list[str]:
        """Cells below a heading."""
        j = self.headings.index(heading)
        return [row[j] for row in self.rows]


def read_grid(data: bytes, name: str, tab: str = "") -> Grid:
    """Table of a file.

    Parameters
    ----------
    data : bytes
    name : str
        File name; its ending tells what it is.
    tab : str
        Tab of a workbook; the one with most rows when blank.

    Raises
    ------
    StudyError
        If it cannot be read or holds no table.
    """
    if name.lower().endswith(SUFFIXES):
        return _workbook(data, name, tab)
    if name.lower().endswith((".csv", ".txt", ".tsv")):
        data, parts, notices = _one_row_of_headings(data, name)
        table, findings = read_delimited(data, name, "foundings")
        findings = [*notices, *findings]
        if table.frame.empty:
            raise StudyError(tell("grid_empty", name=name))
        rows = tuple(tuple(map(str, row)) for row in table.frame.itertuples(index=False))
        return _limited(
            Grid(
                name,
                "",
                tuple(map(str, table.frame.columns)),
                rows,
                tuple(int(n) for n in table.rows),
                tuple(findings),
                tuple(parts.get(str(h), ("", str(h))) for h in table.frame.columns),
            )
        )
    raise StudyError(tell("grid_kind", name=name))


def _limited(grid: Grid) -> Grid:
    if len(grid.rows) > MAX_ROWS:
        raise StudyError(tell("grid_rows", file=grid.file, n=len(grid.rows), most=MAX_ROWS))
    return grid


def _one_row_of_headings(
    data: bytes, name: str
) -> tuple[bytes, dict[str, tuple[str, str]], list[Finding]]:
    """Text of a table with its titles left out and two rows of headings as one.

    The lines stay as many as they were, so that each row bears the number it has in the file.
    """
    text, notices = decode(data, name)
    lines = text.splitlines(keepends=True)
    start = [line for line in lines[: 5 * ROWS] if not line.lower().startswith(("sep=", '"sep='))]
    separator = max(",;\t", key=lambda sign: sum(line.count(sign) for line in start))
    try:
        cells = [
            [cell.strip() for cell in next(csv.reader([line], delimiter=separator), [])]
            for line in start
        ]
    except csv.Error:
        return data, {}, []
    first = next((at for at, row in enumerate(cells) if any(row)), 0)
    head = find_head(cells) if len(start) == len(lines[: 5 * ROWS]) else None
    if head is None or '"' in "".join(lines[: head.row + 1]):
        return data, {}, []
    named = [text for text in head.lower if text]
    if head.row == first and not any(head.upper) and len(set(named)) == len(named):
        return data, {}, []
    headings, parts = _once(head)
    out = io.StringIO()
    csv.writer(out, delimiter=separator, lineterminator="\n").writerow(headings)
    whole = "\n" * head.row + out.getvalue() + "".join(lines[head.row + 1 :])
    return whole.encode(), parts, list(notices)


def _once(head: Head) -> tuple[list[str], dict[str, tuple[str, str]]]:
    """Headings by column, each once: a second one bears its column letters; and their parts."""
    headings: list[str] = []
    parts: dict[str, tuple[str, str]] = {}
    for j, text in enumerate(head.headings):
        once = f"{text} ({letters(j + 1)})" if text and text in headings else text
        headings.append(once)
        if once:
            parts[once] = (head.upper[j], head.lower[j])
    return headings, parts


def _workbook(data: bytes, name: str, tab: str) -> Grid:
    seen = contents(data, name)
    tabs = {t: (cells, merged) for t, cells, merged in tabs_of(seen, name)}
    if tab and tab not in tabs:
        raise StudyError(tell("grid_tab", name=name, tab=tab, tabs=", ".join(tabs)))
    chosen = tab or max(tabs, key=lambda t: _filled_rows(tabs[t][0]), default="")
    cells, merged = tabs.get(chosen, ([], []))
    head = find_head([[cell_text(cell) for cell in row] for row in cells[:200]], merged)
    if head is None:
        raise StudyError(tell("grid_no_head", name=name))
    by_column, parts = _once(head)
    keep = [j for j, heading in enumerate(by_column) if heading]
    headings = [by_column[j] for j in keep]
    rows: list[tuple[str, ...]] = []
    numbers: list[int] = []
    for number, row in enumerate(cells[head.row + 1 :], start=head.row + 2):
        line = tuple(cell_text(row[j]) if j < len(row) else "" for j in keep)
        if any(line):
            rows.append(line)
            numbers.append(number)
    findings = tuple(
        Finding(
            level="error",
            rule=f"cell-{t.kind}",
            file=name,
            tab=chosen,
            row=t.row,
            what=(
                tell("grid_error", cell=f"{letters(t.column)}{t.row}", text=t.text)
                if t.kind == "error"
                else tell("grid_formula", cell=f"{letters(t.column)}{t.row}")
            ),
            remedy=tell("grid_cell_do"),
        )
        for t in seen.troubles.get(chosen, ())
        if t.column - 1 in keep and t.row > head.row + 1
    )
    told = tuple(parts[heading] for heading in headings)
    return _limited(
        Grid(name, chosen, tuple(headings), tuple(rows), tuple(numbers), findings, told)
    )


def _filled_rows(cells: Sequence[Sequence[Cell]]) -> int:
    return sum(sum(1 for cell in row if cell_text(cell)) > 1 for row in cells)
