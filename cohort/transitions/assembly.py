"""From effects of genera and shared parameters to the study's likelihood, and its slopes back.

Comes in: genus effects, shared parameters, frailties, the study's indices and packed tables. Goes
out: the log-likelihood and a slope for every parameter. Never: a prior, or how a parameter came
about.

Every founding takes the effects of its genus; here are the sums that spread over foundings and
gather their slopes.
"""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
import numpy.typing as npt
from numba import njit

from cohort.transitions import BORROWS
from cohort.transitions.layout import (
    BOTH,
    FERTILE,
    FOUNDING_WIDTH,
    FRAILTY,
    HAZARD1,
    HAZARD2,
    LOADING,
    LOG_DAY,
    N1,
    N2,
    RIVALRY,
    SHARED_WIDTH,
    SIGMA,
    STEPS1,
    TAU,
    THRESHOLD,
    TOGETHER,
)
from cohort.transitions.study import study_loglik

TABLES: Final = 5
"""Tables of a study: who, steps, records, rows, nodes, as `in_one` lays them."""

# rows of ``effects``, as in model.priors.EFFECTS
E_HAZARD1: Final = 0
E_TOGETHER: Final = 1
E_HAZARD2: Final = 2
E_RIVALRY: Final = 3
E_BOTH: Final = 4
E_LOG_DAY: Final = 5
# columns of ``who``
W_GENUS: Final = 0
W_SIZE: Final = 1
W_SEEN: Final = 2


def in_one(*tables: npt.NDArray[Any]) -> npt.NDArray[np.float64]:
    """Who, steps, records, rows and nodes in one vector: lengths, widths, then table by table.

    `density` is handed one vector with all it reads; so the study is laid into one too.
    """
    shapes = [float(n) for axis in (0, 1) for n in (t.shape[axis] for t in tables)]
    return np.concatenate([shapes, *(np.ravel(table) for table in tables)])


@njit(cache=True, error_model="numpy")
def _cut(study, start, which):  # type: ignore[no-untyped-def]  # compiled by numba
    rows, width = int(study[which]), int(study[TABLES + which])
    return study[start : start + rows * width].reshape((rows, width))


@njit(cache=True, error_model="numpy")
def tables(study):  # type: ignore[no-untyped-def]  # compiled by numba
    """The tables laid into a vector by `in_one`."""
    start, which = 2 * TABLES, -1  # sums, as a bare number is a type and compiled for each number
    who = _cut(study, start, which + 1)
    steps = _cut(study, start + who.size, which + 2)
    records = _cut(study, start + who.size + steps.size, which + 3)
    start += who.size + steps.size + records.size
    rows = _cut(study, start, which + 4)
    return who, steps, records, rows, _cut(study, start + rows.size, which + 5)


@njit(cache=True, error_model="numpy")
def phase_of(step):  # type: ignore[no-untyped-def]  # compiled by numba
    """Phase of a step of the walks: founding 0, worker 1."""
    return 0 if step < N1 - 1 else 1


@njit(cache=True, error_model="numpy")
def power(x, n):  # type: ignore[no-untyped-def]  # compiled by numba
    """Raise x to a whole n >= 0; x ** n calls what is not there under fast maths."""
    out = 1.0
    for _ in range(n):
        out *= x
    return out


@njit(cache=True, error_model="numpy")
def fertile(p, shift, others, seen):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chance that one queen at least is mated, with its slopes in p and in ``shift``.

    ``others`` queens are mated with chance p, ``seen`` with p shifted on the logit.
    """
    none = power(1.0 - p, others)
    in_p = others * power(1.0 - p, others - 1)
    if seen == 0:
        return 1.0 - none, in_p, 0.0
    odds = math.exp(shift)
    below = 1.0 - p + p * odds
    surer = p * odds / below
    rest = power(1.0 - surer, seen)
    steep = seen * none * power(1.0 - surer, seen - 1)
    in_p = in_p * rest + steep * odds / (below * below)
    return 1.0 - none * rest, in_p, steep * surer * (1.0 - surer)


@njit(**BORROWS)
def log_paces(walk, walk_sd, steps, shared):  # type: ignore[no-untyped-def]  # compiled by numba
    """Add the log of the pace of each piece, see `study.paces`, to ``shared``."""
    for j in range(N1 + N2):
        for i in range(walk.size):
            shared[STEPS1 + j] += steps[j, i] * walk[i] * walk_sd[phase_of(i)]


@njit(cache=True, error_model="numpy", inline="always")
def study_by_genus(  # type: ignore[no-untyped-def]  # compiled by numba
    effects,
    size_step,
    multi_days,
    walk,
    walk_sd,
    tau,
    sigma,
    loading,
    mated,
    seen,
    threshold,
    shift,
    later,
    z,
    lasting,
    study,
):
    """Log-likelihood of a study, and its slope in each of the first fourteen arguments.

    Parameters
    ----------
    effects : float array, shape (6, genera)
    size_step, multi_days, tau, sigma, loading, mated, seen : float
        Change of the ratio per doubling; log time ratio; SDs of the log day and of the frailty;
        the frailty's weight after workers; share of mated queens; what a mating seen adds.
    threshold : float
        Degrees Celsius above which a shelf with a log counts; not read without one.
    walk, walk_sd : float arrays, shapes (7,) and (2,)
        Standard normal steps of the two hazards, and their SDs.
    shift, later : float arrays, shape (foundings,) or (0,)
        What a founding's keeper, catch, ... add to its log hazard and its log day; none if empty.
    z : float array, shape (foundings,)
    lasting : float
        1 where the effect of company stays with the last queen (a variant), else 0.
    study : float array
        Made by `in_one` of: who, shape (foundings, 3): genus, queens at the start, queens seen
        mating; steps, shape (pieces, 7); records, rows and nodes, see `layout`.
    """
    who, steps, records, rows, nodes = tables(study)
    count = z.size
    par = np.empty((count, FOUNDING_WIDTH))
    phi_slopes = np.empty((count, 2))
    company = np.zeros(count)
    both = np.empty(effects.shape[1])
    for g in range(both.size):
        both[g] = 1.0 / (1.0 + math.exp(-effects[E_BOTH, g]))
    for f in range(count):
        g, k, m = int(who[f, W_GENUS]), int(who[f, W_SIZE]), int(who[f, W_SEEN])
        extra = shift[f] if shift.size else 0.0
        days = later[f] if later.size else 0.0
        ratio = 0.0
        if k >= 2:
            company[f] = math.log2(k / 2.0)
            ratio = effects[E_TOGETHER, g] + size_step * company[f]
            days += multi_days
        par[f, HAZARD1] = effects[E_HAZARD1, g] + extra + lasting * ratio
        par[f, TOGETHER] = (1.0 - lasting) * ratio
        par[f, HAZARD2] = effects[E_HAZARD2, g]
        par[f, RIVALRY] = effects[E_RIVALRY, g]
        par[f, BOTH] = both[g]
        par[f, LOG_DAY] = effects[E_LOG_DAY, g] + days
        par[f, FERTILE], phi_slopes[f, 0], phi_slopes[f, 1] = fertile(mated, seen, k - m, m)
        par[f, FRAILTY] = z[f]
        par[f, THRESHOLD] = threshold
    shared = np.zeros(SHARED_WIDTH)
    log_paces(walk, walk_sd, steps, shared)
    shared[TAU], shared[SIGMA], shared[LOADING] = tau, sigma, loading
    value, by_founding, by_shared = study_loglik(par, shared, records, rows, nodes)

    d_effects = np.zeros_like(effects)
    d_shift, d_later, d_z = np.zeros(shift.size), np.zeros(later.size), np.empty(count)
    d_step, d_multi, d_mated, d_seen, d_threshold = 0.0, 0.0, 0.0, 0.0, 0.0
    for f in range(count):
        g = int(who[f, W_GENUS])
        in_level = by_founding[f, HAZARD1]
        if who[f, W_SIZE] >= 2:
            in_ratio = (1.0 - lasting) * by_founding[f, TOGETHER] + lasting * in_level
            d_effects[E_TOGETHER, g] += in_ratio
            d_step += in_ratio * company[f]
            d_multi += by_founding[f, LOG_DAY]
        d_effects[E_HAZARD1, g] += in_level
        d_effects[E_HAZARD2, g] += by_founding[f, HAZARD2]
        d_effects[E_RIVALRY, g] += by_founding[f, RIVALRY]
        d_effects[E_BOTH, g] += by_founding[f, BOTH] * both[g] * (1.0 - both[g])
        d_effects[E_LOG_DAY, g] += by_founding[f, LOG_DAY]
        d_mated += by_founding[f, FERTILE] * phi_slopes[f, 0]
        d_seen += by_founding[f, FERTILE] * phi_slopes[f, 1]
        d_z[f] = by_founding[f, FRAILTY]
        d_threshold += by_founding[f, THRESHOLD]
        if shift.size:
            d_shift[f] = in_level
        if later.size:
            d_later[f] = by_founding[f, LOG_DAY]
    d_walk, d_walk_sd = np.empty(walk.size), np.zeros(2)
    for i in range(walk.size):
        slope = 0.0
        for j in range(N1 + N2):
            slope += steps[j, i] * by_shared[STEPS1 + j]
        d_walk[i] = slope * walk_sd[phase_of(i)]
        d_walk_sd[phase_of(i)] += slope * walk[i]
    return (
        value,
        d_effects,
        d_step,
        d_multi,
        d_walk,
        d_walk_sd,
        by_shared[TAU],
        by_shared[SIGMA],
        by_shared[LOADING],
        d_mated,
        d_seen,
        d_threshold,
        d_shift,
        d_later,
        d_z,
    )
