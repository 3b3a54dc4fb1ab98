"""Density of the founding model in the coordinates of the sampler, with its slopes.

Comes in: a vector laid out by `places`, priors and what a study tells at the same places, and the
packed study. Goes out: the log density up to a constant with a slope for every coordinate, and the
parameters at a vector. Never: a study's own likelihood (`assembly`), a name.

Two things are done for the sampler, neither of which changes the model:

* an SD is walked with a sign, Normal(0, scale). Its absolute value is half-normal, and turning its
  sign together with that of the standard normals it multiplies changes nothing. So the sampler
  passes nought without noticing, where a log SD has a long tail to creep along;
* in place of a standard normal that an SD multiplies, its eased coordinate is walked (`eased`).

The effects of genera have a room of their own (`genera`), and so has what moves single foundings
(`moved`).

`cohort.model.graph` says the same model in PyMC; a test holds both against each other.
"""

from __future__ import annotations

import math

import numpy as np
from numba import carray, njit  # type: ignore[attr-defined]  # carray is untyped

from cohort.transitions import BORROWS
from cohort.transitions.assembly import in_steps, log_paces, study_by_genus, tables
from cohort.transitions.by_address import handed
from cohort.transitions.eased import ease, ease_back
from cohort.transitions.genera import (
    eased_of,
    genus_effects,
    genus_priors,
    table_of,
)
from cohort.transitions.layout import EFFECTS, S_LASTING, SHARED_WIDTH
from cohort.transitions.moved import added, spread_added, tables_of
from cohort.transitions.places import (
    AT_FRAILTY,
    AT_WALK,
    AT_WALK_SD,
    CUT_NORMAL,
    FAMILY,
    FIRST,
    FIXED,
    H_FOUNDINGS,
    H_GENERA,
    H_GENUS,
    H_LASTING,
    H_MULTIPLIED,
    H_SLOPES,
    HIGH,
    LENGTH,
    LEVEL,
    LOG_NORMAL,
    LOGIT_BETA,
    LOW,
    MULTIPLIED,
    SD,
    SHARED,
    STEPS,
    VALUE,
    A,
    B,
)


@njit(cache=True, error_model="numpy")
def logistic(x):  # type: ignore[no-untyped-def]  # compiled by numba
    """A share from its logit."""
    return 1.0 / (1.0 + math.exp(-x))


@njit(cache=True, error_model="numpy")
def parameters(q, laid):  # type: ignore[no-untyped-def]  # compiled by numba
    """Parameters at a vector of coordinates, each in the same place, and the effects of genera.

    Parameters
    ----------
    q : float array, shape (coordinates,)
    laid : float array
        See `log_density`.

    Returns
    -------
    float array, shape (coordinates,), and float array, shape (EFFECTS, genera)
        SDs keep their signs. Contrasts, steps and foundings are standard normals, levels effects.
    """
    p, rows = q.copy(), table_of(laid)
    told, pull = eased_of(laid)
    for r in range(rows.shape[0]):
        family, first = rows[r, FAMILY], int(rows[r, FIRST])
        for i in range(first, first + int(rows[r, LENGTH])):
            if family == LOG_NORMAL:
                p[i] = math.exp(q[i])
            elif family == LOGIT_BETA:
                p[i] = logistic(q[i])
            elif family == CUT_NORMAL:
                p[i] = rows[r, LOW] + (rows[r, HIGH] - rows[r, LOW]) * logistic(q[i])
            elif family in (MULTIPLIED, LEVEL):
                sd = p[int(rows[r, SD])]
                p[i] = ease(q[i], sd, told[i], pull[i])
                if family == LEVEL:
                    p[i] *= sd
    return p, genus_effects(q, p, laid)


@njit(**BORROWS)
def simple_priors(q, p, rows, first, last, slopes):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log prior density of rows of the table that no SD multiplies; ``slopes`` is added to.

    ``slopes`` holds the slopes of the likelihood in the parameters; those of the coordinates that
    are logs or logits leave it.
    """
    value = 0.0
    for r in range(first, last):
        family, a, b = rows[r, FAMILY], rows[r, A], rows[r, B]
        for i in range(int(rows[r, FIRST]), int(rows[r, FIRST] + rows[r, LENGTH])):
            if family == LOGIT_BETA:  # and what the logit stretches
                value -= a * math.log1p(math.exp(-q[i])) + b * math.log1p(math.exp(q[i]))
                slopes[i] = slopes[i] * p[i] * (1.0 - p[i]) + a * (1.0 - p[i]) - b * p[i]
            elif family == CUT_NORMAL:
                part, u = logistic(q[i]), (p[i] - a) / b
                value -= 0.5 * u * u + math.log1p(math.exp(-q[i])) + math.log1p(math.exp(q[i]))
                stretched = (rows[r, HIGH] - rows[r, LOW]) * part * (1.0 - part)
                slopes[i] = (slopes[i] - u / b) * stretched + 1.0 - 2.0 * part
            else:
                if family == LOG_NORMAL:
                    slopes[i] *= p[i]
                u = (q[i] - a) / b
                value -= 0.5 * u * u
                slopes[i] -= u / b
    return value


@njit(cache=True, error_model="numpy", inline="always")
def multiplied_priors(q, p, laid, slopes):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log prior density of steps, foundings and levels; ``slopes`` turned into coordinates'."""
    value, rows = 0.0, table_of(laid)
    told, pull = eased_of(laid)
    for r in range(int(laid[H_MULTIPLIED]), int(laid[H_SLOPES])):
        of, first = int(rows[r, SD]), int(rows[r, FIRST])
        for i in range(first, first + int(rows[r, LENGTH])):
            w, in_w = p[i], slopes[i]
            if rows[r, FAMILY] == LEVEL:
                w = ease(q[i], p[of], told[i], pull[i])
                slopes[of] += w * slopes[i]
                in_w = p[of] * slopes[i]
            add, slopes[i], more = ease_back(w, in_w, p[of], told[i], pull[i])
            value += add
            slopes[of] += more
    return value


@njit(**BORROWS)
def put(values, into, first):  # type: ignore[no-untyped-def]  # compiled by numba
    """Copy values to a place; for array to array numba would compile an error text."""
    for i in range(values.size):
        into[first + i] = values[i]


@njit(**BORROWS)
def shared_by_all(p, laid, steps, shared):  # type: ignore[no-untyped-def]  # compiled by numba
    """Fill what all foundings share (`layout`) from the parameters; see `spread_shared`."""
    rows, walk, sds = table_of(laid), int(laid[AT_WALK]), int(laid[AT_WALK_SD])
    log_paces(p[walk : walk + STEPS], p[sds : sds + 2], steps, shared)
    shared[S_LASTING] = laid[H_LASTING]
    for r in range(rows.shape[0]):
        if rows[r, SHARED] >= 0.0:
            value = rows[r, VALUE] if rows[r, FIXED] else p[int(rows[r, FIRST])]
            shared[int(rows[r, SHARED])] = value


@njit(**BORROWS)
def spread_shared(p, laid, steps, d_shared, slopes):  # type: ignore[no-untyped-def]  # compiled by numba
    """Carry slopes in what all foundings share back to the parameters; see `shared_by_all`."""
    rows, walk, sds = table_of(laid), int(laid[AT_WALK]), int(laid[AT_WALK_SD])
    in_steps(
        p[walk : walk + STEPS], p[sds : sds + 2], steps, d_shared,
        slopes[walk : walk + STEPS], slopes[sds : sds + 2],
    )  # fmt: skip
    for r in range(rows.shape[0]):
        if rows[r, SHARED] >= 0.0 and not rows[r, FIXED]:
            slopes[int(rows[r, FIRST])] = d_shared[int(rows[r, SHARED])]


@njit(cache=True, error_model="numpy", inline="always")
def likelihood(p, effects, slopes, laid):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log-likelihood, and its slopes in the effects of genera; those in ``p`` go to ``slopes``."""
    foundings, first = int(laid[H_FOUNDINGS]), int(laid[AT_FRAILTY])
    rows, effects = table_of(laid)[int(laid[H_GENUS]) :], effects.copy()
    by_level, by_slope, level, number, study = tables_of(laid)
    for e in range(EFFECTS):
        if rows[e, FIXED]:
            effects[e] = rows[e, VALUE]
    steps, shared = tables(study)[1], np.zeros(SHARED_WIDTH)
    shared_by_all(p, laid, steps, shared)
    value, d_effects, d_shared, d_added, d_z = study_by_genus(
        effects,
        shared,
        added(p, by_level, by_slope, level, number),
        p[first : first + foundings],
        study,
    )
    for e in range(EFFECTS):
        if rows[e, FIXED]:
            d_effects[e] = 0.0
    spread_shared(p, laid, steps, d_shared, slopes)
    put(d_z, slopes, first)
    spread_added(d_added, by_level, by_slope, level, number, slopes)
    return value, d_effects


@njit(cache=True, error_model="numpy", inline="always")
def log_density(q, laid):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log posterior density up to a constant, and its slope in every coordinate.

    Parameters
    ----------
    q : float array, shape (coordinates,)
    laid : float array
        See `places`.

    Returns
    -------
    float, float array of shape (coordinates,)
        Minus infinity where a slope is no number: a sampler takes that for a step gone astray.
    """
    slopes, rows = np.zeros(q.size), table_of(laid)
    p, effects = parameters(q, laid)
    value, d_effects = likelihood(p, effects, slopes, laid)
    value += simple_priors(q, p, rows, 0, int(laid[H_GENUS]), slopes)
    value += genus_priors(p, d_effects, laid, slopes)
    value += multiplied_priors(q, p, laid, slopes)
    value += simple_priors(q, p, rows, int(laid[H_SLOPES]), rows.shape[0], slopes)
    for i in range(q.size):
        if not math.isfinite(slopes[i]):
            return -math.inf, slopes
    return value, slopes


@njit(cache=True, error_model="numpy")
def each(draws, laid):  # type: ignore[no-untyped-def]  # compiled by numba
    """`parameters` of every draw; shapes (draws, coordinates) and (draws, EFFECTS, genera)."""
    out = np.empty_like(draws)
    effects = np.empty((draws.shape[0], EFFECTS, int(laid[H_GENERA])))
    for i in range(draws.shape[0]):
        p, own = parameters(draws[i], laid)
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
