"""New foundings still waiting: living queens and no workers, on a day.

Comes in: parameters by draw of one genus, founding sizes, a day. Goes out: chances, averaged over
frailty and covariates. Never: a second formula for a transition.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from numba import njit

from cohort.transitions.ahead import between
from cohort.transitions.counts import step
from cohort.transitions.layout import CUTS1, N1
from cohort.transitions.recursion import (
    G_HAZARD1,
    G_LOG_DAY,
    G_TOGETHER,
    S_MATED,
    S_MULTI_DAYS,
    S_SIGMA,
    S_SIZE_STEP,
    S_STEPS1,
    S_TAU,
    below,
)
from cohort.transitions.threads import spread

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
_CUTS1 = np.array(CUTS1)


@njit(cache=True, error_model="numpy", nogil=True)
def _queens(first, last, params, shared, shifts, share, sizes, day, z, w, out):  # type: ignore[no-untyped-def]  # compiled by numba
    """`queens_waiting` for draws ``first`` up to ``last``, added to an output of 0."""
    for d in range(first, last):
        genus, common = params[d], shared[d]
        days = between(0.0, day, _CUTS1, np.exp(common[S_STEPS1 : S_STEPS1 + N1]), 0)
        for s in range(sizes.size):
            k = sizes[s]
            log_ratio = 0.0
            mean = genus[G_LOG_DAY]
            if k >= 2:
                log_ratio = genus[G_TOGETHER] + common[S_SIZE_STEP] * math.log2(k / 2.0)
                mean += common[S_MULTI_DAYS]
            ratio = math.exp(log_ratio)
            fertile = 1.0 - (1.0 - common[S_MATED]) ** k
            none_yet = 1.0 - fertile * below(day, mean, common[S_TAU])
            for q in range(z.size):
                for r in range(share.size):
                    level = math.exp(genus[G_HAZARD1] + shifts[d, r] + common[S_SIGMA] * z[q])
                    dead = step(k, 0, days * level * ratio, 1.0 / ratio, 0.0)[0]
                    out[d, s] += w[q] * share[r] * none_yet * (1.0 - dead)


def queens_waiting(
    params: Floats,
    shared: Floats,
    shifts: Floats,
    share: Floats,
    sizes: Ints,
    day: float,
    z: Floats,
    w: Floats,
) -> Floats:
    """Chance that a new founding has a living queen and no workers on ``day``.

    Parameters
    ----------
    params : float array, shape (draws, G_WIDTH)
        One genus, see `recursion`.
    shared : float array, shape (draws, S_WIDTH)
    shifts, share : float arrays, shapes (draws, rows) and (rows,)
        Rows of covariates, see `recursion.recurse`.
    sizes : int array
    day : float
    z, w : float arrays
        Nodes and weights of the frailty.

    Returns
    -------
    float array, shape (draws, sizes)
    """
    out = np.zeros((len(params), sizes.size))
    spread(_queens, len(params), params, shared, shifts, share, sizes, day, z, w, out)
    return out
