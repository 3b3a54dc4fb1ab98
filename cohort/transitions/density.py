"""Density of the founding model in the coordinates of the sampler, with its slopes.

Comes in: a vector laid out by `places`, priors and what a study tells at the same places, and the
packed study. Goes out: the log density up to a constant with a slope for every coordinate, and the
parameters at a vector. Never: a study's own likelihood (`assembly`), a name.

Two things are done for the sampler, neither of which changes the model:

* an SD is walked with a sign, Normal(0, scale). Its absolute value is half-normal, and turning its
  sign together with that of the standard normals it multiplies changes nothing. So the sampler
  passes nought without noticing, where a log SD has a long tail to creep along;
* in place of a standard normal that an SD multiplies, its eased coordinate is walked (`eased`).

The effects of genera have a room of their own (`genera`).

`cohort.model.graph` says the same model in PyMC; a test holds both against each other.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numba import carray, njit  # type: ignore[attr-defined]  # carray is untyped

from cohort.transitions import BORROWS
from cohort.transitions.assembly import (
    in_steps,
    log_paces,
    phase_of,
    study_by_genus,
    tables,
)
from cohort.transitions.by_address import handed
from cohort.transitions.eased import ease, ease_back
from cohort.transitions.genera import end_of_pooling, genus_effects, genus_priors, parts_of
from cohort.transitions.layout import (
    E_BOTH,
    E_RIVALRY,
    EFFECTS,
    S_LASTING,
    S_MATED,
    S_MULTI_DAYS,
    S_SEEN,
    S_SIZE_STEP,
    S_THRESHOLD,
    SHARED_WIDTH,
    SIGMA,
    TAU,
)
from cohort.transitions.layout import LOADING as S_LOADING
from cohort.transitions.places import (
    ALL_FERTILE,
    B_COVARIATE,
    B_FOUNDING,
    B_GENUS,
    B_LEVEL,
    BLOCKS,
    CENTRE,
    FRAILTY_SD,
    FREE_LOADING,
    GENUS,
    GENUS_MEAN,
    GENUS_SD,
    H_LEAN,
    H_LIMITS,
    H_SIZES,
    H_SWITCHES,
    H_WARM,
    LASTING,
    LEAVES_ONE,
    LEVEL_SD,
    LEVELS,
    LOADING,
    MATED,
    MULTI_DAYS,
    NO_FRAILTY,
    NO_RIVALRY,
    PULL,
    SCALE,
    SEEN,
    SIZE_STEP,
    STEPS,
    TOLD,
    WALK,
    WALK_SD,
    WARM_DAYS,
    WARM_THRESHOLD,
    WITHIN_DAYS,
)

NEVER: Final = -40.0
"""Logit of a chance that is as good as none."""


@njit(cache=True, error_model="numpy")
def logistic(x):  # type: ignore[no-untyped-def]  # compiled by numba
    """A share from its logit."""
    return 1.0 / (1.0 + math.exp(-x))


@njit(cache=True, error_model="numpy")
def walk_sd(step):  # type: ignore[no-untyped-def]  # compiled by numba
    """Place of the SD that multiplies a step of the walks."""
    return WALK_SD + phase_of(step)


@njit(cache=True, error_model="numpy")
def parameters(q, laid, starts):  # type: ignore[no-untyped-def]  # compiled by numba
    """Parameters at a vector of coordinates, each in the same place, and the effects of genera.

    Parameters
    ----------
    q : float array, shape (coordinates,)
    laid : float array
        See `log_density`.
    starts : int array
        From `places.blocks`.

    Returns
    -------
    float array, shape (coordinates,), and float array, shape (EFFECTS, genera)
        SDs keep their signs. Contrasts, steps and foundings are standard normals, levels effects.
    """
    p, parts = q.copy(), parts_of(laid)
    told, pull = parts[TOLD], parts[PULL]
    low, high = laid[H_LIMITS], laid[H_LIMITS + 1]
    p[WITHIN_DAYS] = math.exp(q[WITHIN_DAYS])
    p[MATED] = logistic(q[MATED])
    p[WARM_THRESHOLD] = low + (high - low) * logistic(q[WARM_THRESHOLD])
    for j in range(STEPS):
        p[WALK + j] = ease(q[WALK + j], p[walk_sd(j)], told[WALK + j], pull[WALK + j])
    effects = genus_effects(q, p, laid)
    for i in range(starts[B_FOUNDING], starts[B_LEVEL]):
        p[i] = ease(q[i], p[FRAILTY_SD], told[i], pull[i])
    for kind in range(LEVELS):
        sd = p[LEVEL_SD + kind]
        for i in range(starts[B_LEVEL + kind], starts[B_LEVEL + kind + 1]):
            p[i] = sd * ease(q[i], sd, told[i], pull[i])
    return p, effects


@njit(cache=True, error_model="numpy", inline="always")
def shifts(p, starts, levels, x):  # type: ignore[no-untyped-def]  # compiled by numba
    """What keeper, flight, species and covariates add to each log founding hazard; none: empty."""
    if starts[B_LEVEL] == starts[-1]:
        return np.zeros(0)
    out = np.zeros(starts[B_LEVEL] - starts[B_FOUNDING])
    for kind in range(LEVELS):
        first = starts[B_LEVEL + kind]
        if starts[B_LEVEL + kind + 1] > first:
            for f in range(out.size):
                out[f] += p[first + int(levels[kind, f])]
    for j in range(starts[-1] - starts[B_COVARIATE]):
        for f in range(out.size):
            out[f] += p[starts[B_COVARIATE] + j] * x[f, j]
    return out


@njit(cache=True, error_model="numpy", inline="always")
def shared_priors(q, p, laid, slopes):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log prior density of the head, means of genera aside; ``slopes`` is added to.

    ``slopes`` holds the slopes of the likelihood in the parameters; those of the coordinates that
    are logs or logits leave it.
    """
    parts = parts_of(laid)
    centre, scale = parts[CENTRE], parts[SCALE]
    value = 0.0
    for i in range(GENUS_MEAN):
        if i in (MATED, WARM_THRESHOLD) or WALK <= i < GENUS_SD:
            continue
        if i == WITHIN_DAYS:
            slopes[i] *= p[i]
        u = (q[i] - centre[i]) / scale[i]
        value -= 0.5 * u * u
        slopes[i] -= u / scale[i]
    share = p[MATED]  # a beta of the two numbers, and what the logit stretches
    a, b = centre[MATED], scale[MATED]
    value -= a * math.log1p(math.exp(-q[MATED])) + b * math.log1p(math.exp(q[MATED]))
    slopes[MATED] = slopes[MATED] * share * (1.0 - share) + a * (1.0 - share) - b * share
    i = WARM_THRESHOLD
    part = logistic(q[i])
    u = (p[i] - centre[i]) / scale[i]
    value -= 0.5 * u * u + math.log1p(math.exp(-q[i])) + math.log1p(math.exp(q[i]))
    stretched = (laid[H_LIMITS + 1] - laid[H_LIMITS]) * part * (1.0 - part)
    slopes[i] = (slopes[i] - u / scale[i]) * stretched + 1.0 - 2.0 * part
    return value


@njit(cache=True, error_model="numpy", inline="always")
def eased_priors(q, p, laid, starts, slopes):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log prior density of steps, foundings and levels; ``slopes`` turned into coordinates'."""
    value, parts = 0.0, parts_of(laid)
    told, pull = parts[TOLD], parts[PULL]
    for j in range(STEPS):
        i, of = WALK + j, walk_sd(j)
        add, slopes[i], more = ease_back(p[i], slopes[i], p[of], told[i], pull[i])
        value += add
        slopes[of] += more
    for i in range(starts[B_FOUNDING], starts[B_LEVEL]):
        add, slopes[i], more = ease_back(p[i], slopes[i], p[FRAILTY_SD], told[i], pull[i])
        value += add
        slopes[FRAILTY_SD] += more
    for kind in range(LEVELS):
        of = LEVEL_SD + kind
        for i in range(starts[B_LEVEL + kind], starts[B_LEVEL + kind + 1]):
            w = ease(q[i], p[of], told[i], pull[i])
            slopes[of] += w * slopes[i]
            add, slopes[i], more = ease_back(w, p[of] * slopes[i], p[of], told[i], pull[i])
            value += add
            slopes[of] += more
    return value


@njit(**BORROWS)
def put(values, into, first):  # type: ignore[no-untyped-def]  # compiled by numba
    """Copy values to a place; for array to array numba would compile an error text."""
    for i in range(values.size):
        into[first + i] = values[i]


@njit(cache=True, error_model="numpy", inline="always")
def likelihood(p, effects, slopes, laid, starts):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log-likelihood, and its slopes in the effects of genera; those in ``p`` go to ``slopes``."""
    foundings, covariates = starts[B_LEVEL] - starts[B_FOUNDING], starts[-1] - starts[B_COVARIATE]
    switches, effects = laid[H_SWITCHES:H_LEAN], effects.copy()
    end = end_of_pooling(laid)
    levels = laid[end : end + LEVELS * foundings].reshape((LEVELS, foundings))
    end += LEVELS * foundings
    x = laid[end : end + foundings * covariates].reshape((foundings, covariates))
    end += foundings * covariates
    warm = laid[end : end + int(laid[H_WARM])]
    study = laid[end + warm.size :]
    if switches[NO_RIVALRY]:
        effects[E_RIVALRY] = 0.0
    if switches[LEAVES_ONE]:
        effects[E_BOTH] = NEVER
    walk, sds, steps = p[WALK : WALK + STEPS], p[WALK_SD : WALK_SD + 2], tables(study)[1]
    shared = np.zeros(SHARED_WIDTH)
    log_paces(walk, sds, steps, shared)
    shared[TAU] = p[WITHIN_DAYS]
    shared[SIGMA] = 0.0 if switches[NO_FRAILTY] else p[FRAILTY_SD]
    shared[S_LOADING] = p[LOADING] if switches[FREE_LOADING] else 1.0
    shared[S_SIZE_STEP], shared[S_MULTI_DAYS] = p[SIZE_STEP], p[MULTI_DAYS]
    shared[S_MATED] = 1.0 if switches[ALL_FERTILE] else p[MATED]
    shared[S_SEEN], shared[S_THRESHOLD] = p[SEEN], p[WARM_THRESHOLD]
    shared[S_LASTING] = switches[LASTING]
    z = p[starts[B_FOUNDING] : starts[B_LEVEL]]
    value, d_effects, d_shared, d_shift, d_later, d_z = study_by_genus(
        effects, shared, shifts(p, starts, levels, x), p[WARM_DAYS] * warm, z, study
    )
    if switches[NO_RIVALRY]:
        d_effects[E_RIVALRY] = 0.0
    if switches[LEAVES_ONE]:
        d_effects[E_BOTH] = 0.0
    in_steps(walk, sds, steps, d_shared, slopes[WALK : WALK + STEPS], slopes[WALK_SD : WALK_SD + 2])
    slopes[WITHIN_DAYS] = d_shared[TAU]
    slopes[FRAILTY_SD] = 0.0 if switches[NO_FRAILTY] else d_shared[SIGMA]
    slopes[LOADING] = d_shared[S_LOADING] if switches[FREE_LOADING] else 0.0
    slopes[SIZE_STEP], slopes[MULTI_DAYS] = d_shared[S_SIZE_STEP], d_shared[S_MULTI_DAYS]
    slopes[MATED] = 0.0 if switches[ALL_FERTILE] else d_shared[S_MATED]
    slopes[SEEN], slopes[WARM_THRESHOLD] = d_shared[S_SEEN], d_shared[S_THRESHOLD]
    put(d_z, slopes, starts[B_FOUNDING])
    for f in range(d_later.size):
        slopes[WARM_DAYS] += d_later[f] * warm[f]
    for f in range(d_shift.size):
        for kind in range(LEVELS):
            first = starts[B_LEVEL + kind]
            if starts[B_LEVEL + kind + 1] > first:
                slopes[first + int(levels[kind, f])] += d_shift[f]
        for j in range(starts[-1] - starts[B_COVARIATE]):
            slopes[starts[B_COVARIATE] + j] += d_shift[f] * x[f, j]
    return value, d_effects


@njit(cache=True, error_model="numpy")
def blocks_of(laid):  # type: ignore[no-untyped-def]  # compiled by numba
    """First place of each block of coordinates, as `places.blocks` has it."""
    starts = np.empty(BLOCKS + 1, np.int64)
    starts[0] = GENUS
    for i in range(BLOCKS):
        size = int(laid[H_SIZES + i])
        starts[i + 1] = starts[i] + (EFFECTS * (size - 1) if i == B_GENUS else size)
    return starts


@njit(cache=True, error_model="numpy", inline="always")
def log_density(q, laid):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log posterior density up to a constant, and its slope in every coordinate.

    Parameters
    ----------
    q : float array, shape (coordinates,)
    laid : float array
        Head (see `places`), then ``told``, ``pull``, ``centre`` and ``scale`` (coordinates each),
        contrasts and shares (see `genera`), levels (LEVELS x foundings, places in their blocks),
        covariates (foundings x covariates), degrees of each founding's shelf above the mean, and
        the study as `assembly.in_one` lays it. ``centre`` and ``scale`` are the middle and spread
        of a normal prior; the two numbers of the beta prior of `MATED`; mean and SD of the prior of
        a mean of genera. They are not read for what is eased.

    Returns
    -------
    float, float array of shape (coordinates,)
        Minus infinity where a slope is no number: a sampler takes that for a step gone astray.
    """
    starts, slopes = blocks_of(laid), np.zeros(q.size)
    parts = parts_of(laid)
    centre, scale = parts[CENTRE], parts[SCALE]
    p, effects = parameters(q, laid, starts)
    value, d_effects = likelihood(p, effects, slopes, laid, starts)
    value += shared_priors(q, p, laid, slopes)
    value += genus_priors(p, d_effects, laid, slopes)
    value += eased_priors(q, p, laid, starts, slopes)
    for i in range(starts[B_COVARIATE], starts[-1]):
        u = (q[i] - centre[i]) / scale[i]
        value -= 0.5 * u * u
        slopes[i] -= u / scale[i]
    for i in range(q.size):
        if not math.isfinite(slopes[i]):
            return -math.inf, slopes
    return value, slopes


@njit(cache=True, error_model="numpy")
def each(draws, laid):  # type: ignore[no-untyped-def]  # compiled by numba
    """`parameters` of every draw; shapes (draws, coordinates) and (draws, EFFECTS, genera)."""
    starts = blocks_of(laid)
    out = np.empty_like(draws)
    effects = np.empty((draws.shape[0], EFFECTS, int(laid[H_SIZES])))
    for i in range(draws.shape[0]):
        p, own = parameters(draws[i], laid, starts)
        put(p, out[i], 0)
        for e in range(own.shape[0]):
            put(own[e], effects[i, e], 0)
    return out, effects


def density_c(width, q_, slopes_, value_, laid_):  # type: ignore[no-untyped-def]  # compiled by numba
    """The density as the sampler calls it, see `by_address.DENSITY`."""
    total = int(carray(laid_, (1,), np.float64)[0])
    laid = carray(laid_, (total,), np.float64)
    value, slopes = log_density(carray(q_, (width,)), laid)
    return handed(width, value, slopes, slopes_, value_)
