"""Rank tests and exact limits of a share.

What comes in: plain arrays and counts. What goes out: a `RankTest`, or limits. These speak of
independent rows: queens of one founding are not independent, so no page prints a rank test of
queens.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from lifelines.statistics import multivariate_logrank_test
from numpy.typing import ArrayLike
from scipy.stats import binomtest

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
    chosen = None if weighting == "logrank" else weighting
    groups = np.asarray(group)
    result = multivariate_logrank_test(
        np.asarray(exit, dtype=np.float64), groups, np.asarray(event, dtype=bool), weightings=chosen
    )
    return RankTest(float(result.test_statistic), len(np.unique(groups)) - 1, float(result.p_value))


def clopper_pearson(x: int, n: int, level: float = 0.9) -> tuple[float, float]:
    """Give exact limits of a share seen in `x` of `n`; (0, 1) where n is 0.

    Parameters
    ----------
    x, n : int
        How many of how many.
    level : float
        Confidence of the two-sided interval.

    Notes
    -----
    Clopper and Pearson (1934), doi:10.1093/biomet/26.4.404.
    """
    if n == 0:
        return 0.0, 1.0
    limits = binomtest(int(x), int(n)).proportion_ci(confidence_level=level, method="exact")
    return float(limits.low), float(limits.high)
