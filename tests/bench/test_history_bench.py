"""How long a large study takes. Run with ``-m bench``."""

import sys
import time
import tracemalloc
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from cohort.curves import curves
from cohort.history import history

sys.path.insert(0, str(Path(__file__).parents[1] / "history"))
from small_study import small_study

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


def test_a_million_checks_become_a_history_in_three_seconds(large):
    start = time.perf_counter()
    history(large)
    assert time.perf_counter() - start < 3  # measured .9 s
    tracemalloc.start()
    history(large)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 500e6  # measured 314 MB


def test_curves_of_ten_thousand_foundings_in_a_minute(large):
    seen = history(large)
    start = time.perf_counter()
    curves(seen, seed=1)
    assert time.perf_counter() - start < 60
