"""Rows of a typed table -> findings.

What comes in: a table with the columns ``file``, ``tab`` and ``row`` and the places of the rows
at fault. What goes out: one finding a row, made when it is told. It decides nothing.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from cohort.base.errors import Level
from cohort.sheets.found import Block, Found, Texts


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
    return "no day" if pd.isna(value) else str(np.datetime64(value, "D"))


def days(values: pd.Series | np.ndarray) -> list[str]:
    """Dates as told in messages, one for each."""
    return [day(value) for value in np.asarray(values, dtype="datetime64[D]")]
