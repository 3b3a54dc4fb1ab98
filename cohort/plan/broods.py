"""Workers of the first brood by draw and founding size, for a plan.

Comes in: a `Basis`. Goes out: frozen `Broods`. Never: a fit, a founding that lives or dies.

The draws of the first brood are not kept with the results. From mean and range of each row of
``comparisons.csv`` the log-normal that has them is taken: an approximation, good where the draws
are many and the counts some. How a founding's count varies about its mean is weighed on the counts
themselves. Without counts both ways the priors speak, and `Broods.assumed` says so.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import gammaln
from scipy.stats import norm

from cohort.model.brood_model import CENTRE, BroodPriors, prior_draws
from cohort.outcomes.basis import Basis
from cohort.terms.questions import NEW

Floats = npt.NDArray[np.float64]
SEED: Final = 20260403
NODES: Final = 120
"""Points on the grid of the spread about the mean."""


@dataclass(frozen=True)
class Broods:
    """The first brood, by draw.

    Attributes
    ----------
    workers : float array, shape (draws, sizes)
        Workers expected about 30 days after the first, in a founding that gets workers.
    beyond : float array, shape (draws,)
        Coefficient of variation between such foundings, beyond that of a Poisson count.
    assumed : bool
        True when it rests on the priors.
    """

    workers: Floats
    beyond: Floats
    assumed: bool

    def variation(self) -> Floats:
        """Coefficient of variation of one founding's count, shape (draws, sizes)."""
        out: Floats = np.sqrt(self.beyond[:, None] ** 2 + 1 / np.maximum(self.workers, 1e-9))
        return out


def broods(basis: Basis, index: int, sizes: tuple[int, ...], *, seed: int = SEED) -> Broods:
    """The first brood of one kind.

    Parameters
    ----------
    basis : Basis
    index : int
        Of the kind in ``basis.draws.params``.
    sizes : tuple of int
    seed : int
    """
    draws = len(basis.draws.params)
    name = basis.draws.genera[index] if index >= 0 else NEW
    table = basis.brood
    mine = table[table["genus"].eq(name)] if len(table) else table
    if not basis.settled or mine.empty:
        return _from_priors(draws, sizes, seed)
    rng = np.random.default_rng(seed)
    return Broods(
        _from_rows(mine, draws, sizes, rng), _beyond(table, basis.brood_counts, draws, rng), False
    )


def _from_priors(draws: int, sizes: tuple[int, ...], seed: int) -> Broods:
    drawn = prior_draws(1, BroodPriors(), seed, draws)
    return Broods(
        np.column_stack([drawn.workers(k)[:, -1] for k in sizes]), np.abs(drawn.dispersion), True
    )


def _log_normal(row: pd.Series, *, plain: bool) -> tuple[float, float]:
    """Mean and SD of the log that fit a row; ``plain``: its mean is of the number itself."""
    sd = math.log(row["high"] / row["low"]) / (2 * norm.ppf((1 + row["level"]) / 2))
    return math.log(row["mean"]) - (sd**2 / 2 if plain else 0.0), sd


def _from_rows(
    rows: pd.DataFrame, draws: int, sizes: tuple[int, ...], rng: np.random.Generator
) -> Floats:
    """Workers by draw and size from rows of one kind.

    One standard normal moves the singles, one the ratios of all sizes: ratios of neighbouring
    sizes rise and fall together. How the two hang together is read off the width of the rows of
    groups (their log is the sum).
    """
    one = rows[rows["arm"].eq("single")].iloc[0]
    mean, sd = _log_normal(one, plain=True)
    ratios = rows[rows["arm"].eq("ratio")].sort_values("queens").set_index("queens")
    groups = rows[rows["arm"].eq("multi")].set_index("queens")
    known = np.array([int(k) for k in ratios.index])
    centre, wide = np.array([_log_normal(r, plain=False) for _, r in ratios.iterrows()]).T
    whole = np.array([_log_normal(groups.loc[k], plain=True)[1] for k in known])
    tied = float(
        np.mean((whole**2 - wide**2 - sd**2) / np.maximum(2 * wide * sd, 1e-12)).clip(-0.99, 0.99)
    )
    z = rng.normal(size=(2, draws))
    moved = tied * z[0] + math.sqrt(1 - tied**2) * z[1]
    alone = mean + sd * z[0]
    step, off = BroodPriors().size_step, rng.normal(size=draws)
    out = []
    for k in sizes:
        if k == 1:
            out.append(alone)
            continue
        at, near = math.log2(k), known[np.abs(known - k).argmin()]
        beyond = max(at - math.log2(known[-1]), math.log2(known[0]) - at, 0.0)
        m = np.interp(at, np.log2(known), centre)
        s = np.interp(at, np.log2(known), wide)
        side = math.copysign(1.0, k - near)
        out.append(alone + m + s * moved + side * step * beyond * off)
    drawn: Floats = np.exp(np.column_stack(out))
    return drawn


def _beyond(
    table: pd.DataFrame, counts: pd.DataFrame, draws: int, rng: np.random.Generator
) -> Floats:
    """Variation beyond Poisson, weighed on the counts with their means held at the rows' own."""
    prior = BroodPriors()
    means = table[table["arm"].ne("ratio")].set_index(["genus", "queens"])["mean"].to_dict()
    keys = zip(counts["genus"].astype(str), counts["size"].astype(int), strict=True)
    mean = np.array([means.get(key, math.nan) for key in keys], dtype=float)
    since = (counts["brood_day"] - counts["first_by"]).to_numpy(float)
    mu = mean * np.exp(prior.day[0] * (since - CENTRE))
    y = counts["brood_workers"].to_numpy(float)
    some = np.isfinite(mu) & np.isfinite(y)
    grid = (np.arange(NODES) + 0.5) / NODES * 3 * prior.dispersion
    size = 1 / grid[:, None] ** 2
    mu, y = mu[some], y[some]
    loglik = (
        gammaln(y + size) - gammaln(size) + size * np.log(size / (size + mu))
        + y * np.log(mu / (size + mu))
    ).sum(axis=1)  # fmt: skip
    log_p = loglik - grid**2 / (2 * prior.dispersion**2)
    chance = np.exp(log_p - log_p.max())
    out: Floats = rng.choice(grid, size=draws, p=chance / chance.sum())
    return out
