"""Rank tests.

What comes in: plain arrays. What goes out: a `RankTest`, or a `StrataTest` within strata. They
speak of independent rows: queens of one founding are not independent, so no page prints a rank test
of queens (of foundings it does).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from cohort.nonparametric.survival import checked

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


@dataclass(frozen=True)
class StrataTest:
    """Log-rank test of one group against the rest, within strata.

    Parameters
    ----------
    observed, expected, variance : float
        Events of the group, those expected if both fared alike, and the variance of the first.
    """

    observed: float
    expected: float
    variance: float

    @property
    def statistic(self) -> float:
        """Chi-squared on one degree of freedom; nan where nothing could be compared."""
        return _ratio((self.observed - self.expected) ** 2, self.variance)

    @property
    def p(self) -> float:
        """Chance of a statistic as large if both fared alike."""
        return math.erfc(math.sqrt(self.statistic / 2)) if self.variance > 0 else math.nan

    @property
    def log_ratio(self) -> float:
        """One-step estimate of the log ratio of hazards, (observed - expected) / variance.

        Peto in Yusuf et al. (1985), doi:10.1016/S0033-0620(85)80003-7. Its standard error is
        1 / sqrt(variance); it falls short where the ratio is far from 1.
        """
        return _ratio(self.observed - self.expected, self.variance)


def _ratio(above: float, below: float) -> float:
    return above / below if below > 0 else math.nan


def strata_logrank(
    entry: ArrayLike | None, exit: ArrayLike, event: ArrayLike, group: ArrayLike, stratum: ArrayLike
) -> StrataTest:
    """Compare a group with the rest by the log-rank test, only with rows of its own stratum.

    Parameters
    ----------
    entry : array_like, shape (n,), or None
        Time each row comes under observation; None: from the beginning.
    exit, event : array_like, shape (n,)
        Time of the event or last sight, and whether it is an event.
    group : array_like of bool, shape (n,)
    stratum : array_like, shape (n,)

    Notes
    -----
    Mantel (1966), Cancer Chemotherapy Reports 50:163. That of lifelines has no strata and no late
    entry.
    """
    into, out = checked(entry, exit)
    happened, mine = np.asarray(event, dtype=bool), np.asarray(group, dtype=bool)
    observed = expected = variance = 0.0
    for one in np.unique(np.asarray(stratum)):
        inside = np.asarray(stratum) == one
        days = np.unique(out[inside & happened])
        present = inside[:, None] & (into[:, None] < days) & (days <= out[:, None])
        lost = (present & happened[:, None] & (out[:, None] == days)).astype(np.float64)
        held, own = present.sum(axis=0), present[mine].sum(axis=0)
        events = lost.sum(axis=0)
        share = own / held
        observed += float(lost[mine].sum())
        expected += float((events * share).sum())
        spare = (held - events) / np.maximum(held - 1, 1)
        variance += float((events * share * (1 - share) * spare).sum())
    return StrataTest(observed, expected, variance)
