"""Densities called by their address: values, gradients, places without a density.

Where the compiler is switched off (``NUMBA_DISABLE_JIT``) the Python function stands behind the
address; that way is tried here, with the compiler and without.
"""

import ctypes
import math

import numpy as np
import pytest
from numba import carray

from cohort.likelihood import callbacks
from cohort.likelihood.callbacks import ASTRAY, EXPANDED, as_callback, copied
from cohort.model.nuts import sample_nuts

PACKED = np.array([3.0, 0.5, 2.0])
handed = getattr(callbacks.handed, "py_func", callbacks.handed)  # as Python, like all else here


def normals_c(width, q_, gradient_, value_, packed_):
    """Independent normals; their SDs follow the length of the vector that holds them."""
    sd = carray(packed_, (1 + width,), np.float64)[1:]
    q = carray(q_, (width,))
    return handed(width, -0.5 * float(((q / sd) ** 2).sum()), -q / sd**2, gradient_, value_)


def no_number_c(width, q_, gradient_, value_, packed_):
    return handed(width, math.nan, carray(q_, (width,)), gradient_, value_)


def too_large_c(width, q_, gradient_, value_, packed_):
    return handed(width, math.exp(1e3), carray(q_, (width,)), gradient_, value_)


@pytest.fixture(autouse=True)
def in_python(monkeypatch):
    """The compiler switched off for callbacks, whether or not it is there."""
    monkeypatch.setattr(callbacks.config, "DISABLE_JIT", 1)
    as_callback.cache_clear()
    yield
    as_callback.cache_clear()


def place(array):
    return array.ctypes.data_as(ctypes.POINTER(ctypes.c_double))


def called(density, q):
    """What the sampler is told, and the value and gradient that it finds."""
    value, gradient = np.zeros(1), np.zeros(q.size)
    told = as_callback(density).ctypes(
        q.size, place(q), place(gradient), place(value), PACKED.ctypes.data
    )
    return told, value[0], gradient.tolist()


def test_value_and_gradient_by_hand():
    q = np.array([1.0, -4.0])
    # -(1 / .5)^2 / 2 - (4 / 2)^2 / 2, and -1 / .5^2 and 4 / 2^2
    assert called(normals_c, q) == (0, -4.0, [-4.0, 1.0])
    value, gradient = callbacks.value_and_gradient(normals_c, q, PACKED)
    assert (value, gradient.tolist()) == (-4.0, [-4.0, 1.0])


def test_where_there_is_no_density_the_sampler_is_told():
    assert called(no_number_c, np.ones(2))[0] == ASTRAY
    assert called(too_large_c, np.ones(2))[:2] == (ASTRAY, -math.inf)


def test_a_draw_is_kept_as_it_is():
    q, kept = np.array([1.5, -2.5]), np.zeros(2)
    assert as_callback(copied, EXPANDED).ctypes(2, 2, place(q), place(kept), None) == 0
    assert kept.tolist() == [1.5, -2.5]


def test_draws_of_normals_have_their_means_and_sds():
    q, stats = sample_nuts(
        normals_c, PACKED, 2, lambda seed: np.random.default_rng(seed).normal(size=2),
        seed=3, draws=500, tune=200, accept=0.8, chains=2,
    )  # fmt: skip
    assert q.shape == (2, 500, 2)
    assert int(stats["diverging"].sum()) == 0
    drawn = q.reshape(-1, 2) / PACKED[1:]
    assert np.abs(drawn.mean(axis=0)).max() < 0.2  # 1,000 draws: an SD of .03 if each is new
    assert drawn.std(axis=0) == pytest.approx(np.ones(2), abs=0.15)
    assert abs(np.corrcoef(drawn.T)[0, 1]) < 0.2
