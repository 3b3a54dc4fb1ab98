"""Effects of genera: a mean and contrasts between them, and their priors.

Comes in: a vector of coordinates, and what `density.log_density` reads. Goes out: effects by genus,
their log prior density, slopes. Never: a likelihood.

An effect of a genus is the mean over the study's genera plus a deviation, and the deviations sum to
zero. So G genera deviate in G - 1 ways: SD x contrasts, standard normals each, turned into
deviations by orthogonal columns that sum to zero (any such columns give one prior). Columns along
which the data tell independently, and the information along each, come with the study
(`cohort.model.contrasts`).

Means are walked moved by other parameters, shifts that change no prior: by a share of the ratio,
since losses in company tell of lone hazard + ratio and not of each (``lean``; so too for the day of
the first worker), and by each deviation as far as that genus tells of the mean (``share``).
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from cohort.transitions.eased import ease, ease_back
from cohort.transitions.layout import (
    E_BOTH,
    E_HAZARD1,
    E_HAZARD2,
    E_LOG_DAY,
    E_RIVALRY,
    E_TOGETHER,
    EFFECTS,
)
from cohort.transitions.places import (
    CENTRE,
    GENUS,
    GENUS_MEAN,
    GENUS_SD,
    H_LEAN,
    H_SIZES,
    H_SWITCHES,
    H_WIDTH,
    HEAD,
    MULTI_DAYS,
    PARTS,
    POOLED_FIGHT,
    PULL,
    SCALE,
    SIZE_STEP,
    TOLD,
)


@njit(cache=True, error_model="numpy")
def parts_of(laid):  # type: ignore[no-untyped-def]  # compiled by numba
    """`TOLD`, `PULL`, `CENTRE` and `SCALE` of every coordinate, shape (PARTS, coordinates)."""
    width = int(laid[H_WIDTH])
    return laid[HEAD : HEAD + PARTS * width].reshape((PARTS, width))


@njit(cache=True, error_model="numpy")
def pooling_of(laid):  # type: ignore[no-untyped-def]  # compiled by numba
    """Columns of the contrasts, (EFFECTS, genera, genera - 1), and shares, (EFFECTS, genera)."""
    genera, start = int(laid[H_SIZES]), HEAD + PARTS * int(laid[H_WIDTH])
    end = start + EFFECTS * genera * (genera - 1)
    columns = laid[start:end].reshape((EFFECTS, genera, genera - 1))
    return columns, laid[end : end + EFFECTS * genera].reshape((EFFECTS, genera))


@njit(cache=True, error_model="numpy")
def end_of_pooling(laid):  # type: ignore[no-untyped-def]  # compiled by numba
    """Where the numbers of `pooling_of` end."""
    genera = int(laid[H_SIZES])
    return HEAD + PARTS * int(laid[H_WIDTH]) + EFFECTS * genera * genera


@njit(cache=True, error_model="numpy")
def spread_of(p, effect, laid):  # type: ignore[no-untyped-def]  # compiled by numba
    """SD between genera of an effect, with its sign; 0 where genera are not told apart."""
    if effect == E_BOTH and laid[H_SWITCHES + POOLED_FIGHT]:
        return 0.0
    return p[GENUS_SD + effect]


@njit(cache=True, error_model="numpy", inline="always")
def genus_effects(q, p, laid):  # type: ignore[no-untyped-def]  # compiled by numba
    """Effects by genus, (EFFECTS, genera); means and contrasts at q are written to ``p``."""
    columns, share = pooling_of(laid)
    parts, lean, genera = parts_of(laid), laid[H_LEAN:], share.shape[1]
    told, pull = parts[TOLD], parts[PULL]
    p[GENUS_MEAN + E_TOGETHER] -= lean[0] * q[SIZE_STEP]
    p[GENUS_MEAN + E_HAZARD1] -= lean[1] * q[GENUS_MEAN + E_TOGETHER]
    p[GENUS_MEAN + E_HAZARD2] -= lean[2] * q[GENUS_MEAN + E_RIVALRY]
    p[GENUS_MEAN + E_LOG_DAY] -= lean[3] * q[MULTI_DAYS]
    effects = np.zeros((EFFECTS, genera))
    for e in range(EFFECTS):
        sd, first = spread_of(p, e, laid), GENUS + e * (genera - 1)
        for j in range(genera - 1):
            p[first + j] = ease(q[first + j], sd, told[first + j], pull[first + j])
        for g in range(genera):
            for j in range(genera - 1):
                effects[e, g] += sd * columns[e, g, j] * p[first + j]
        for g in range(genera):
            p[GENUS_MEAN + e] -= share[e, g] * effects[e, g]
        for g in range(genera):
            effects[e, g] += p[GENUS_MEAN + e]
    return effects


@njit(cache=True, error_model="numpy", inline="always")
def genus_priors(p, d_effects, laid, slopes):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log prior density of means and contrasts; slopes of their coordinates go to ``slopes``.

    ``d_effects`` are the slopes of all else in the effects by genus.
    """
    columns, share = pooling_of(laid)
    parts, lean, genera = parts_of(laid), laid[H_LEAN:], share.shape[1]
    told, pull, centre, scale = parts[TOLD], parts[PULL], parts[CENTRE], parts[SCALE]
    value = 0.0
    in_mean = np.zeros(EFFECTS)
    for e in range(EFFECTS):
        at, sd, first = GENUS_MEAN + e, spread_of(p, e, laid), GENUS + e * (genera - 1)
        wide = math.sqrt(scale[at] * scale[at] + sd * sd / genera)
        u = (p[at] - centre[at]) / wide
        value -= math.log(wide) + 0.5 * u * u
        in_mean[e] = -u / wide
        for g in range(genera):
            in_mean[e] += d_effects[e, g]
        in_sd = (u * u - 1.0) / wide * sd / (genera * wide)
        for j in range(genera - 1):
            along, w = 0.0, p[first + j]
            for g in range(genera):
                along += columns[e, g, j] * (d_effects[e, g] - share[e, g] * in_mean[e])
            in_sd += along * w
            add, slopes[first + j], more = ease_back(
                w, sd * along, sd, told[first + j], pull[first + j]
            )
            value += add
            in_sd += more
        if not (e == E_BOTH and laid[H_SWITCHES + POOLED_FIGHT]):
            slopes[GENUS_SD + e] += in_sd
    for e in range(EFFECTS):
        slopes[GENUS_MEAN + e] = in_mean[e]
    slopes[GENUS_MEAN + E_TOGETHER] -= lean[1] * in_mean[E_HAZARD1]
    slopes[GENUS_MEAN + E_RIVALRY] -= lean[2] * in_mean[E_HAZARD2]
    slopes[SIZE_STEP] -= lean[0] * in_mean[E_TOGETHER]
    slopes[MULTI_DAYS] -= lean[3] * in_mean[E_LOG_DAY]
    return value
