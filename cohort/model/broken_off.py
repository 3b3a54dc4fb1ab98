"""Foundings that are no longer looked at, though their keeper goes on looking at others.

Comes in: the history of a study. Goes out: one row of the table of checks. Never: a tail area. What
became of a founding nobody looked at again is not in the sheets, so no replicate can be held
against it; here a plain rule decides.

The model takes such a founding for one like the others. It is not where an empty container goes
unrecorded: then the losses that end a founding are missing, and only those.
"""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
import pandas as pd

from cohort.history import History
from cohort.model.flags import BROKEN_OFF, row

GAPS: Final = 3.0
"""Ordinary gaps between looks for which nobody looked, from which a record has broken off."""
LEAST_DAYS: Final = 14.0
FEW: Final = 2
SHARE: Final = 0.05
"""Records that may break off unflagged: so many, or this share of the foundings compared."""
GENERAL: Final = ("followed", "horizon")
"""Ends of foundings for which the sheets give no reason of their own."""


def broken_off(history: History) -> pd.Series:
    """Whether the record of each compared founding stops without a reason.

    Parameters
    ----------
    history : History

    Returns
    -------
    Series of bool
        By founding (the index of ``history.foundings``): the sheets give no end, and its keeper
        looked at another founding more than `GAPS` ordinary gaps (`LEAST_DAYS` at least) after the
        last look at this one, before the horizon.
    """
    every = history.foundings
    seen = pd.concat([history.intervals, history.later])
    own_last = seen.groupby("code")["by"].max().reindex(every.index)
    last = own_last.fillna(every["end"]).clip(lower=every["end"])
    date = every["started"] + pd.to_timedelta(last, unit="D")
    went_on = (date.groupby(every["keeper"]).transform("max") - every["started"]).dt.days
    until = np.minimum(went_on.to_numpy(float), float(history.horizon))
    gaps = history.intervals["by"] - history.intervals["after"]
    usual = float(gaps.median()) if len(gaps) else 0.0
    silent = until - every["end"].to_numpy(float) > max(GAPS * usual, LEAST_DAYS)
    stopped = pd.Series(silent, every.index) & every["end_kind"].isin(GENERAL)
    return stopped[every["compared"].to_numpy(bool)]


def rows(history: History) -> list[dict[str, Any]]:
    """One row: how many records broke off, and up to how many that is passed over.

    Parameters
    ----------
    history : History
    """
    stopped = broken_off(history)
    allowed = float(max(FEW, math.floor(SHARE * len(stopped))))
    return [row(BROKEN_OFF, "all", "", (float(stopped.sum()), 0.0, 0.0, allowed), math.nan)]
