"""Keepers of a study, also of one that was just begun.

What comes in: a study folder and its sheets. What goes out: the keepers' signs. A workbook that
nobody has filled in yet tells its keeper by the numbers that stand ready in it. It writes nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from cohort.audit.alike import together
from cohort.errors import CohortError
from cohort.sheets.container import contents
from cohort.sheets.numbers import keeper_of
from cohort.sheets.raw import Sheets, column_name, sheet_of
from cohort.sheets.workbook import SUFFIXES, Cell, cell_text, header_row, tabs_of
from cohort.terms.contract import FOUNDINGS, SHEET_NAMES


def signs(folder: Path, sheets: Sheets) -> tuple[str, ...]:
    """Signs of all keepers, in order.

    Parameters
    ----------
    folder : Path
        The study.
    sheets : Sheets
        Its sheets.

    Returns
    -------
    tuple of str
        From foundings, catches and the numbers ready in workbooks; empty in a study without any.
    """
    found: dict[str, str] = {}
    for sign in (*_typed(sheets), *_ready(folder, sheets)):
        if sign.strip():
            found.setdefault(sign.strip().lower(), sign.strip())
    return tuple(sorted(found.values(), key=lambda sign: (len(sign), sign)))


def _typed(sheets: Sheets) -> Iterator[str]:
    for row in together(sheets, "foundings").to_dict("records"):
        yield str(row["keeper"]) or keeper_of(str(row["founding"]))
    yield from together(sheets, "catches")["keeper"].astype(str)


def _ready(folder: Path, sheets: Sheets) -> Iterator[str]:
    for source in sheets.sources:
        if not source.name.lower().endswith(SUFFIXES):
            continue
        data = (folder / source.name).read_bytes()
        try:
            contents(data, source.name)  # no workbook is opened that was not looked through
            tabs = list(tabs_of(data, source.name))
        except CohortError:
            continue  # the audit tells of it
        for tab, cells, _ in tabs:
            if sheet_of(tab, SHEET_NAMES) == "foundings":
                yield from _numbered(cells)


def _numbered(cells: Sequence[Sequence[Cell]]) -> Iterator[str]:
    head = header_row(FOUNDINGS, cells)
    if head < 0:
        return
    names = [column_name(cell) if isinstance(cell, str) else "" for cell in cells[head]]
    at = names.index("founding") if "founding" in names else len(names)
    yield from {keeper_of(cell_text(row[at])) for row in cells[head + 1 :] if at < len(row)}
