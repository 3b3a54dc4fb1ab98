"""Rank tests.

What comes in: plain arrays. What goes out: a `RankTest`. It speaks of independent rows: queens of
one founding are not independent, so no page prints a rank test of queens.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

Weighting = Literal["logrank", "wilcoxon", "tarone-ware", "peto"]


@dataclass(frozen=True)
class RankTest:
    """Result of a rank test: chi-squared `statistic` on `df` degrees of freedom, and `p`."""

    statistic: float
    df: int
    p: float


def logrank(
    exit: ArrayLike, event: ArrayLike, group: ArrayLike, *, weighting: Weighting = "logrank"
) -> RankTest:
    """Give a rank test of equal curves in two or more groups.

    Parameters
    ----------
    exit, event, group : array_like, shape (n,)
        Time of the event or last sight, whether it is an event, and the group.
    weighting : {"logrank", "wilcoxon", "tarone-ware", "peto"}
        Weight of each event time: 1, the number at risk, its root, or the pooled curve.

    Notes
    -----
    Rows that enter late are not catered for.
    """
    from lifelines.statistics import multivariate_logrank_test  # slow to load; no page needs it

    chosen = None if weighting == "logrank" else weighting
    groups = np.asarray(group)
    result = multivariate_logrank_test(
        np.asarray(exit, dtype=np.float64), groups, np.asarray(event, dtype=bool), weightings=chosen
    )
    return RankTest(float(result.test_statistic), len(np.unique(groups)) - 1, float(result.p_value))
