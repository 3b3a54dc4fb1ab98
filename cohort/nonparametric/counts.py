"""What was counted, before any model: one derived row per founding, and the raw table.

Comes in: a `History`. Goes out: counts by kind and way of founding with Clopper-Pearson
intervals, and what had become of each founding by a day. Never: a posterior.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd
from scipy.special import betaincinv

from cohort.history import History
from cohort.nonparametric.followed import LATE
from cohort.terms.written import WRITTEN

ALL: Final = "all"
_WRITTEN: Final = frozenset(WRITTEN["foundings"].names)
KNOWN_ENDS: Final = ("all lost",)


def clopper_pearson(x: int, n: int, level: float = 0.9) -> tuple[float, float]:
    """Exact interval of a share (Clopper & Pearson 1934, doi 10.1093/biomet/26.4.404)."""
    tail = (1 - level) / 2
    low = float(betaincinv(x, n - x + 1, tail)) if x > 0 else 0.0
    high = float(betaincinv(x + 1, n - x, 1 - tail)) if x < n else 1.0
    return low, high


def derived(history: History) -> pd.DataFrame:
    """One row per founding: the history's columns and what the tables count.

    Columns of one's own are not in it: the table is written, and its columns are agreed.

    Adds ``queens_lost_before``, ``queens_lost_after`` (queens lost before and after the first
    worker; those lost in the very interval of the first worker count as before), ``with_workers``,
    ``shared_workers`` (reached workers with two or more living queens), ``colony`` (workers and
    a living queen at the end of the comparison), ``known`` (followed to the last
    day or lost, in a season that reached it).
    """
    known = [c for c in history.foundings.columns if c in _WRITTEN]  # no column of one's own
    frame = history.foundings[known]
    lost = history.intervals[history.intervals["lost"] > 0]
    seen = frame["first_by"].reindex(lost["code"]).to_numpy()
    before = lost["by"].to_numpy() <= seen
    for name, mask in (("queens_lost_before", before), ("queens_lost_after", ~before)):
        sums = lost[mask].groupby("code")["lost"].sum()
        frame[name] = sums.reindex(frame.index).fillna(0).astype(int)
    frame["with_workers"] = np.isfinite(frame["first_by"])
    spans = history.intervals
    at_worker = spans[spans["by"] >= frame["first_by"].reindex(spans["code"]).to_numpy()]
    alive = at_worker.groupby("code")["alive"].first().reindex(frame.index).fillna(0)
    frame["shared_workers"] = frame["with_workers"] & (alive >= 2)
    frame["colony"] = frame["with_workers"] & (frame["queens_end"] > 0)
    frame["known"] = _known(frame, float(history.horizon))
    return frame


def _known(frame: pd.DataFrame, horizon: float) -> pd.Series:
    """Foundings whose fate at the last day is known, and would be known whatever it was.

    A founding lost early is known at once, a living one only at the end: counting both in a
    season that still runs would count the lost alone. So the founding must be old enough that
    the last look of the season reaches its last day, and it must have been followed from its
    start (what a founding entered late went through was never seen in those that did not).
    """
    day = pd.to_timedelta(1, unit="D")
    ends = frame["started"] + (frame["end"] - frame["closed"]) * day
    due = frame["started"] + (horizon - LATE - frame["closed"]) * day
    seen = frame["end_kind"].isin(KNOWN_ENDS) | (frame["end"] >= horizon - LATE)
    known: pd.Series = seen & (due <= ends.max()) & (frame["entry"] <= frame["closed"])
    return known


def by_day(history: History, day: float) -> pd.DataFrame:
    """What had become of each compared founding by a day.

    Parameters
    ----------
    history : History
    day : float
        Days since day 0.

    Returns
    -------
    DataFrame
        One row per compared founding: founding, genus, arm, size, block, assigned, keeper;
        ``alive`` (queens at the last look up to that day), ``with_workers``, ``colony`` (workers
        and a living queen), ``known`` (see `derived`, of that day), ``whole`` (no queen had been
        taken out alive).
    """
    frame = history.foundings[history.foundings["compared"].astype(bool)]
    names = ["founding", "genus", "arm", "size", "block", "assigned", "keeper"]
    spans = history.intervals[history.intervals["by"] <= day].groupby("code")
    out = frame[names].copy()
    alive, lost = spans["alive"].last(), spans["lost"].sum()
    held = frame["entry_queens"].astype(int)
    out["alive"] = alive.reindex(frame.index).fillna(held).astype(int)
    out["with_workers"] = (frame["first_by"] <= day) | frame["entry_workers"].astype(bool)
    out["colony"] = out["with_workers"] & (out["alive"] > 0)
    out["known"] = _known(frame, day)
    # queens that were lost before a late entry are missing here as well; such rows are not known
    gone = lost.reindex(frame.index).fillna(0).astype(int)
    out["whole"] = out["alive"] + gone == frame["size"]
    return out


def raw_table(foundings: pd.DataFrame, horizon: int, *, level: float = 0.9) -> pd.DataFrame:
    """Counts by kind and way of founding, first of all kinds.

    Parameters
    ----------
    foundings : DataFrame
        As `derived` gives them, or as ``foundings.csv`` holds them.
    horizon : int
    level : float
        Of the Clopper-Pearson interval.

    Returns
    -------
    DataFrame
        genus (``all`` first), arm, foundings, queens, queens_lost_before, queens_lost_after,
        with_workers, colonies (of those ``followed`` to the last day or lost), followed, share,
        low, high, day.
    """
    frame = foundings[foundings["compared"]]
    rows: list[dict[str, Any]] = []
    for genus in [ALL, *sorted(frame["genus"].unique())]:
        for arm in ("single", "multi"):
            part = frame[(frame["arm"] == arm) & ((genus == ALL) | (frame["genus"] == genus))]
            known = part[part["known"]]
            x, n = int(known["colony"].sum()), len(known)
            low, high = clopper_pearson(x, n, level) if n else (0.0, 1.0)
            rows.append(
                {
                    "genus": genus,
                    "arm": arm,
                    "foundings": len(part),
                    "queens": int(part["size"].sum()),
                    "queens_lost_before": int(part["queens_lost_before"].sum()),
                    "queens_lost_after": int(part["queens_lost_after"].sum()),
                    "with_workers": int(part["with_workers"].sum()),
                    "colonies": x,
                    "followed": n,
                    "share": x / n if n else float("nan"),
                    "low": low,
                    "high": high,
                    "day": horizon,
                }
            )
    return pd.DataFrame(rows)


def headline_size(foundings: pd.DataFrame) -> int:
    """Commonest number of queens in a compared group, the smaller one on a tie; 0 without a group.

    Parameters
    ----------
    foundings : DataFrame
        With ``compared`` and ``size``: foundings of a `History`, or as `derived` gives them.
    """
    inside = foundings[foundings["compared"].astype(bool)]
    sizes = inside.loc[inside["size"] > 1, "size"].value_counts()
    return int(min(sizes[sizes == sizes.max()].index)) if len(sizes) else 0
