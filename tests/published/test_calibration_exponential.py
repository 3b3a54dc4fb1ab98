"""Calibration where all can be computed: exponential losses seen at fortnightly checks.

Twelve queens, checks every 14 days to day 84, 1,000 studies, 99 draws, after Talts et al. (2018,
arXiv 1804.06788). No printed figures; a run of this design gave chi-square 11.7 on 19 degrees of
freedom and coverage .906 for the right likelihood, 620 and .791 for a mutant that dates each loss
at the check that showed it. Simulator and bands are those of the whole calibration.
"""

import math

import numpy as np
import pandas as pd
import pytest
from kernel_tables import loglik
from scipy.stats import chi2

from cohort.calibrate.bands import band, covered, summary
from cohort.likelihood import layout as at
from cohort.likelihood.exposure import Trace, _Packer
from cohort.likelihood.study import study_loglik
from cohort.simulate.events import run
from cohort.simulate.truth import GenusTruth

CHECKS = np.arange(14.0, 85.0, 14.0)
QUEENS, STUDIES, DRAWS = 12, 1000, 99
# Ten times the losses of the model's own prior: with few of them the date hardly matters.
MEAN, SD = math.log(0.03), 0.8
GRID = np.linspace(MEAN - 6 * SD, MEAN + 6 * SD, 601)


def losses(log_hazards, rng):
    """Losses of twelve lone queens found at each check, and how many live on, by study."""
    truth = GenusTruth(log_hazard=MEAN, mated=0.0, frailty=1.0)
    z = np.repeat(np.asarray(log_hazards) - MEAN, QUEENS)  # the study's hazard, not a frailty
    paths = run(len(z), 1, truth, rng, CHECKS[-1], z=z)
    deaths = paths.deaths.reshape(-1, QUEENS)
    found = np.stack([(deaths > b - 14) & (deaths <= b) for b in CHECKS]).sum(axis=2).T
    return found, QUEENS - found.sum(axis=1)


def by_interval(found, left):
    """Log-likelihood on the grid: a loss fell somewhere between two checks."""
    h = np.exp(GRID)
    inside = -CHECKS[:, None] * h
    before = -(CHECKS - 14)[:, None] * h
    with np.errstate(divide="ignore"):
        parts = before + np.log(-np.expm1(inside - before))
    return found @ parts - left * CHECKS[-1] * h


def at_the_check(found, left):
    """The mutant: a loss fell on the day of the check."""
    days = found @ CHECKS + left * CHECKS[-1]
    return found.sum() * GRID - days * np.exp(GRID)


def ranks(likelihood, seed):
    rng = np.random.default_rng(seed)
    prior = -0.5 * ((GRID - MEAN) / SD) ** 2
    truths = rng.normal(MEAN, SD, STUDIES)
    out = []
    for truth, found, left in zip(truths, *losses(truths, rng), strict=True):
        value = prior + likelihood(found, left)
        density = np.exp(value - value.max())
        share = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]))])
        draws = np.interp(rng.random(DRAWS), share / share[-1], GRID)
        out.append(int((draws < truth).sum()))
    return np.array(out)


def test_the_right_likelihood_gives_uniform_ranks():
    own = ranks(by_interval, 1)
    row = summary(pd.DataFrame({"log hazard": own}), DRAWS).iloc[0]
    assert row["outside"] == 0
    assert row["chi2"] < chi2.ppf(0.999, 19)
    assert abs(row["coverage"] - 0.9) < 4 * math.sqrt(0.09 / STUDIES)


def test_losses_dated_at_the_check_leave_the_bands():
    own = ranks(at_the_check, 1)
    row = summary(pd.DataFrame({"log hazard": own}), DRAWS).iloc[0]
    assert row["outside"] > 40
    assert row["chi2"] > 200
    assert row["coverage"] < 0.86
    assert row["mean_rank"] > 0.55  # hazards come out too low


def test_the_likelihood_calibrated_here_is_that_of_the_kernel():
    (found,), (left,) = losses([math.log(0.006)], np.random.default_rng(3))
    packer = _Packer(2.5)
    name = 0
    for i, number in enumerate([*found, left]):
        for _ in range(number):
            spans = [(a, a + 14, 1, 1) for a in CHECKS[:i] - 14]
            spans += [(CHECKS[i] - 14, CHECKS[i], 1, 0)] if i < len(CHECKS) else []
            packer.add(Trace(spans, 0.0, math.inf, 0.0), name)
            name += 1
    tables = packer.tables()
    values = by_interval(found, left)
    for place in (150, 300, 450):
        par = np.zeros((QUEENS, at.FOUNDING_WIDTH))
        par[:, at.HAZARD1] = GRID[place]
        shared = np.zeros(at.SHARED_WIDTH)
        shared[at.WITHIN_DAYS] = shared[at.LOADING] = 1.0
        ours = study_loglik(par, shared, *tables)[0]
        assert ours == pytest.approx(values[place], rel=1e-9)
    # and the mutant is what the kernel says of losses on a known day
    days = found @ CHECKS + left * CHECKS[-1]
    mutant = loglik([GRID[300]], [[days]], [[found.sum()]])[0]
    assert mutant == pytest.approx(at_the_check(found, left)[300], abs=1e-5)


def test_bands_hold_uniform_ranks_as_often_as_they_say():
    """Saeilynoja et al. (2022): simultaneous over all ranks; simulated against our recursion."""
    limits = band(250, DRAWS, 0.95)
    rng = np.random.default_rng(7)
    trials = 4000
    out = [limits.outside(rng.integers(0, DRAWS + 1, 250)) > 0 for _ in range(trials)]
    share = 1 - np.mean(out)
    assert 0.95 - 4 * math.sqrt(0.95 * 0.05 / trials) < share
    assert share < 0.975  # counts are whole, so the band holds a little more than it says
    # Limits right for one rank alone are left far more often.
    from scipy.stats import binom

    level = np.arange(1, DRAWS + 1) / (DRAWS + 1)
    low, high = binom.ppf(0.025, 250, level), binom.ppf(0.975, 250, level)
    naive = type(limits)(250, DRAWS, low, high, 0.95)
    often = np.mean([naive.outside(rng.integers(0, DRAWS + 1, 250)) > 0 for _ in range(500)])
    assert often > 0.3


def test_intervals_are_covered_by_ranks_between_the_outer_five():
    assert covered(np.array([4, 5, 50, 94, 95]), DRAWS).tolist() == [False, True, True, True, False]
    assert covered(np.arange(100), DRAWS).mean() == pytest.approx(0.9)
