"""Effects of genera: a mean and contrasts between them, and their priors.

Comes in: a vector of coordinates, and what `density.log_density` reads. Goes out: effects by genus,
their log prior density, gradient. Never: a likelihood.

An effect of a genus is the mean over the study's genera plus a deviation, and the deviations sum to
zero. So G genera deviate in G - 1 ways: SD x contrasts, standard normals each, turned into
deviations by orthogonal columns that sum to zero (any such columns give one prior). Columns along
which the estimates are independent, and the information along each, come with the study
(`cohort.model.contrasts`).

The coordinates of means are shifted by other parameters, which changes no prior: by those of the
table of moves (`cohort.model.coordinates`), and by each deviation times the share of its genus in
the information on the mean (``share``).
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from cohort.likelihood import ONCE
from cohort.likelihood.layout import EFFECTS
from cohort.likelihood.noncentred import standard_normal, standard_normal_gradient
from cohort.likelihood.packing import (
    ACTIVE,
    AMOUNT,
    EFFECT,
    FIRST,
    H_GENERA,
    H_GENUS,
    H_MOVES,
    H_ROWS,
    H_TURNS,
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
def table_of(packed):  # type: ignore[no-untyped-def]  # compiled by numba
    """The table of parameters, (rows, ROW)."""
    rows = int(packed[H_ROWS])
    return packed[HEAD : HEAD + rows * ROW].reshape((rows, ROW))


@njit(cache=True, error_model="numpy")
def moves_of(packed):  # type: ignore[no-untyped-def]  # compiled by numba
    """The table of moves of means, (moves, MOVE)."""
    start, moves = HEAD + int(packed[H_ROWS]) * ROW, int(packed[H_MOVES])
    return packed[start : start + moves * MOVE].reshape((moves, MOVE))


def noncentring(packed):  # type: ignore[no-untyped-def]  # compiled by numba
    """Information and score of every coordinate, shape (2, coordinates); see `noncentred`."""
    start, width = (
        HEAD + int(packed[H_ROWS]) * ROW + int(packed[H_MOVES]) * MOVE,
        int(packed[H_WIDTH]),
    )
    return packed[start : start + 2 * width].reshape((2, width))


noncentring_of = njit(cache=True, error_model="numpy")(noncentring)
"""`noncentring` for compiled code; Python takes the one above, which need not be compiled."""


@njit(cache=True, error_model="numpy")
def end_of_noncentring(packed):  # type: ignore[no-untyped-def]  # compiled by numba
    """Where the numbers of `noncentring_of` end."""
    tables = int(packed[H_ROWS]) * ROW + int(packed[H_MOVES]) * MOVE
    return HEAD + tables + 2 * int(packed[H_WIDTH])


@njit(cache=True, error_model="numpy")
def pooling_of(packed):  # type: ignore[no-untyped-def]  # compiled by numba
    """Columns of the contrasts, (EFFECTS, genera, genera - 1), and shares, (EFFECTS, genera)."""
    genera, start = int(packed[H_GENERA]), end_of_noncentring(packed)
    end = start + EFFECTS * genera * (genera - 1)
    columns = packed[start:end].reshape((EFFECTS, genera, genera - 1))
    return columns, packed[end : end + EFFECTS * genera].reshape((EFFECTS, genera))


@njit(cache=True, error_model="numpy")
def end_of_pooling(packed):  # type: ignore[no-untyped-def]  # compiled by numba
    """Where the numbers of `pooling_of`, and the turns of levels that follow, end."""
    genera = int(packed[H_GENERA])
    return end_of_noncentring(packed) + EFFECTS * genera * genera + int(packed[H_TURNS])


@njit(cache=True, error_model="numpy")
def spread_of(p, row):  # type: ignore[no-untyped-def]  # compiled by numba
    """SD between genera of the effect of a row, with its sign; 0 where they are not told apart."""
    return p[int(row[SD])] if row[ACTIVE] else 0.0


@njit(**ONCE)
def genus_effects(q, p, packed):  # type: ignore[no-untyped-def]  # compiled by numba
    """Effects by genus, (EFFECTS, genera); means and contrasts at q are written to ``p``."""
    columns, share = pooling_of(packed)
    rows, moves, genera = table_of(packed)[int(packed[H_GENUS]) :], moves_of(packed), share.shape[1]
    information, score = noncentring_of(packed)
    for m in range(moves.shape[0]):
        source = int(moves[m, SOURCE])
        p[int(moves[m, TARGET])] -= moves[m, AMOUNT] * (p if moves[m, EFFECT] else q)[source]
    effects = np.zeros((EFFECTS, genera))
    for e in range(EFFECTS):
        sd, first, mean = spread_of(p, rows[e]), int(rows[e, FIRST]), int(rows[e, MEAN])
        for j in range(genera - 1):
            p[first + j] = standard_normal(
                q[first + j], sd, information[first + j], score[first + j]
            )
        for g in range(genera):
            for j in range(genera - 1):
                effects[e, g] += sd * columns[e, g, j] * p[first + j]
        for g in range(genera):
            p[mean] -= share[e, g] * effects[e, g]
        for g in range(genera):
            effects[e, g] += p[mean]
    return effects


@njit(**ONCE)
def genus_priors(p, d_effects, packed, gradient):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log prior density of means and contrasts; that in their coordinates goes to ``gradient``.

    ``d_effects`` is the gradient of all else in the effects by genus.
    """
    columns, share = pooling_of(packed)
    rows, moves, genera = table_of(packed)[int(packed[H_GENUS]) :], moves_of(packed), share.shape[1]
    information, score = noncentring_of(packed)
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
            add, gradient[first + j], more = standard_normal_gradient(
                w, sd * along, sd, information[first + j], score[first + j]
            )
            value += add
            in_sd += more
        gradient[at] = in_mean
        if rows[e, ACTIVE]:
            gradient[int(rows[e, SD])] += in_sd
    by_mean = np.empty(moves.shape[0])  # before any of them is moved
    for m in range(moves.shape[0]):
        by_mean[m] = gradient[int(moves[m, TARGET])]
    for m in range(moves.shape[0]):
        gradient[int(moves[m, SOURCE])] -= moves[m, AMOUNT] * by_mean[m]
    return value
