"""Days on the warm clock of a founding: from a day to the log warmed day, and back.

Comes in: degree-days at a row of thresholds, as `layout` keeps them; or the lowest and highest of
every day. Goes out: the log warmed day at any threshold with its derivative, or the day on which a
warmed day is full. Never: a chance.

Between thresholds degree-days follow the cubic through values and derivatives at both ends. They
are all but straight in the threshold (quite so below the coldest hour), so the cubic is close; a
test states how close. Value and derivative belong to one curve.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from cohort.likelihood import BORROWS
from cohort.likelihood.layout import KNOT_STEP, KNOTS, LOW_KNOT, REFERENCE

STANDSTILL = 1e-4
"""Warmed days as long as nothing has been above the threshold, as in `cohort.warmth`."""
BEFORE_ALL = -700.0
"""Logs of days below this stand for day 0, on any clock."""


@njit(**BORROWS)
def warmed(table, at, plain, head, edge, threshold):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log warmed day of one edge, and its derivative in the threshold.

    Parameters
    ----------
    table : float array
        Records or nodes.
    at, plain, head, edge : int
        Row; columns of the log of the plain day, of the clock, and of the degree-days.
    threshold : float
        Beyond the thresholds kept, the nearest of them.
    """
    log_day = table[at, plain]
    if log_day < BEFORE_ALL:
        return log_day, 0.0
    step = table[at, head + KNOT_STEP]
    x = (threshold - table[at, head + LOW_KNOT]) / step
    inside = 1.0 if 0.0 <= x <= KNOTS - 1.0 else 0.0
    x = min(max(x, 0.0), KNOTS - 1.0)
    k = min(int(x), KNOTS - 2)
    t = x - k
    low, high = table[at, edge + k], table[at, edge + k + 1]
    in_low, in_high = table[at, edge + KNOTS + k], table[at, edge + KNOTS + k + 1]
    rise = high - low
    bend = step * (in_low + in_high) - 2.0 * rise
    turn = rise - step * in_low - bend
    warm = low + t * (step * in_low + t * (turn + t * bend))
    slope = in_low + t * (2.0 * turn + 3.0 * t * bend) / step
    unit = table[at, head + REFERENCE] - table[at, head + LOW_KNOT] - step * x
    if warm <= STANDSTILL * unit:
        return math.log(STANDSTILL), 0.0
    return math.log(warm / unit), inside * (slope / warm + 1.0 / unit)


@njit(cache=True, error_model="numpy")
def _degree_day(low, high, limit):  # type: ignore[no-untyped-def]  # compiled by numba
    """Degree-days of one day above a limit, as `cohort.warmth.single_sine`."""
    mean = 0.5 * (low + high)
    if low >= limit:
        return mean - limit
    if high <= limit:
        return 0.0
    half = 0.5 * (high - low)
    turn = math.asin(min(max((limit - mean) / half, -1.0), 1.0))
    return ((mean - limit) * (0.5 * math.pi - turn) + half * math.cos(turn)) / math.pi


@njit(cache=True, error_model="numpy")
def day_of(need, low, high, start, stop, unit, threshold):  # type: ignore[no-untyped-def]  # compiled by numba
    """Day on which so many warmed days are full; inf if they never are.

    Parameters
    ----------
    need : float
        Warmed days.
    low, high : float arrays
        Of every day; this founding has those from ``start`` to ``stop``. Beyond them warmth goes on
        as it was on average.
    unit : float
        Reference less threshold.
    threshold : float
    """
    total = 0.0
    wanted = need * unit
    for i in range(start, stop):
        now = _degree_day(low[i], high[i], threshold)
        if total + now >= wanted:
            return i - start + (wanted - total) / max(now, 1e-300)
        total += now
    if total <= STANDSTILL * unit:
        return np.inf
    return wanted / total * (stop - start)
