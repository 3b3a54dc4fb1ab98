"""Rows of a typed table -> findings.

What comes in: a table with the columns ``file``, ``tab`` and ``row`` and the places of the rows
at fault. What goes out: one finding a row. It decides nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from cohort.errors import Finding, Level


def at(
    table: pd.DataFrame,
    places: np.ndarray,
    *,
    level: Level,
    rule: str,
    what: str | Sequence[str],
    remedy: str | Sequence[str],
    column: str = "",
) -> list[Finding]:
    """One finding for each row at fault.

    Parameters
    ----------
    table : DataFrame
        With ``file``, ``tab``, ``row`` and, where rows belong to a founding, ``founding``.
    places : ndarray of int or bool, shape (n,) or (len(table),)
        Positions of the rows at fault, or a mask.
    level, rule, column : str
        As in `Finding`.
    what, remedy : str or sequence of str, shape (n,)
        One for all, or one for each row at fault.
    """
    if places.dtype == bool:
        places = np.flatnonzero(places)
    if not len(places):
        return []
    some = table.take(places)
    owners = some["founding"].tolist() if "founding" in some else [""] * len(some)
    whats = [what] * len(some) if isinstance(what, str) else what
    remedies = [remedy] * len(some) if isinstance(remedy, str) else remedy
    return [
        Finding(
            level=level,
            rule=rule,
            file=file,
            tab=tab,
            row=int(row),
            column=column,
            founding=owner,
            what=said,
            remedy=to_do,
        )
        for file, tab, row, owner, said, to_do in zip(
            some["file"], some["tab"], some["row"], owners, whats, remedies, strict=True
        )
    ]


def day(value: Any) -> str:
    """Date as told in messages: ``2026-07-04``; ``no day`` when blank."""
    return "no day" if pd.isna(value) else str(np.datetime64(value, "D"))


def days(values: pd.Series | np.ndarray) -> list[str]:
    """Dates as told in messages, one for each."""
    return [day(value) for value in np.asarray(values, dtype="datetime64[D]")]
