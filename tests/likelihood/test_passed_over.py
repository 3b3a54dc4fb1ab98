"""Cells in which a first worker is next to impossible are passed over: it changes nothing."""

import numpy as np
import pytest
from scipy.stats import lognorm

from cohort.predict.afterwards import PAD, by_then
from cohort.predict.recursion import PASSED_OVER, arrivals, until_workers, when

CELLS = 90


def masses(median, tau):
    return np.diff(lognorm(tau, scale=median).cdf(2.0 * np.arange(CELLS + 1)))


def test_where_the_first_worker_may_come_by_hand():
    mass = np.array([0.0, 1e-14, 1e-3, 0.5, 1e-3, 1e-14, 0.0])
    assert when(mass) == (2, 5)
    assert when(mass * 1e-9) == (2, 5)  # rare in this horizon, but as rare everywhere
    assert when(np.zeros(4)) == (0, 4)


@pytest.mark.parametrize(("median", "tau"), [(42.0, 0.15), (60.0, 0.03), (400.0, 0.1), (20.0, 0.9)])
def test_what_is_passed_over_is_nothing(median, tau):
    rng = np.random.default_rng(5)
    k, mass = 3, masses(median, tau)
    alive = -np.sort(-rng.uniform(size=(k + 1, CELLS + 1)), axis=1)
    value = np.pad(rng.uniform(0.0, 3.0, size=(k + 1, CELLS)), ((0, 0), (0, PAD)))
    first, last = when(mass)
    # sevens stand for what another size left there
    whole, part, narrow = (np.full((k + 1, CELLS + PAD), 7.0) for _ in range(3))
    arrivals(k, alive, mass, 0, CELLS, whole)
    arrivals(k, alive, mass, first, last, part)
    hardly = np.flatnonzero(mass > 0.05 * mass.max())
    few = int(hardly[0]), int(hardly[-1]) + 1
    arrivals(k, alive, mass, *few, narrow)
    for j in range(0, CELLS + 1, 9):
        want = by_then(j, k, whole, 0, CELLS, value)
        direct = sum(whole[c, :j] @ value[c, CELLS - j : CELLS] for c in range(1, k + 1))
        assert want == pytest.approx(direct, rel=1e-12, abs=1e-300)
        bound = 3.0 * k * CELLS * PASSED_OVER * mass.max()
        assert abs(by_then(j, k, part, first, last, value) - want) <= bound + 1e-15 * abs(want)
    assert by_then(CELLS, k, narrow, *few, value) < want * (1 - 1e-3)  # a looser rule is seen


def test_what_is_passed_over_is_counted_nowhere():
    """Else two chances of next to nothing would differ, and one way be called the better."""
    mass = np.array([1e-14, 0.5, 0.25, 1e-14])
    first, last = when(mass)
    curve = np.zeros((2, 5))
    none = np.zeros(0, np.int64)
    until_workers(1, np.ones((2, 5)), mass, first, last, np.zeros(5), 1.0, none, np.zeros(0), curve)
    assert curve[1].tolist() == [0.0, 0.0, 0.5, 0.75, 0.75]
