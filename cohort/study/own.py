"""Columns of a keeper's own: no rule reads them, and an analyst finds them beside the others.

Comes in: the typed foundings of a study, and the sheets or frames they were read from. Goes out:
the same foundings with the columns that the contract does not know. Never: a value changed; what
stood in a sheet stays text, as typed.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import pandas as pd

from cohort.sheets.raw import RawTable, column_name
from cohort.study.tables import COLUMNS
from cohort.terms import SHEETS


def own_names(names: Iterable[object], sheet: str) -> list[str]:
    """Those of some column names that are neither of a sheet nor made by a study."""
    known = {*SHEETS[sheet].names, *COLUMNS[sheet]}
    texts = [str(name) for name in names]
    return [text for text in texts if text not in known and column_name(text) not in known]


def with_own(typed: pd.DataFrame, own: pd.DataFrame) -> pd.DataFrame:
    """The typed frame with columns of one's own beside it, row by row."""
    if not len(own.columns):
        return typed
    return pd.concat([typed, own.set_axis(typed.index, axis=0)], axis=1)


def own_columns(foundings: pd.DataFrame, tables: Sequence[RawTable]) -> pd.DataFrame:
    """What keepers wrote of each founding in columns of their own.

    Parameters
    ----------
    foundings : DataFrame
        Typed, with ``founding``, ``file`` and ``row``.
    tables : sequence of RawTable
        Sheets of foundings, of all files.

    Returns
    -------
    DataFrame of str
        One row per founding, in that order; headings and cells as typed, ``""`` where a cell is
        blank or a founding's sheet has no such column.
    """
    parts = [part for table in tables if len(part := _keyed(table)) and len(part.columns)]
    where = pd.MultiIndex.from_frame(foundings[["file", "row", "founding"]])
    if not parts:
        return pd.DataFrame(index=pd.RangeIndex(len(where)))
    told = pd.concat(parts)
    told = told[~told.index.duplicated()]  # a row that stands twice is a founding once
    return told.reindex(where).fillna("").astype(object).reset_index(drop=True)


def _keyed(table: RawTable) -> pd.DataFrame:
    """The columns of its own of a sheet, under file, row and number of the founding."""
    names = [c for c in table.frame.columns if column_name(str(c)) == "founding"]
    own = own_names(table.frame.columns, table.sheet)
    if not names:
        return pd.DataFrame()
    numbers = [" ".join(str(cell).split()) for cell in table.frame[names[0]]]
    files = np.full(len(numbers), table.file, dtype=object)
    index = pd.MultiIndex.from_arrays([files, table.rows, numbers])
    return table.frame[own].set_axis(index, axis=0)
