"""How long a large study takes. Run with ``-m bench``."""

import time
import tracemalloc

import numpy as np
import pandas as pd
import pytest
from small_study import small_study

from cohort.history import history
from cohort.nonparametric import curves

pytestmark = pytest.mark.bench


@pytest.fixture(scope="module")
def large():
    """Ten thousand foundings of three queens, a hundred looks each."""
    rng = np.random.default_rng(1)
    number, looks = 10_000, 100
    study = small_study({f"F{i}": "3 |" for i in range(number)})
    day = np.tile(np.arange(1, looks + 1), number)
    lost = (rng.random((number, looks)) < 0.01).cumsum(axis=1)
    study.checks = pd.DataFrame(
        {
            "founding": np.repeat(study.foundings["founding"].to_numpy(), looks),
            "date": np.datetime64("2025-06-01", "ns") + day.astype("timedelta64[D]"),
            "queens_alive": pd.array((3 - lost).clip(0).ravel(), dtype="Int64"),
            "at_least": False,
            "workers": pd.array(np.maximum(0, day - 50), dtype="Int64"),
            "workers_at_least": False,
            "give_or_take": rng.integers(0, 2, number * looks).astype(float),
        }
    )
    return study


def test_a_million_checks_become_a_history(large, row):
    start = time.perf_counter()
    history(large)
    took = time.perf_counter() - start
    assert took < 3  # measured .9 s
    tracemalloc.start()
    history(large)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    row(
        "1,000,000 checks collapsed into a history",
        f"{took:.1f} s, {peak / 1e9:.2f} GB",
        seconds=took,
    )
    assert peak < 500e6  # measured 314 MB


def test_curves_of_ten_thousand_foundings(large, row):
    seen = history(large)
    start = time.perf_counter()
    curves(seen, seed=1)
    took = time.perf_counter() - start
    row("all curves of 10,000 foundings, resampled", f"{took:.1f} s", seconds=took)
    assert took < 60
