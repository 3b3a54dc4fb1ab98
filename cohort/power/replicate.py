"""One simulated season: its sheets, its comparison, the interval of one contrast.

Comes in: a `Wish`, a number of foundings, a seed. Goes out: a frozen `Replicate`. Never: a file
of its own.
"""

from __future__ import annotations

import tempfile
import time
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from cohort.outcomes import Outcomes, outcomes, posterior_draws
from cohort.outcomes.basis import prior_basis
from cohort.outcomes.known import known_draws
from cohort.outcomes.parameters import PRIOR_DRAWS
from cohort.outcomes.quantities import colony
from cohort.outcomes.table import DIRECT
from cohort.power.wish import WORDS, Wish, design_of, truth_of
from cohort.terms.questions import AVERAGE, SEEN, headline_reading

Floats = npt.NDArray[np.float64]
CHAINS: Final = 2
DRAWS: Final = 600
TUNE: Final = 500
"""Shorter than a comparison that is printed: an end of an interval is off by about a tenth of a
standard deviation, which averages out over seasons."""
BAD_RHAT: Final = 1.05


@dataclass(frozen=True)
class Replicate:
    """What one simulated season found.

    Attributes
    ----------
    seed, foundings : int
    mean, low, high : float
        Of the contrast.
    truth : float
        The contrast in the truth of this season.
    excludes : bool
        The interval excludes no difference.
    right_side : bool
        It does so, and on the side of the truth.
    single, multi : float
        True chances of a colony (as seen) on the last day behind the contrast (see `pair`).
    rhat : float
        Of the contrast.
    seconds : float
    """

    seed: int
    foundings: int
    mean: float
    low: float
    high: float
    truth: float
    excludes: bool
    right_side: bool
    single: float
    multi: float
    rhat: float
    seconds: float


def contrast_of(what: Outcomes, wish: Wish) -> Floats:
    """Draws of the contrast wished for: largest size, last day it is given for."""
    size = max(wish.sizes)
    name = wish.contrast
    reading = headline_reading(name)
    keys = [k for k in what.values if (k.quantity, k.size, k.reading) == (name, size, reading)]
    key = max(keys, key=lambda k: k.day)  # a quantity without a day has one key
    column = what.kinds.index(wish.kind)
    values = what.values[key][:, column]
    if name in DIRECT:
        return values
    alone: Floats = what.values[key._replace(size=1)][:, column]
    return values - alone


def prior_range(wish: Wish) -> tuple[float, float]:
    """Interval of the contrast by the priors alone."""
    basis = prior_basis(draws=PRIOR_DRAWS, genera=WORDS[: wish.genera])
    draws = contrast_of(outcomes(basis.draws, wish.sizes, wish.horizon), wish)
    tail = (1 - wish.level) / 2
    low, high = np.quantile(draws, [tail, 1 - tail])
    return float(low), float(high)


def no_difference(wish: Wish) -> float:
    """The value of the contrast that says no difference."""
    return 1.0 if DIRECT.get(wish.contrast) == "ratio" else 0.0


def pair(what: Outcomes, wish: Wish) -> tuple[float, float]:
    """True chances of a colony as seen, same queens singly and together, for the textbook."""
    size, column = max(wish.sizes), what.kinds.index(AVERAGE)
    together = colony(size, wish.horizon, SEEN)
    single = what.values[together._replace(quantity="at_least_one_from_same_queens")]
    multi = what.values[together]
    return float(single[0, column]), float(multi[0, column])


def _rhat(draws: Floats) -> float:
    """Split R-hat of a contrast; draws lie chain after chain."""
    from arviz_stats.base.array import array_stats

    stats: Any = array_stats
    return float(stats.rhat(draws.reshape(CHAINS, -1)))


def replicate(wish: Wish, foundings: int, seed: int) -> Replicate:
    """Simulate one season, compare it, and say what its interval was.

    Keeper and flight effects are neither simulated nor fitted.
    """
    from cohort.history import history
    from cohort.model.priors import Priors
    from cohort.model.sample import prepare, sample
    from cohort.simulate.season import simulate_study
    from cohort.study import read_study

    began = time.perf_counter()
    truth = truth_of(wish, seed)
    with tempfile.TemporaryDirectory() as place:
        made = simulate_study(design_of(wish, foundings), truth, seed)
        study = read_study(made.write(Path(place) / "study"))
    design, exposure = prepare(history(study))
    design = replace(design, levels={})
    fit = sample(design, exposure, Priors(), seed=seed, draws=DRAWS, tune=TUNE, chains=CHAINS)
    drawn = posterior_draws(fit.posterior, fit.design, fit.priors, seed=seed)
    draws = contrast_of(outcomes(drawn, wish.sizes, wish.horizon), wish)
    real = outcomes(known_draws([truth]), wish.sizes, wish.horizon)
    tail = (1 - wish.level) / 2
    low, high = (float(x) for x in np.quantile(draws, [tail, 1 - tail]))
    none_at, true = no_difference(wish), float(contrast_of(real, wish)[0])
    excludes = not low <= none_at <= high
    single, multi = pair(real, wish)
    return Replicate(
        seed,
        foundings,
        float(draws.mean()),
        low,
        high,
        true,
        excludes,
        excludes and (low > none_at) == (true > none_at),
        single,
        multi,
        _rhat(draws),
        time.perf_counter() - began,
    )
