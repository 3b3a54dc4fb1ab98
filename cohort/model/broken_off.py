"""Foundings whose record stops before their queens are lost: unexplained, or by an accident.

Comes in: the history of a study. Goes out: two rows of the table of checks. Never: a tail area.
What would have become of such a founding is not in the sheets, so no replicate can be held against
it; here a plain rule decides.

The model takes these foundings for ones like the others. They are not where an empty container
goes unrecorded, or is put down to an accident: then the losses that end a founding are missing, and
only those.
"""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
import pandas as pd

from cohort.history import History
from cohort.model.flags import ACCIDENTS, BROKEN_OFF, row

GAPS: Final = 3.0
"""Ordinary gaps between looks for which nobody looked, from which a record has broken off."""
LEAST_DAYS: Final = 14.0
FEW: Final = 2
SHARE: Final = 0.05
"""Records that may break off unflagged: so many, or this share of the foundings compared. A rule of
ours, as is the next."""
MISHAPS: Final = 0.1
"""Share of the foundings compared that may end in accidents and escapes unflagged."""
BY_MISHAP: Final = ("accident", "escaped")
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
    """How many records broke off, how many ended in a mishap, and up to how many that passes.

    Parameters
    ----------
    history : History
    """
    compared = history.foundings[history.foundings["compared"]]
    mishaps = int(compared["end_kind"].isin(BY_MISHAP).sum())
    found = (
        (BROKEN_OFF, int(broken_off(history).sum()), SHARE),
        (ACCIDENTS, mishaps, MISHAPS),
    )
    return [
        row(check, "all", "", (float(seen), 0.0, 0.0, _allowed(share, len(compared))), math.nan)
        for check, seen, share in found
    ]


def _allowed(share: float, foundings: int) -> float:
    return float(max(FEW, math.floor(share * foundings)))
