"""How long a keeper waits before anything happens, and curves against lifelines; -m bench."""

import subprocess
import sys
import time
import warnings
from pathlib import Path

import numpy as np
import pytest

from cohort.nonparametric.brackets import turnbull
from cohort.nonparametric.survival import product_limit

pytestmark = pytest.mark.bench
COHORT = Path(sys.executable).with_name("cohort")
DEMO = Path(__file__).parents[2] / "data" / "demo"


def median_of(do, times=7):
    took = []
    for _ in range(times):
        start = time.perf_counter()
        do()
        took.append(time.perf_counter() - start)
    return float(np.median(took))


def test_start_up(row):
    bare = median_of(lambda: subprocess.run([sys.executable, "-c", "pass"], check=True))
    for said, words in (("--help", ["--help"]), ("audit data/demo", ["audit", str(DEMO)])):
        took = median_of(lambda w=words: subprocess.run([COHORT, *w], capture_output=True))
        row(
            f"cohort {said}",
            f"{took:.2f} s (median of 7; a bare python takes {bare:.2f} s)",
            seconds=took,
        )


def test_curves_against_lifelines(row):
    """400 resamples of a product-limit curve, and one Turnbull estimate, on the same data."""
    from lifelines import KaplanMeierFitter

    rng = np.random.default_rng(5)
    count, resamples = 1000, 400
    days = np.ceil(rng.exponential(80.0, count))
    end, seen = np.minimum(days, 160.0), days <= 160
    weights = rng.multinomial(count, np.full(count, 1 / count), resamples).astype(float)
    ours = median_of(lambda: product_limit(None, end, seen, weights), 3)

    def theirs():
        for w in weights:
            keep = w > 0
            KaplanMeierFitter().fit(end[keep], seen[keep], weights=w[keep])

    start = time.perf_counter()
    with warnings.catch_warnings():  # it says that weights are not whole: they are
        warnings.simplefilter("ignore")
        theirs()
    took = time.perf_counter() - start
    one = KaplanMeierFitter().fit(end, seen)
    curve = product_limit(None, end, seen)
    assert curve.estimate == pytest.approx(one.survival_function_at_times(curve.day).to_numpy())
    row(
        f"{resamples} resamples of the product-limit curve of {count} queens",
        f"{ours:.2f} s; lifelines, one at a time, {took:.2f} s",
        f"{took / ours:.0f} x",
        seconds=ours,
    )
    after = np.floor(days / 7) * 7
    by = np.where(after >= 161, np.inf, after + 7)
    ours = median_of(lambda: turnbull(after, by), 3)
    start = time.perf_counter()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        KaplanMeierFitter().fit_interval_censoring(after, by)
    took = time.perf_counter() - start
    row(
        f"bracketed curve of {count} queens, weekly looks",
        f"{ours:.3f} s; lifelines {took:.3f} s",
        f"{took / ours:.0f} x",
        seconds=ours,
    )
