"""A table as its keeper laid it out: headings and rows of text.

What comes in: the bytes of a CSV file or workbook that follows no contract. What goes out: `Grid`.
Real dates come out as ``YYYY-MM-DD``; nothing else is changed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cohort.base.errors import Finding, StudyError
from cohort.sheets.container import contents, letters
from cohort.sheets.delimited import read_delimited
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
    """

    file: str
    tab: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: tuple[int, ...]
    findings: tuple[Finding, ...] = ()

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
        table, findings = read_delimited(data, name, "foundings")
        if table.frame.empty:
            raise StudyError(f"{name}: no rows below the headings. Nothing was brought.")
        rows = tuple(tuple(map(str, row)) for row in table.frame.itertuples(index=False))
        return _limited(
            Grid(
                name,
                "",
                tuple(map(str, table.frame.columns)),
                rows,
                tuple(int(n) for n in table.rows),
                tuple(findings),
            )
        )
    raise StudyError(f"{name}: not a file that can be brought. Save it as XLSX, ODS or CSV.")


def _limited(grid: Grid) -> Grid:
    if len(grid.rows) > MAX_ROWS:
        raise StudyError(f"{grid.file}: {len(grid.rows)} rows; {MAX_ROWS} can be brought at once.")
    return grid


def _workbook(data: bytes, name: str, tab: str) -> Grid:
    seen = contents(data, name)
    tabs = {t: cells for t, cells, _ in tabs_of(seen, name)}
    if tab and tab not in tabs:
        raise StudyError(f"{name}: there is no tab '{tab}'. Tabs: {', '.join(tabs)}.")
    chosen = tab or max(tabs, key=lambda t: _filled_rows(tabs[t]), default="")
    head = _header(tabs.get(chosen, []))
    if head < 0:
        raise StudyError(
            f"{name}: no row of headings with rows below it was found. Put headings "
            "above the table."
        )
    cells = tabs[chosen]
    keep: list[int] = []
    headings: list[str] = []
    for j, cell in enumerate(cells[head]):
        text = cell_text(cell)
        if text:
            keep.append(j)
            headings.append(f"{text} ({letters(j + 1)})" if text in headings else text)
    rows: list[tuple[str, ...]] = []
    numbers: list[int] = []
    for number, row in enumerate(cells[head + 1 :], start=head + 2):
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
            what=f"Cell {letters(t.column)}{t.row} holds "
            + (f"the error {t.text}." if t.kind == "error" else "a formula without a result."),
            remedy="Type the value itself and bring the file again.",
        )
        for t in seen.troubles.get(chosen, ())
        if t.column - 1 in keep and t.row > head + 1
    )
    return _limited(Grid(name, chosen, tuple(headings), tuple(rows), tuple(numbers), findings))


def _filled_rows(cells: Sequence[Sequence[Cell]]) -> int:
    return sum(sum(1 for cell in row if cell_text(cell)) > 1 for row in cells)


def _header(cells: Sequence[Sequence[Cell]]) -> int:
    """First row of texts that is about as wide as the table; -1 if none."""
    widths = [sum(1 for cell in row if cell_text(cell)) for row in cells[:200]]
    need = max(2, round(0.5 * max(widths, default=0)))
    for i, row in enumerate(cells[:40]):
        texts = [c for c in row if isinstance(c, str) and c.strip()]
        if len(texts) >= need and len(texts) == widths[i] and i + 1 < len(cells):
            return i
    return -1
