"""Rows as the contract names them, and whether two of them say the same.

What comes in: raw tables and rows as typed. What goes out: frames with the contract's headings,
and what a row means, so that ``5.7.2026`` and ``2026-07-05`` are one day. Nothing is changed.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd

from cohort.audit import cells
from cohort.audit.cells import Problem
from cohort.sheets.raw import RawTable, Sheets, column_name
from cohort.terms import words
from cohort.terms.columns import Column, Sheet
from cohort.terms.contract import SHEETS


def plain(table: RawTable) -> pd.DataFrame:
    """Frame of a raw table with the names of the contract as headings (first of each name).

    Returns
    -------
    DataFrame of str
        Every column of the sheet, blank where the table has none, then ``file_`` and ``row_``.
    """
    frame = table.frame.copy()
    frame.columns = pd.Index([column_name(str(heading)) for heading in frame.columns])
    wanted = SHEETS[table.sheet].names
    frame = frame.loc[:, ~frame.columns.duplicated()]
    return frame.reindex(columns=list(wanted), fill_value="").assign(
        file_=table.file, row_=table.rows
    )


def together(sheets: Sheets, sheet: str) -> pd.DataFrame:
    """All rows of one sheet of a study, as typed; columns as in `plain`."""
    frames = [plain(table) for table in sheets.of(sheet)]
    if not frames:
        return pd.DataFrame(columns=[*SHEETS[sheet].names, "file_", "row_"], dtype=object)
    return pd.concat(frames, ignore_index=True)


def meant(sheet: Sheet, row: Mapping[Any, Any], order: str) -> tuple[Hashable, ...]:
    """What a row says, cell by cell; two rows that say the same are equal.

    Parameters
    ----------
    sheet : Sheet
        Of the contract.
    row : mapping
        Column name -> text; a column that is not named is blank.
    order : str
        Setting ``date_order``.

    Returns
    -------
    tuple
        A value for each column of the sheet. A cell that cannot be read stands for its own text.
    """
    return tuple(
        _cell(sheet, column.name, str(row.get(column.name, "")), order) for column in sheet.columns
    )


def _cell(sheet: Sheet, name: str, text: str, order: str) -> Hashable:
    text = " ".join(text.split())
    if not text:
        return ""
    if (sheet.name, name) == ("events", "other"):  # fixed words, however they are spelled
        return text.lower().replace("_", "-").replace(" ", "-")
    value = _read(sheet.column(name), text, order)
    return ("unread", text) if isinstance(value, Problem) else value


def _read(column: Column, text: str, order: str) -> Hashable | Problem:
    if column.kind == "count" and text.lower() != words.SAME:
        return cells.count(text, column)
    if column.kind in ("number", "days"):
        return cells.number(text, column)
    if column.kind == "date":
        return cells.date(text, order)
    if column.kind in ("word", "yes-no"):
        return cells.word(text, column)
    return text.lower() if column.kind == "count" else text
