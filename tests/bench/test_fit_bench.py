"""Cost against size, and of refits; run with -m bench."""

import resource
import time

import numpy as np
import pytest
from fits import DRAWS, SMALL, gate, numbers, run, said, study

from cohort.model.design import model_design
from cohort.model.log_posterior import log_posterior
from cohort.model.priors import Priors
from cohort.model.sample import sample

pytestmark = pytest.mark.bench


@pytest.mark.parametrize("foundings", [16, 32] if SMALL else [64, 640, 1200])
def test_cost_against_size_and_looks(tmp_path, row, foundings):
    took = {}
    for every in (7, 1):
        exposure = study(tmp_path, foundings, every)
        fit, *times = run(exposure, DRAWS)
        took[every] = times[1]
        row(
            f"{foundings} foundings, a look every {every} days",
            f"{len(exposure.nodes)} cells, {len(exposure.rows)} losses to explain; "
            f"{said(DRAWS, *times, fit)}; {gate(fit)}",
            "" if every == 7 else f"{took[1] / took[7]:.2f} of weekly",
            **numbers(times[1], fit),
        )


SIZES = [16, 32] if SMALL else [64, 640, 1200, 6400, 10_000]


@pytest.mark.parametrize("foundings", SIZES)
def test_cost_of_a_gradient(tmp_path, row, foundings):
    took = {}
    for every in (7, 1):
        exposure = study(tmp_path, foundings, every)
        target = log_posterior(model_design(exposure), exposure, Priors())
        q = target.start(1)
        often, each = max(5, 200_000 // foundings // 20), []
        for _ in range(7):
            start = time.perf_counter()
            for _ in range(often):
                target.log_density(q)
            each.append((time.perf_counter() - start) / often)
        took[every] = float(np.median(each))
    row(
        f"one gradient of {foundings} foundings",
        f"{1e6 * took[7]:.0f} microseconds with weekly looks, {1e6 * took[1]:.0f} with daily ones; "
        f"{1e6 * took[7] / foundings:.2f} by founding",
        f"daily {took[1] / took[7]:.2f} of weekly",
        seconds=took[7],
    )


LARGE = [(64, 7, 160)] if SMALL else [(6400, 7, 160), (10_000, 2, 200)]


@pytest.mark.parametrize(("foundings", "every", "horizon"), LARGE)
def test_a_large_study(tmp_path, row, foundings, every, horizon):
    """Few draws: what is asked is time and memory, not an answer."""
    exposure = study(tmp_path, foundings, every, horizon=horizon)
    fit, *times = run(exposure, DRAWS // 10, tune=DRAWS // 5)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 / 1e9
    row(
        f"{foundings} foundings, a look every {every} days to day {horizon}",
        f"{said(DRAWS // 10, *times, fit)}; peak {peak:.1f} GB",
        seconds=times[1],
    )


def test_refits(tmp_path, row):
    took = []
    for seed in range(1, 4 if SMALL else 42):
        exposure = study(tmp_path, 20, 7, seed=seed)
        design = model_design(exposure)
        start = time.perf_counter()
        sample(design, exposure, Priors(), seed=seed, draws=500)
        took.append(time.perf_counter() - start)
    each = float(np.median(took[1:]))
    row(
        f"{len(took) - 1} refits of other studies of 20 foundings in one process",
        f"{each:.2f} s each (median), 4 x 500 draws",
        seconds=each,
    )
