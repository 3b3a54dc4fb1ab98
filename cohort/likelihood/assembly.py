"""From effects of genera and shared parameters to the study's likelihood, and its gradient back.

Comes in: genus effects, shared parameters, frailties, the study's indices and packed tables. Goes
out: the log-likelihood and a derivative for every parameter. Never: a prior, or how a parameter
came about.

Every founding takes the effects of its genus; here are the sums that spread over foundings and
gather their gradient.
"""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
import numpy.typing as npt
from numba import njit

from cohort.likelihood import BORROWS, ONCE
from cohort.likelihood.layout import (
    E_HAZARD1,
    E_HAZARD2,
    E_LAST_FIGHT,
    E_LOG_DAY,
    E_RIVALRY,
    E_TOGETHER,
    FOUNDING_WIDTH,
    FRAILTY,
    N1,
    N2,
    P_AFTER,
    P_BEFORE,
    P_FIRST_WORKER,
    P_MATED,
    PARTS,
    S_THRESHOLD,
    STEPS1,
    THRESHOLD,
)
from cohort.likelihood.predictor import (
    Genus,
    common_of,
    doublings_of,
    founding_gradient,
    founding_parameters,
    gather_common,
    gradient_of_founding,
    own_of,
    put_founding,
)
from cohort.likelihood.study import study_loglik

TABLES: Final = 5
"""Tables of a study: who, steps, records, rows, nodes, as `in_one` lays them."""

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


@njit(**BORROWS)
def log_paces(walk, walk_sd, steps, shared):  # type: ignore[no-untyped-def]  # compiled by numba
    """Add the log of the pace of each piece, see `study.paces`, to ``shared``."""
    for j in range(N1 + N2):
        for i in range(walk.size):
            shared[STEPS1 + j] += steps[j, i] * walk[i] * walk_sd[phase_of(i)]


@njit(**BORROWS)
def in_steps(walk, walk_sd, steps, d_shared, d_walk, d_walk_sd):  # type: ignore[no-untyped-def]  # compiled by numba
    """Gradient in the walk and its SDs, from those in the logs of the paces; see `log_paces`."""
    for i in range(walk.size):
        slope = 0.0
        for j in range(N1 + N2):
            slope += steps[j, i] * d_shared[STEPS1 + j]
        d_walk[i] = slope * walk_sd[phase_of(i)]
        d_walk_sd[phase_of(i)] += slope * walk[i]


@njit(**ONCE)
def study_by_genus(effects, shared, added, z, study):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log-likelihood of a study, and its gradient in the first four arguments.

    Parameters
    ----------
    effects : float array, shape (EFFECTS, genera)
    shared : float array, shape (SHARED_WIDTH,)
        See `layout`.
    added : float array, shape (PARTS, foundings) or (PARTS, 0)
        What a founding's keeper, season, covariates ... add to each part of its parameters, see
        `layout`; nothing if empty.
    z : float array, shape (foundings,)
    study : float array
        Made by `in_one` of: who, shape (foundings, 3): genus, queens at the start, queens seen
        mating; steps, shape (pieces, 7); records, rows and nodes, see `layout`.
    """
    who, _, records, rows, nodes = tables(study)
    count = z.size
    par = np.empty((count, FOUNDING_WIDTH))
    doublings, some = np.empty(count), added.size > 0
    here = added if some else np.zeros((PARTS, 1))
    last_fight = np.empty(effects.shape[1])
    for g in range(last_fight.size):
        last_fight[g] = 1.0 / (1.0 + math.exp(-effects[E_LAST_FIGHT, g]))
    common = common_of(shared)
    for f in range(count):
        g = int(who[f, W_GENUS])
        doublings[f] = doublings_of(who[f, W_SIZE])
        own = own_of(who[f, W_SIZE], doublings[f], who[f, W_SEEN], here, f if some else 0)
        effect = Genus(
            effects[E_HAZARD1, g],
            effects[E_TOGETHER, g],
            effects[E_HAZARD2, g],
            effects[E_RIVALRY, g],
            last_fight[g],
            effects[E_LOG_DAY, g],
        )
        put_founding(founding_parameters(effect, common, own), shared, par[f])
        par[f, FRAILTY] = z[f]
    value, by_founding, d_shared = study_loglik(par, shared, records, rows, nodes)

    d_effects = np.zeros_like(effects)
    d_added, d_z = np.zeros_like(added), np.empty(count)
    for f in range(count):
        g = int(who[f, W_GENUS])
        own = own_of(who[f, W_SIZE], doublings[f], who[f, W_SEEN], here, f if some else 0)
        in_genus, in_common, in_own = founding_gradient(
            gradient_of_founding(by_founding[f]), common, own
        )
        d_effects[E_HAZARD1, g] += in_genus.founding_hazard
        d_effects[E_TOGETHER, g] += in_genus.together
        d_effects[E_HAZARD2, g] += in_genus.worker_hazard
        d_effects[E_RIVALRY, g] += in_genus.rivalry
        d_effects[E_LAST_FIGHT, g] += in_genus.last_fight * last_fight[g] * (1.0 - last_fight[g])
        d_effects[E_LOG_DAY, g] += in_genus.first_worker
        gather_common(in_common, d_shared)
        d_shared[S_THRESHOLD] += by_founding[f, THRESHOLD]
        d_z[f] = by_founding[f, FRAILTY]
        if some:
            d_added[P_BEFORE, f], d_added[P_AFTER, f] = in_own.before, in_own.after
            d_added[P_FIRST_WORKER, f], d_added[P_MATED, f] = in_own.later, in_own.mated
    return value, d_effects, d_shared, d_added, d_z
