"""Rows of a typed table -> findings.

What comes in: a table with the columns ``file``, ``tab`` and ``row`` and the places of the rows
at fault. What goes out: one finding a row, made when it is told. It decides nothing. What a rule
says is a key of the catalogues of this room with its values, see `tell`.
"""

from __future__ import annotations

from functools import partial
from typing import Any, Final

import numpy as np
import pandas as pd

from cohort.base.errors import Finding, Level, printable
from cohort.sheets.found import Block, Found, Texts
from cohort.terms.voice import SHARED, Said

tell: Final = partial(Said, "cohort.audit")
"""A sentence of this room, to be said in any language: ``tell(key, blank=value, ...)``."""

NOTHING: Final = Said(SHARED, "nothing_to_do")
"""Remedy of what is only told."""


def at(
    table: pd.DataFrame,
    places: np.ndarray,
    *,
    level: Level,
    rule: str,
    what: Texts,
    remedy: Texts,
    column: str = "",
) -> Found:
    """One finding for each row at fault.

    Parameters
    ----------
    table : DataFrame
        With ``file``, ``tab``, ``row`` and, where rows belong to a founding, ``founding``.
    places : ndarray of int or bool, shape (n,) or (len(table),)
        Positions of the rows at fault, or a mask.
    level, rule, column : str
        As in `Finding`.
    what, remedy : str, sequence of str, shape (n,), or function
        One for all, one for each row at fault, or a function that makes the n-th (from 0) when it
        is told.
    """
    if places.dtype == bool:
        places = np.flatnonzero(places)
    if not len(places):
        return Found()
    names = [name for name in ("file", "tab", "row", "founding") if name in table]
    where = {name: table[name].to_numpy() for name in names}
    return Found([Block(level, rule, column, where, places, what, remedy)])


def day(value: Any) -> str:
    """Date as told in messages: ``2026-07-04``; ``no day`` when blank."""
    return tell("no_day") if pd.isna(value) else str(np.datetime64(value, "D"))


def row_of(file: object, row: object) -> str:
    """Place of a row as told in messages: ``checks.csv, row 7``."""
    return tell("row_of", file=str(file), row=str(row))


def place_of(finding: Finding, rows: str = "") -> str:
    """Place of a finding, as `Finding.where` says it in English.

    Parameters
    ----------
    finding : Finding
    rows : str, optional
        Said of the rows of several findings, in place of the one row of this.
    """
    file = printable(finding.file)
    if finding.tab:
        file = tell("tab_of", file=file, tab=printable(finding.tab))
    if not rows and finding.row:
        rows = tell("rows", n=1, rows=str(finding.row))
    column = finding.column if isinstance(finding.column, Said) else printable(finding.column)
    place, *more = [part for part in (file, rows, column) if part] or [""]
    for part in more:
        place = tell("place", first=place, last=part)
    return place


def days(values: pd.Series | np.ndarray) -> list[str]:
    """Dates as told in messages, one for each."""
    return [day(value) for value in np.asarray(values, dtype="datetime64[D]")]
