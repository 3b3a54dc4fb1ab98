"""What moves single foundings: levels they share with others, and coefficients of numbers.

Comes in: parameters at a vector, and what `density.log_density` reads. Goes out: what is added to
each part of each founding's parameters, and the gradient back. Never: a name of a level or a
covariate.

Two tables say it. A row of the first is one kind of level (keeper, season) on one part: to it is
added the parameter of the founding's own level. A row of the second is one coefficient on one part:
to it is added the coefficient times a number of the founding. Levels and numbers follow the tables:
the level of each founding by kind of level, (groupings, foundings), and its numbers, (columns,
foundings).
"""

from __future__ import annotations

import numpy as np
from numba import njit

from cohort.likelihood.genera import end_of_pooling
from cohort.likelihood.layout import PARTS
from cohort.likelihood.packing import (
    BY,
    COORDINATE,
    H_BY_LEVEL,
    H_BY_SLOPE,
    H_COLUMNS,
    H_FOUNDINGS,
    H_GROUPINGS,
    OF,
    PART,
)


@njit(cache=True, error_model="numpy")
def tables_of(laid):  # type: ignore[no-untyped-def]  # compiled by numba
    """Both tables, the level of each founding, its numbers, and the study that follows."""
    foundings, start = int(laid[H_FOUNDINGS]), end_of_pooling(laid)
    end = start + int(laid[H_BY_LEVEL]) * BY
    by_level = laid[start:end].reshape((int(laid[H_BY_LEVEL]), BY))
    start, end = end, end + int(laid[H_BY_SLOPE]) * BY
    by_slope = laid[start:end].reshape((int(laid[H_BY_SLOPE]), BY))
    start, end = end, end + int(laid[H_GROUPINGS]) * foundings
    level = laid[start:end].reshape((int(laid[H_GROUPINGS]), foundings))
    start, end = end, end + int(laid[H_COLUMNS]) * foundings
    number = laid[start:end].reshape((int(laid[H_COLUMNS]), foundings))
    return by_level, by_slope, level, number, laid[end:]


@njit(cache=True, error_model="numpy")
def added(p, by_level, by_slope, level, number):  # type: ignore[no-untyped-def]  # compiled by numba
    """What is added to each part of each founding, (PARTS, foundings); (PARTS, 0) if nothing is."""
    if by_level.shape[0] + by_slope.shape[0] == 0:
        return np.zeros((PARTS, 0))
    out = np.zeros((PARTS, level.shape[1]))
    for r in range(by_level.shape[0]):
        first, of, part = int(by_level[r, COORDINATE]), int(by_level[r, OF]), int(by_level[r, PART])
        for f in range(out.shape[1]):
            out[part, f] += p[first + int(level[of, f])]
    for r in range(by_slope.shape[0]):
        slope, of, part = p[int(by_slope[r, COORDINATE])], int(by_slope[r, OF]), by_slope[r, PART]
        for f in range(out.shape[1]):
            out[int(part), f] += slope * number[of, f]
    return out


@njit(cache=True, error_model="numpy")
def spread_added(d_added, by_level, by_slope, level, number, gradient):  # type: ignore[no-untyped-def]  # compiled by numba
    """Carry gradient in what is added back to the parameters; see `added`."""
    for r in range(by_level.shape[0]):
        first, of, part = int(by_level[r, COORDINATE]), int(by_level[r, OF]), int(by_level[r, PART])
        for f in range(d_added.shape[1]):
            gradient[first + int(level[of, f])] += d_added[part, f]
    for r in range(by_slope.shape[0]):
        place, of, part = int(by_slope[r, COORDINATE]), int(by_slope[r, OF]), int(by_slope[r, PART])
        for f in range(d_added.shape[1]):
            gradient[place] += d_added[part, f] * number[of, f]
