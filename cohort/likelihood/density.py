"""Density of the founding model in the coordinates of the sampler, with its gradient.

Comes in: a vector laid out by `packing`, priors and what a study tells at the same places, and the
packed study. Goes out: the log density up to a constant with a derivative for every coordinate, and
the parameters at a vector. Never: a study's own likelihood (`assembly`), a name.

Three things are done for the sampler, neither of which changes the model:

* an SD is sampled with a sign, Normal(0, scale). Its absolute value is half-normal, and turning its
  sign together with that of the standard normals it multiplies changes nothing. So the sampler
  passes nought without noticing, where a log SD has a long tail to creep along;
* in place of a standard normal that an SD multiplies, its non-centred coordinate is sampled
  (`noncentred`);
* in large studies an SD is stretched: near nought it is sampled as it is, far from it as its log,
  for what the data say of it falls off like a power (`cohort.model.coordinates`).

The effects of genera have a room of their own (`genera`), and so has what moves single foundings
(`moved`).

`cohort.model.graph` says the same model in PyMC; a test holds both against each other.
"""

from __future__ import annotations

import math

import numpy as np
from numba import carray, njit  # type: ignore[attr-defined]  # carray is untyped

from cohort.likelihood import BORROWS, ONCE
from cohort.likelihood.assembly import in_steps, log_paces, study_by_genus, tables
from cohort.likelihood.callbacks import handed
from cohort.likelihood.genera import (
    genus_effects,
    genus_priors,
    noncentring_of,
    table_of,
)
from cohort.likelihood.layout import EFFECTS, S_LASTING, SHARED_WIDTH
from cohort.likelihood.moved import added, spread_added, tables_of
from cohort.likelihood.noncentred import standard_normal, standard_normal_gradient
from cohort.likelihood.packing import (
    AT_FRAILTY,
    AT_WALK,
    AT_WALK_SD,
    CUT_NORMAL,
    FAMILY,
    FIRST,
    FIXED,
    H_COEFFICIENTS,
    H_FOUNDINGS,
    H_GENERA,
    H_GENUS,
    H_LASTING,
    H_MULTIPLIED,
    HIGH,
    LENGTH,
    LEVEL,
    LOG_NORMAL,
    LOGIT_BETA,
    LOW,
    MULTIPLIED,
    RATE,
    SD,
    SHARED,
    STEPS,
    STRETCHED,
    TURN,
    VALUE,
    A,
    B,
)


@njit(cache=True, error_model="numpy")
def logistic(x):  # type: ignore[no-untyped-def]  # compiled by numba
    """A share from its logit."""
    return 1.0 / (1.0 + math.exp(-x))


@njit(cache=True, error_model="numpy")
def turned(p, row, packed, sd):  # type: ignore[no-untyped-def]  # compiled by numba
    """Turn independent normals in their place in ``p``, if they are turned, and times an SD."""
    first, count, turn = int(row[FIRST]), int(row[LENGTH]), int(row[TURN])
    plain = p[first : first + count].copy()
    for k in range(count):
        p[first + k] = sd * plain[k] if turn < 0 else 0.0
        for j in range(count if turn >= 0 else 0):
            p[first + k] += sd * packed[turn + k * count + j] * plain[j]


@njit(cache=True, error_model="numpy")
def parameters(q, packed):  # type: ignore[no-untyped-def]  # compiled by numba
    """Parameters at a vector of coordinates, each in the same place, and the effects of genera.

    Parameters
    ----------
    q : float array, shape (coordinates,)
    packed : float array
        See `log_density`.

    Returns
    -------
    float array, shape (coordinates,), and float array, shape (EFFECTS, genera)
        SDs keep their signs. Contrasts, steps and foundings are standard normals, levels effects.
    """
    p, rows = q.copy(), table_of(packed)
    information, score = noncentring_of(packed)
    for r in range(rows.shape[0]):
        family, first = rows[r, FAMILY], int(rows[r, FIRST])
        for i in range(first, first + int(rows[r, LENGTH])):
            if family == LOG_NORMAL:
                p[i] = math.exp(q[i])
            elif family == LOGIT_BETA:
                p[i] = logistic(q[i])
            elif family == CUT_NORMAL:
                p[i] = rows[r, LOW] + (rows[r, HIGH] - rows[r, LOW]) * logistic(q[i])
            elif family == STRETCHED:
                p[i] = math.sinh(rows[r, RATE] * q[i]) / rows[r, RATE]
            elif family in (MULTIPLIED, LEVEL):
                p[i] = standard_normal(q[i], p[int(rows[r, SD])], information[i], score[i])
        if family == LEVEL or rows[r, TURN] >= 0:
            turned(p, rows[r], packed, p[int(rows[r, SD])] if family == LEVEL else 1.0)
    return p, genus_effects(q, p, packed)


@njit(**BORROWS)
def simple_priors(q, p, rows, first, last, gradient):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log prior density of rows of the table that no SD multiplies; ``gradient`` is added to.

    ``gradient`` holds that of the likelihood in the parameters; those of the coordinates
    that are logs or logits leave it.
    """
    value = 0.0
    for r in range(first, last):
        family, a, b = rows[r, FAMILY], rows[r, A], rows[r, B]
        for i in range(int(rows[r, FIRST]), int(rows[r, FIRST] + rows[r, LENGTH])):
            if family == LOGIT_BETA:  # and what the logit stretches
                value -= a * math.log1p(math.exp(-q[i])) + b * math.log1p(math.exp(q[i]))
                gradient[i] = gradient[i] * p[i] * (1.0 - p[i]) + a * (1.0 - p[i]) - b * p[i]
            elif family == CUT_NORMAL:
                part, u = logistic(q[i]), (p[i] - a) / b
                value -= 0.5 * u * u + math.log1p(math.exp(-q[i])) + math.log1p(math.exp(q[i]))
                stretched = (rows[r, HIGH] - rows[r, LOW]) * part * (1.0 - part)
                gradient[i] = (gradient[i] - u / b) * stretched + 1.0 - 2.0 * part
            elif family != STRETCHED:
                if family == LOG_NORMAL:
                    gradient[i] *= p[i]
                u = (q[i] - a) / b
                value -= 0.5 * u * u
                gradient[i] -= u / b
    return value


@njit(**ONCE)
def stretched_priors(q, p, packed, gradient):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log prior density of stretched SDs; the gradient in each, whole by now, in its coordinate."""
    value, rows = 0.0, table_of(packed)
    for r in range(int(packed[H_GENUS])):
        if rows[r, FAMILY] == STRETCHED:
            rate, scale = rows[r, RATE], rows[r, B]
            for i in range(int(rows[r, FIRST]), int(rows[r, FIRST] + rows[r, LENGTH])):
                grown, u = math.cosh(rate * q[i]), p[i] / scale
                value += math.log(grown) - 0.5 * u * u
                gradient[i] = (gradient[i] - u / scale) * grown + rate * rate * p[i] / grown
    return value


@njit(**ONCE)
def multiplied_priors(q, p, packed, gradient):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log prior density of steps, foundings and levels; ``gradient`` turned into coordinates'."""
    value, rows = 0.0, table_of(packed)
    information, score = noncentring_of(packed)
    for r in range(int(packed[H_MULTIPLIED]), int(packed[H_COEFFICIENTS])):
        of, first, count = int(rows[r, SD]), int(rows[r, FIRST]), int(rows[r, LENGTH])
        turn, level = int(rows[r, TURN]), rows[r, FAMILY] == LEVEL
        by_effect = gradient[first : first + (count if level or turn >= 0 else 0)].copy()
        for i in range(first, first + count):
            w, in_w = p[i], gradient[i]
            if level or turn >= 0:
                w = standard_normal(q[i], p[of], information[i], score[i])
            if turn >= 0:
                in_w = 0.0
                for k in range(count):
                    in_w += packed[turn + k * count + i - first] * by_effect[k]
            if level:
                gradient[of] += w * in_w
                in_w *= p[of]
            add, gradient[i], more = standard_normal_gradient(
                w, in_w, p[of], information[i], score[i]
            )
            value += add
            gradient[of] += more
    return value


@njit(**BORROWS)
def put(values, into, first):  # type: ignore[no-untyped-def]  # compiled by numba
    """Copy values to a place; for array to array numba would compile an error text."""
    for i in range(values.size):
        into[first + i] = values[i]


@njit(**BORROWS)
def shared_by_all(p, packed, steps, shared):  # type: ignore[no-untyped-def]  # compiled by numba
    """Fill what all foundings share (`layout`) from the parameters; see `spread_shared`."""
    rows, walk, sds = table_of(packed), int(packed[AT_WALK]), int(packed[AT_WALK_SD])
    log_paces(p[walk : walk + STEPS], p[sds : sds + 2], steps, shared)
    shared[S_LASTING] = packed[H_LASTING]
    for r in range(rows.shape[0]):
        if rows[r, SHARED] >= 0.0:
            value = rows[r, VALUE] if rows[r, FIXED] else p[int(rows[r, FIRST])]
            shared[int(rows[r, SHARED])] = value


@njit(**BORROWS)
def spread_shared(p, packed, steps, d_shared, gradient):  # type: ignore[no-untyped-def]  # compiled by numba
    """Carry gradient in what all foundings share back to the parameters; see `shared_by_all`."""
    rows, walk, sds = table_of(packed), int(packed[AT_WALK]), int(packed[AT_WALK_SD])
    in_steps(
        p[walk : walk + STEPS], p[sds : sds + 2], steps, d_shared,
        gradient[walk : walk + STEPS], gradient[sds : sds + 2],
    )  # fmt: skip
    for r in range(rows.shape[0]):
        if rows[r, SHARED] >= 0.0 and not rows[r, FIXED]:
            gradient[int(rows[r, FIRST])] = d_shared[int(rows[r, SHARED])]


@njit(**ONCE)
def likelihood(p, effects, gradient, packed):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log-likelihood and its gradient in the effects of genera; that in ``p`` is added."""
    foundings, first = int(packed[H_FOUNDINGS]), int(packed[AT_FRAILTY])
    rows, effects = table_of(packed)[int(packed[H_GENUS]) :], effects.copy()
    by_level, by_slope, level, number, study = tables_of(packed)
    for e in range(EFFECTS):
        if rows[e, FIXED]:
            effects[e] = rows[e, VALUE]
    steps, shared = tables(study)[1], np.zeros(SHARED_WIDTH)
    shared_by_all(p, packed, steps, shared)
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
    spread_shared(p, packed, steps, d_shared, gradient)
    put(d_z, gradient, first)
    spread_added(d_added, by_level, by_slope, level, number, gradient)
    return value, d_effects


@njit(**ONCE)
def log_density(q, packed):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log posterior density up to a constant, and its derivative in every coordinate.

    Parameters
    ----------
    q : float array, shape (coordinates,)
    packed : float array
        See `packing`.

    Returns
    -------
    float, float array of shape (coordinates,)
        Minus infinity where a derivative is no number: a sampler takes that for a divergent step.
    """
    gradient, rows = np.zeros(q.size), table_of(packed)
    p, effects = parameters(q, packed)
    value, d_effects = likelihood(p, effects, gradient, packed)
    value += simple_priors(q, p, rows, 0, int(packed[H_GENUS]), gradient)
    value += genus_priors(p, d_effects, packed, gradient)
    value += multiplied_priors(q, p, packed, gradient)
    value += simple_priors(q, p, rows, int(packed[H_COEFFICIENTS]), rows.shape[0], gradient)
    value += stretched_priors(q, p, packed, gradient)
    for i in range(q.size):
        if not math.isfinite(gradient[i]):
            return -math.inf, gradient
    return value, gradient


@njit(cache=True, error_model="numpy")
def each(draws, packed):  # type: ignore[no-untyped-def]  # compiled by numba
    """`parameters` of every draw; shapes (draws, coordinates) and (draws, EFFECTS, genera)."""
    out = np.empty_like(draws)
    effects = np.empty((draws.shape[0], EFFECTS, int(packed[H_GENERA])))
    for i in range(draws.shape[0]):
        p, own = parameters(draws[i], packed)
        put(p, out[i], 0)
        for e in range(own.shape[0]):
            put(own[e], effects[i, e], 0)
    return out, effects


def density_c(width, q_, gradient_, value_, packed_):  # type: ignore[no-untyped-def]  # compiled by numba
    """The density as the sampler calls it, see `callbacks.DENSITY`."""
    total = int(carray(packed_, (1,), np.float64)[0])
    packed = carray(packed_, (total,), np.float64)
    value, gradient = log_density(carray(q_, (width,)), packed)
    return handed(width, value, gradient, gradient_, value_)
