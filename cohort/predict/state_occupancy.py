"""New foundings still waiting: living queens and no workers, on a day.

Comes in: parameters by draw of one genus, founding sizes, a day. Goes out: chances, averaged over
frailty and covariates. Never: a second formula for a transition.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from numba import njit

from cohort.likelihood.layout import CUTS1, N1, SIGMA, STEPS1, WINTER, WINTER_COMPANY, WITHIN_DAYS
from cohort.likelihood.predictor import new_founding
from cohort.likelihood.threads import in_parallel
from cohort.likelihood.transition_probabilities import step
from cohort.predict.conditional import between
from cohort.predict.recursion import below

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
_CUTS1 = np.array(CUTS1)


@njit(cache=True, error_model="numpy")
def all_dead(k, autumn, rest, spring, ratio, cold_ratio):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chance that k queens are dead, from hazards of a lone queen before, in and after a rest."""
    now = np.zeros(k + 1)
    now[k] = 1.0
    for part in range(3):
        lone, r = (rest, cold_ratio) if part == 1 else (spring, ratio)
        if part == 0:
            lone = autumn
        then = np.zeros(k + 1)
        for n in range(k + 1):
            for m in range(n + 1):
                then[m] += now[n] * step(n, m, lone * r, 1.0 / r, 0.0)[0]
        now = then
    return now[0]


@njit(cache=True, error_model="numpy", nogil=True)
def _through(first, last, params, shared, added, share, sizes, day, z, w, begins, rests, out):  # type: ignore[no-untyped-def]  # compiled by numba
    """As `_queens`, on a day after the first of a winter rest."""
    cold = min(day - begins, rests)
    for d in range(first, last):
        genus, common = params[d], shared[d]
        paces = np.exp(common[STEPS1 : STEPS1 + N1])
        autumn = between(0.0, begins, _CUTS1, paces, 0)
        spring = between(begins, day - cold, _CUTS1, paces, 0)
        winter = cold * math.exp(common[WINTER])
        for s in range(sizes.size):
            for r in range(share.size):
                own = new_founding(genus, common, sizes[s], added[d], r)
                ratio, cold_ratio = math.exp(own.ratio_before), math.exp(common[WINTER_COMPANY])
                rung = below(day - cold, own.log_day, common[WITHIN_DAYS])
                for q in range(z.size):
                    level = math.exp(own.lone_before + common[SIGMA] * z[q])
                    dead = all_dead(
                        sizes[s], autumn * level, winter * level, spring * level, ratio, cold_ratio
                    )
                    out[d, s] += w[q] * share[r] * (1.0 - own.fertile * rung) * (1.0 - dead)


@njit(cache=True, error_model="numpy", nogil=True)
def _queens(first, last, params, shared, added, share, sizes, day, z, w, out):  # type: ignore[no-untyped-def]  # compiled by numba
    """`state_occupancy` for draws ``first`` up to ``last``, added to an output of 0."""
    for d in range(first, last):
        genus, common = params[d], shared[d]
        days = between(0.0, day, _CUTS1, np.exp(common[STEPS1 : STEPS1 + N1]), 0)
        for s in range(sizes.size):
            k = sizes[s]
            for r in range(share.size):
                own = new_founding(genus, common, k, added[d], r)
                ratio = math.exp(own.ratio_before)
                none_yet = 1.0 - own.fertile * below(day, own.log_day, common[WITHIN_DAYS])
                for q in range(z.size):
                    level = math.exp(own.lone_before + common[SIGMA] * z[q])
                    dead = step(k, 0, days * level * ratio, 1.0 / ratio, 0.0)[0]
                    out[d, s] += w[q] * share[r] * none_yet * (1.0 - dead)


def state_occupancy(
    params: Floats,
    shared: Floats,
    added: Floats,
    share: Floats,
    sizes: Ints,
    day: float,
    z: Floats,
    w: Floats,
    winter: tuple[float, float] | None = None,
) -> Floats:
    """Chance that a new founding has a living queen and no workers on ``day``.

    Parameters
    ----------
    params : float array, shape (draws, EFFECTS)
        One genus, see `recursion`.
    shared : float array, shape (draws, SHARED_WIDTH)
    added, share : float arrays, shapes (draws, PARTS, rows) and (rows,)
        Rows of covariates, see `recursion.recurse`.
    sizes : int array
    day : float
    z, w : float arrays
        Nodes and weights of the frailty.
    winter : tuple of float, optional
        Day on which winter rest begins, and its days.

    Returns
    -------
    float array, shape (draws, sizes)
    """
    out = np.zeros((len(params), sizes.size))
    if winter is not None and day > winter[0]:
        given = (params, shared, added, share, sizes, day, z, w, *winter)
        in_parallel(_through, len(params), *given, out)
        return out
    in_parallel(_queens, len(params), params, shared, added, share, sizes, day, z, w, out)
    return out
