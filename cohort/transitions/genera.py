"""Effects of genera: a mean and contrasts between them, and their priors.

Comes in: a vector of coordinates, and what `density.log_density` reads. Goes out: effects by genus,
their log prior density, slopes. Never: a likelihood.

An effect of a genus is the mean over the study's genera plus a deviation, and the deviations sum to
zero. So G genera deviate in G - 1 ways: SD x contrasts, standard normals each, turned into
deviations by orthogonal columns that sum to zero (any such columns give one prior). Columns along
which the data tell independently, and the information along each, come with the study
(`cohort.model.contrasts`).

Means are walked moved by other parameters, shifts that change no prior: by a share of the ratio,
since losses in company tell of lone hazard + ratio and not of each (the table of moves; so too for
the day of the first worker), and by each deviation as far as that genus tells of the mean
(``share``).
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from cohort.transitions.eased import ease, ease_back
from cohort.transitions.layout import EFFECTS
from cohort.transitions.places import (
    ACTIVE,
    AMOUNT,
    FIRST,
    H_GENERA,
    H_GENUS,
    H_MOVES,
    H_ROWS,
    H_WIDTH,
    HEAD,
    MEAN,
    MOVE,
    ROW,
    SD,
    SOURCE,
    TARGET,
    A,
    B,
)


@njit(cache=True, error_model="numpy")
def table_of(laid):  # type: ignore[no-untyped-def]  # compiled by numba
    """The table of parameters, (rows, ROW)."""
    rows = int(laid[H_ROWS])
    return laid[HEAD : HEAD + rows * ROW].reshape((rows, ROW))


@njit(cache=True, error_model="numpy")
def moves_of(laid):  # type: ignore[no-untyped-def]  # compiled by numba
    """The table of moves of means, (moves, MOVE)."""
    start, moves = HEAD + int(laid[H_ROWS]) * ROW, int(laid[H_MOVES])
    return laid[start : start + moves * MOVE].reshape((moves, MOVE))


@njit(cache=True, error_model="numpy")
def eased_of(laid):  # type: ignore[no-untyped-def]  # compiled by numba
    """Information and pull of every coordinate, shape (2, coordinates); see `eased`."""
    start, width = HEAD + int(laid[H_ROWS]) * ROW + int(laid[H_MOVES]) * MOVE, int(laid[H_WIDTH])
    return laid[start : start + 2 * width].reshape((2, width))


@njit(cache=True, error_model="numpy")
def end_of_eased(laid):  # type: ignore[no-untyped-def]  # compiled by numba
    """Where the numbers of `eased_of` end."""
    tables = int(laid[H_ROWS]) * ROW + int(laid[H_MOVES]) * MOVE
    return HEAD + tables + 2 * int(laid[H_WIDTH])


@njit(cache=True, error_model="numpy")
def pooling_of(laid):  # type: ignore[no-untyped-def]  # compiled by numba
    """Columns of the contrasts, (EFFECTS, genera, genera - 1), and shares, (EFFECTS, genera)."""
    genera, start = int(laid[H_GENERA]), end_of_eased(laid)
    end = start + EFFECTS * genera * (genera - 1)
    columns = laid[start:end].reshape((EFFECTS, genera, genera - 1))
    return columns, laid[end : end + EFFECTS * genera].reshape((EFFECTS, genera))


@njit(cache=True, error_model="numpy")
def end_of_pooling(laid):  # type: ignore[no-untyped-def]  # compiled by numba
    """Where the numbers of `pooling_of` end."""
    genera = int(laid[H_GENERA])
    return end_of_eased(laid) + EFFECTS * genera * genera


@njit(cache=True, error_model="numpy")
def spread_of(p, row):  # type: ignore[no-untyped-def]  # compiled by numba
    """SD between genera of the effect of a row, with its sign; 0 where they are not told apart."""
    return p[int(row[SD])] if row[ACTIVE] else 0.0


@njit(cache=True, error_model="numpy", inline="always")
def genus_effects(q, p, laid):  # type: ignore[no-untyped-def]  # compiled by numba
    """Effects by genus, (EFFECTS, genera); means and contrasts at q are written to ``p``."""
    columns, share = pooling_of(laid)
    rows, moves, genera = table_of(laid)[int(laid[H_GENUS]) :], moves_of(laid), share.shape[1]
    told, pull = eased_of(laid)
    for m in range(moves.shape[0]):
        p[int(moves[m, TARGET])] -= moves[m, AMOUNT] * q[int(moves[m, SOURCE])]
    effects = np.zeros((EFFECTS, genera))
    for e in range(EFFECTS):
        sd, first, mean = spread_of(p, rows[e]), int(rows[e, FIRST]), int(rows[e, MEAN])
        for j in range(genera - 1):
            p[first + j] = ease(q[first + j], sd, told[first + j], pull[first + j])
        for g in range(genera):
            for j in range(genera - 1):
                effects[e, g] += sd * columns[e, g, j] * p[first + j]
        for g in range(genera):
            p[mean] -= share[e, g] * effects[e, g]
        for g in range(genera):
            effects[e, g] += p[mean]
    return effects


@njit(cache=True, error_model="numpy", inline="always")
def genus_priors(p, d_effects, laid, slopes):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log prior density of means and contrasts; slopes of their coordinates go to ``slopes``.

    ``d_effects`` are the slopes of all else in the effects by genus.
    """
    columns, share = pooling_of(laid)
    rows, moves, genera = table_of(laid)[int(laid[H_GENUS]) :], moves_of(laid), share.shape[1]
    told, pull = eased_of(laid)
    value = 0.0
    for e in range(EFFECTS):
        at, sd, first = int(rows[e, MEAN]), spread_of(p, rows[e]), int(rows[e, FIRST])
        wide = math.sqrt(rows[e, B] * rows[e, B] + sd * sd / genera)
        u = (p[at] - rows[e, A]) / wide
        value -= math.log(wide) + 0.5 * u * u
        in_mean = -u / wide
        for g in range(genera):
            in_mean += d_effects[e, g]
        in_sd = (u * u - 1.0) / wide * sd / (genera * wide)
        for j in range(genera - 1):
            along, w = 0.0, p[first + j]
            for g in range(genera):
                along += columns[e, g, j] * (d_effects[e, g] - share[e, g] * in_mean)
            in_sd += along * w
            add, slopes[first + j], more = ease_back(
                w, sd * along, sd, told[first + j], pull[first + j]
            )
            value += add
            in_sd += more
        slopes[at] = in_mean
        if rows[e, ACTIVE]:
            slopes[int(rows[e, SD])] += in_sd
    by_mean = np.empty(moves.shape[0])  # before any of them is moved
    for m in range(moves.shape[0]):
        by_mean[m] = slopes[int(moves[m, TARGET])]
    for m in range(moves.shape[0]):
        slopes[int(moves[m, SOURCE])] -= moves[m, AMOUNT] * by_mean[m]
    return value
