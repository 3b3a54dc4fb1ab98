"""Foundings as survival data for other libraries.

What comes in: a `History` and the name of an event. What goes out: one frame, a row per founding.
It fits nothing.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
import pandas as pd

from cohort.history import History

Event = Literal["first_worker", "all_lost"]
SHIFT = 1e-6
"""Days by which a lower end is moved for libraries that close brackets or take the log of day 0."""


def survival(history: History, event: Event) -> pd.DataFrame:
    """Give the brackets of an event, one row per compared founding, as lifelines takes them.

    Parameters
    ----------
    history : History
    event : {"first_worker", "all_lost"}
        The first worker, or the loss of all queens.

    Returns
    -------
    pandas.DataFrame
        ``founding``, ``genus``, ``arm``, ``size``, ``keeper``; ``lower``, ``upper``: the event
        fell in ``(lower, upper]``, days since day 0, `upper` is ``inf`` where it was not seen;
        ``entry``: day on which the founding was first followed; ``seen``: whether the event was
        seen; ``day``: the look that showed it, else the last day without it. Foundings that had
        the event before they were first followed, or were never looked at after, are not in it.

        A founding that lost all its queens, or was given foreign brood, says nothing of a first
        worker from that day on: ``first_worker`` treats it as no longer followed. That is censoring
        by a competing event; see `cohort.nonparametric.cumulative_incidence` for what takes it as
        such.

    Raises
    ------
    ValueError
        If there is no event of that name.

    Notes
    -----
    Brackets are half-open. lifelines closes them, which matters to its nonparametric curve and not
    to a fitted distribution; but it takes the log of `lower`, so add a little to it:

        frame = survival(history, "first_worker")
        LogNormalFitter().fit_interval_censoring(frame["lower"] + 1e-6, frame["upper"])
    """
    found = history.foundings[history.foundings["compared"].astype(bool)]
    if event == "first_worker":
        lower, upper, out = _first_worker(found)
    elif event == "all_lost":
        lower, upper, out = _all_lost(found)
    else:
        raise ValueError(f"no event '{event}'; there are first_worker and all_lost.")
    frame = found[["founding", "genus", "arm", "size", "keeper"]].copy()
    entry = found["entry"].to_numpy(dtype=np.float64)
    frame["lower"], frame["upper"], frame["entry"] = np.maximum(lower, entry), upper, entry
    frame["seen"] = np.isfinite(upper)
    frame["day"] = np.where(frame["seen"], upper, frame["lower"])
    return frame[~out & (frame["day"] > frame["entry"]).to_numpy()].reset_index(drop=True)


def _first_worker(found: pd.DataFrame) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    after, by, looked, lost, censored, end = (
        found[name].to_numpy(dtype=np.float64)
        for name in ("first_after", "first_by", "looked_to", "lost_by", "workers_cens", "end")
    )
    seen = np.isfinite(by) & (by <= lost) & (by <= censored)
    last = np.minimum(np.minimum(looked, censored), np.where(np.isfinite(lost), lost, end))
    lower = np.where(seen, after, last)
    return lower, np.where(seen, by, np.inf), found["entry_workers"].to_numpy(dtype=bool)


def _all_lost(found: pd.DataFrame) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    after, by, end = (
        found[name].to_numpy(dtype=np.float64) for name in ("lost_after", "lost_by", "end")
    )
    seen = np.isfinite(by)
    return np.where(seen, after, end), by, np.zeros(len(found), dtype=bool)
