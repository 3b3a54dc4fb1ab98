"""The table of curves that assume no model, with bands from resampled foundings.

What comes in: a `History`. What goes out: one long frame. It draws nothing.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from cohort.history import History
from cohort.nonparametric.runs import (
    Drawn,
    Floats,
    Group,
    bands,
    first_worker_or_lost,
    joined,
    queen_survival,
    queen_survival_bracketed,
    queens_left,
    resampled,
)
from cohort.sheets import written

COLUMNS = ("curve", "genus", "arm", "day", "estimate", "low", "high", "at_risk")
ARMS = ("single", "multi")
EVERY = 10.0  # days between the rows put in where nothing happens


def curves(
    history: History, *, level: float = 0.9, resamples: int = 1000, seed: int
) -> pd.DataFrame:
    """Give the curves of a study: what was seen, without a model.

    Parameters
    ----------
    history : History
        Only foundings in the comparison are used.
    level : float
        Share of resamples inside the bands.
    resamples : int
        Resamples of foundings (whole foundings, within genus and way of founding).
    seed : int
        Seed of the resamples. Each genus and way of founding has its own stream, so a band does
        not change when another genus joins the study.

    Returns
    -------
    pandas.DataFrame
        Columns ``curve, genus ('all' or a genus), arm, day, estimate, low, high, at_risk``: a row
        for day 0, each day a curve steps, every tenth day and the last day followed. `estimate`
        holds from that day on; `at_risk` counts just before it (on day 0: just after).
        ``low`` and ``high`` are blank where only one founding stands behind the curve.

        ``queen_survival``: share of queens alive, a loss dated at the look that showed it.
        ``queen_survival_bracketed``: the same by half-open brackets, the fall of a bracket drawn at
        its end; foundings followed late are not in it. ``first_worker``, ``all_lost``: cumulative
        incidence of foundings, dated at the look that showed it; ``all_lost`` counts those lost
        before any worker was seen. ``queens_left_0``, ``_1``, ``_several``: of groups that had two
        or more queens at the first worker, by day since it; first worker and losses dated at the
        middle of their brackets.

    Notes
    -----
    Bands are pointwise percentiles. Where nothing was lost among a few foundings they have no
    width: that is a fact about resampling, not about queens; the counts stand beside them.
    """
    found = history.foundings[history.foundings["compared"]]
    runs = joined(history.intervals)
    genera = ["all", *sorted(found["genus"].unique())]
    parts = []
    for genus in genera:
        of_genus = found if genus == "all" else found[found["genus"] == genus]
        for arm in ARMS:
            chosen = of_genus[of_genus["arm"] == arm]
            if len(chosen):
                group = _group(chosen, runs, resampled(len(chosen), resamples, seed, genus, arm))
                parts += [_rows(drawn, genus, arm, level, group) for drawn in _drawn(group, arm)]
    if not parts:
        return written.empty("curves")
    return pd.concat(parts, ignore_index=True)


def _group(chosen: pd.DataFrame, runs: pd.DataFrame, weights: Floats) -> Group:
    """Take the foundings chosen and number them anew."""
    place = pd.Series(np.arange(len(chosen)), index=chosen.index)
    own = runs[runs["code"].isin(chosen.index)]
    own = own.assign(code=place.reindex(own["code"]).to_numpy())
    return Group(chosen.reset_index(drop=True), own.reset_index(drop=True), weights)


def _drawn(group: Group, arm: str) -> list[Drawn]:
    """Every curve of a group that has anything under observation."""
    told = [
        queen_survival(group),
        queen_survival_bracketed(group),
        *first_worker_or_lost(group),
    ]
    if arm == "multi":
        told += queens_left(group)
    return [drawn for drawn in told if drawn.last > 0]


def _rows(drawn: Drawn, genus: str, arm: str, level: float, group: Group) -> pd.DataFrame:
    """Write one curve as rows."""
    day = _days(drawn)
    values = drawn.at(day)
    low, high = bands(values[1:], level, len(group.foundings))
    return pd.DataFrame(
        {
            "curve": drawn.name,
            "genus": genus,
            "arm": arm,
            "day": day,
            "estimate": values[0],
            "low": low,
            "high": high,
            "at_risk": drawn.at_risk(day),
        }
    )


def _days(drawn: Drawn) -> Floats:
    """Day 0, the steps, every tenth day and the last day followed."""
    steps = drawn.day[drawn.day <= drawn.last]
    return np.unique(
        np.concatenate([[0.0], steps, np.arange(0.0, drawn.last, EVERY), [drawn.last]])
    )
