"""Are ranks uniform? Simultaneous bands for their distribution function, and coverage.

Comes in: ranks. Goes out: a `Band` and a table. Never: a fit.

The bands are those of Saeilynoja, Buerkner and Vehtari (2022, doi 10.1007/s11222-022-10090-6):
at every possible rank the number of ranks below it is binomial; the level of the pointwise
binomial limits is chosen so that a whole distribution function of uniform ranks stays inside
with the chance asked for. That chance is computed exactly, rank by rank, not simulated.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import gammaln
from scipy.stats import binom

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
NINETY: Final = 0.9


@dataclass(frozen=True)
class Band:
    """Limits of the number of ranks below r, for r = 1 to the highest possible rank.

    Attributes
    ----------
    studies, highest : int
        Number of ranks, and the highest a rank can be.
    low, high : int arrays, shape (highest,)
        Fewest and most ranks below 1, 2, ..., ``highest``.
    level : float
        Chance that uniform ranks stay inside throughout.
    """

    studies: int
    highest: int
    low: Ints
    high: Ints
    level: float

    def outside(self, ranks: Ints) -> int:
        """At how many of the possible ranks the distribution function leaves the band."""
        below = np.searchsorted(np.sort(ranks), np.arange(1, self.highest + 1), side="left")
        return int(((below < self.low) | (below > self.high)).sum())


def _limits(studies: int, highest: int, tail: float) -> tuple[Ints, Ints]:
    share = np.arange(1, highest + 1) / (highest + 1)
    low = binom.ppf(tail, studies, share).astype(np.int64)
    high = binom.ppf(1 - tail, studies, share).astype(np.int64)
    return low, high


def inside(studies: int, highest: int, low: Ints, high: Ints) -> float:
    """Chance that the counts of uniform ranks below 1, 2, ... all lie within limits.

    Counts form a chain: given the count below r, those of the rest that fall on r are binomial.
    """
    factorial = gammaln(np.arange(studies + 2) + 1.0)
    before, chance = np.zeros(1, np.int64), np.ones(1)
    for r in range(highest):
        share = 1.0 / (highest + 1 - r)
        after = np.arange(low[r], high[r] + 1)
        rest = (studies - before)[:, None]
        fresh = np.maximum(after[None, :] - before[:, None], -1)
        some = (fresh >= 0) & (fresh <= rest)
        k = np.where(some, fresh, 0)
        log_chance = factorial[rest] - factorial[k] - factorial[rest - k]
        log_chance += k * np.log(share) + (rest - k) * np.log1p(-share)
        chance = chance @ np.where(some, np.exp(log_chance), 0.0)
        before = after
    return float(chance.sum())


def band(studies: int, highest: int, level: float) -> Band:
    """The narrowest binomial band that uniform ranks leave with chance 1 - level at most.

    Parameters
    ----------
    studies : int
        Number of ranks.
    highest : int
        Highest possible rank (the number of draws).
    level : float
        Simultaneous level, 0..1. For many quantities at once, give each 1 - (1 - level) / number.
    """
    small, large = 0.0, 0.5 * (1 - level)  # one rank alone needs no less; none needs more
    tail = 0.0
    for _ in range(14):
        tail = 0.5 * (small + large)
        if inside(studies, highest, *_limits(studies, highest, tail)) >= level:
            small = tail
        else:
            large = tail
    low, high = _limits(studies, highest, small)
    return Band(studies, highest, low, high, level)


def covered(ranks: Ints, highest: int, mass: float = NINETY) -> npt.NDArray[np.bool_]:
    """Whether the truth lies in the central interval: between the outer order statistics."""
    outer = round((highest + 1) * (1 - mass) / 2)
    return np.asarray((ranks >= outer) & (ranks <= highest - outer))


def summary(ranks: pd.DataFrame, highest: int, level: float = 0.99) -> pd.DataFrame:
    """One row per quantity: coverage of 90 % intervals, and whether its ranks leave the bands.

    Parameters
    ----------
    ranks : DataFrame
        One row per study, one column per quantity.
    highest : int
    level : float
        Simultaneous over all quantities together.

    Returns
    -------
    DataFrame
        quantity, studies, coverage, mean_rank (0..1; .5 if uniform), chi2 (19 degrees of
        freedom, twenty equal classes), outside (possible ranks at which the band is left).
    """
    limits = band(len(ranks), highest, 1 - (1 - level) / ranks.shape[1])
    rows = []
    for name, column in ranks.items():
        values = column.to_numpy(np.int64)
        classes = np.bincount(values * 20 // (highest + 1), minlength=20)
        expected = len(values) / 20
        rows.append(
            {
                "quantity": str(name),
                "studies": len(values),
                "coverage": float(covered(values, highest).mean()),
                "mean_rank": float((values.mean() + 0.5) / (highest + 1)),
                "chi2": float(((classes - expected) ** 2 / expected).sum()),
                "outside": limits.outside(values),
            }
        )
    return pd.DataFrame(rows)
