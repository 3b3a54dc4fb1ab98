"""What becomes of new foundings: every outcome from one forward recursion.

Comes in: parameters by draw and genus, founding sizes, days. Goes out: chances and expectations,
averaged over the founding frailty and rows of covariates inside each draw. Never: a second formula
for a transition, or data.

Days run on a two-day grid. The day of the first worker falls into a cell with its exact
log-normal mass; counts before and after it are exact transitions at the cell's edges, joined
linearly inside a cell. A test holds the error against a fine quadrature below .003.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import numpy.typing as npt
from numba import njit

from cohort.likelihood import BORROWS, ONCE
from cohort.likelihood.closed import company, fades
from cohort.likelihood.layout import (
    LOADING,
    N1,
    N2,
    P_MATED,
    S_MATED,
    SIGMA,
    STEPS1,
    STEPS2,
    WITHIN_DAYS,
)
from cohort.likelihood.predictor import mated_chance, new_founding
from cohort.likelihood.threads import in_parallel
from cohort.predict.afterwards import (
    PAD,
    by_then,
    mated_first,
    parted,
    scale,
    shared_nest,
    worth,
)

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

STEP: Final = 2.0
"""Days per cell."""
PASSED_OVER: Final = 1e-12
"""Chance of a first worker in a cell, over that of the likeliest, below which it is passed over."""
KEPT: Final = 2
"""Cells per kept point of the curves (so curves come every four days)."""


@njit(**BORROWS)
def cumulative(steps, cuts, cells, out):  # type: ignore[no-untyped-def]  # compiled by numba
    """Integral of exp(step) over days at every cell edge, into ``out``."""
    out[0] = 0.0
    for i in range(cells):
        low, high = STEP * i, STEP * (i + 1)
        total = 0.0
        for j in range(cuts.size):
            end = cuts[j + 1] if j + 1 < cuts.size else 1e9
            days = min(high, end) - max(low, cuts[j])
            if days > 0.0:
                total += days * math.exp(steps[j])
        out[i + 1] = out[i] + total


@njit(cache=True, error_model="numpy")
def below(day, mean, within_days):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log-normal chance of a first worker by ``day``."""
    if day <= 0.0:
        return 0.0
    return 0.5 * math.erfc(-(math.log(day) - mean) / within_days * 0.7071067811865476)


@njit(**BORROWS)
def when(masses):  # type: ignore[no-untyped-def]  # compiled by numba
    """First cell in which a first worker may come, and the one after the last (`PASSED_OVER`)."""
    most = 0.0
    for i in range(masses.size):
        most = max(most, masses[i])
    first, last, least = 0, masses.size, PASSED_OVER * most
    while first < last and masses[first] < least:
        first += 1
    while last > first and masses[last - 1] < least:
        last -= 1
    return first, last


@njit(**BORROWS)
def arrivals(k, table1, masses, first, last, out):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chance that the first worker comes in a cell and finds c queens, into ``out`` (c, cells).

    Given that the founding can have workers at all; c = 0, a clock that rang too late, stays out,
    and so do cells before ``first``; `PAD` cells from ``last`` on are 0.
    """
    for c in range(1, k + 1):
        for i in range(first, last):
            out[c, i] = masses[i] * 0.5 * (table1[c, i] + table1[c, i + 1])
        for i in range(last, last + PAD):
            out[c, i] = 0.0


@njit(**BORROWS)
def until_workers(k, before, masses, first, last, below_edge, phi, days_at, out, curve):  # type: ignore[no-untyped-def]  # compiled by numba
    """Add what is seen up to the first worker: queens then alive, and the chance of workers.

    ``before`` holds, at each edge and whatever the clock does, the chance that a queen lives and
    the queens expected, averaged over frailty. Every step here is linear in both.
    """
    gained = 0.0
    queens = 0.0
    d = 0
    for j in range(before.shape[1]):
        waiting = before[1, j] * (1.0 - phi * below_edge[j])
        while d < days_at.size and days_at[d] == j:
            out[d] += (waiting + phi * queens) / k
            d += 1
        curve[1, j] += phi * gained
        if j % KEPT == 0:
            curve[0, j] += waiting / k
        if first <= j < last:
            gained += masses[j] * 0.5 * (before[0, j] + before[0, j + 1])
            queens += masses[j] * 0.5 * (before[1, j] + before[1, j + 1])


@njit(**BORROWS)
def with_workers(  # type: ignore[no-untyped-def]  # compiled by numba
    k, parts, value, arrive, first, last, phi, colony_at, weight, out, curve, left
):
    """Add what is seen from the first worker on, for one frailty node of one founding size."""
    for j in range(0, curve.shape[1], KEPT):
        curve[0, j] += weight * phi / k * by_then(j, k, arrive, first, last, value[0])
    for d in range(colony_at.size):
        at = colony_at[d]
        out[d] += weight * by_then(at, k, arrive, first, last, value[2])
        seen = weight * phi * by_then(at, k, arrive, first, last, value[1])
        out[colony_at.size + d] += seen
        last_mated = by_then(at, k, arrive, first, last, value[3])
        out[2 * colony_at.size + d] += weight * last_mated
    shared_nest(k, parts, arrive, first, last, weight, left)


@njit(cache=True, error_model="numpy")
def up_to_workers(genus, shared, added, r, sizes, cum1, tilt, lone, accompanied, out):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chances of 0..k queens at every edge for each size, into ``out`` (sizes, top + 1, edges)."""
    level = 0.0
    for s in range(sizes.size):
        k = sizes[s]
        own = new_founding(genus, shared, k, added, r)
        here = math.exp(own.lone_before) * tilt
        if here != level:  # one for all sizes, unless the effect of company stays
            level = here
            fades(cum1, level, lone)
        ratio = 1.0
        if k >= 2:
            ratio = math.exp(own.ratio_before)
            fades(cum1, level * ratio, accompanied)
        company(k, cum1, level, ratio, lone, accompanied, 0.0, out[s])


@njit(**BORROWS)
def queens_of(table, k, weight, out):  # type: ignore[no-untyped-def]  # compiled by numba
    """Add the chance that any of k queens lives, and queens expected, into ``out``, (2, edges)."""
    for c in range(1, k + 1):
        for i in range(out.shape[1]):
            out[0, i] += weight * table[c, i]
            out[1, i] += weight * c * table[c, i]


@njit(**BORROWS)
def first_days(own, within_days, edge, masses):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chance of a first worker by each edge, and in each cell; returns its window, see `when`."""
    for i in range(edge.size):
        edge[i] = below(STEP * i, own.log_day, within_days)
    for i in range(masses.size):
        masses[i] = edge[i + 1] - edge[i]
    return when(masses)


@njit(**BORROWS)
def of_like_ratio(genus, shared, sizes, s, added, r):  # type: ignore[no-untyped-def]  # compiled by numba
    """Largest of the sizes whose queens in company with workers die as those of size ``s`` do."""
    ratio, most = new_founding(genus, shared, sizes[s], added, r).ratio_after, sizes[s]
    for other in range(sizes.size):
        if new_founding(genus, shared, sizes[other], added, r).ratio_after == ratio:
            most = max(most, sizes[other])
    return most


@njit(cache=True, error_model="numpy")
def after_workers(top, own, unmated, tilt, cum2, lone, accompanied, table, value, parts):  # type: ignore[no-untyped-def]  # compiled by numba
    """What 1..top queens at the first worker become: `company`, `worth` and `parted` of each."""
    level, ratio = math.exp(own.lone_after) * tilt, math.exp(own.ratio_after)
    fades(cum2, level, lone)
    fades(cum2, level * ratio, accompanied)
    for n in range(1, top + 1):
        company(n, cum2, level, ratio, lone, accompanied, own.last_fight, table[n])
    worth(top, table, unmated, value)
    parted(top, table, parts)


@njit(**ONCE)
def one_genus(  # type: ignore[no-untyped-def]  # compiled by numba
    genus, shared, added, r, share, sizes, cum1, cum2, colony_at, days_at, z, w, out, curve, left
):
    """Add outcomes of one genus in one draw for row r of ``added``, weighed by ``share``, by size.

    Summed over the nodes of the frailty.
    """
    edges, count = cum1.size, sizes.size
    top = sizes[0]
    first, last = np.empty(count, np.int64), np.empty(count, np.int64)
    reach = np.empty(count, np.int64)
    edge, masses = np.empty((count, edges)), np.empty((count, edges - 1))
    for s in range(count):
        top = max(top, sizes[s])
        own = new_founding(genus, shared, sizes[s], added, r)
        first[s], last[s] = first_days(own, shared[WITHIN_DAYS], edge[s], masses[s])
        reach[s] = of_like_ratio(genus, shared, sizes, s, added, r)
    table1 = np.empty((count, top + 1, edges))
    table2 = np.empty((top + 1, top + 1, edges))
    value = np.empty((4, top + 1, edges - 1 + PAD))
    arrive = np.zeros((top + 1, edges - 1 + PAD))
    parts = np.empty((top + 1, 4, edges))
    before = np.zeros((count, 2, edges))
    lone, accompanied = np.empty(edges), np.empty(edges)
    unmated = 1.0 - mated_chance(shared[S_MATED], added[P_MATED, r])[0]
    days, sigma = days_at.size, shared[SIGMA]
    for q in range(z.size):
        weight, tilt = share * w[q], math.exp(sigma * z[q])
        up_to_workers(genus, shared, added, r, sizes, cum1, tilt, lone, accompanied, table1)
        tilt, ratio = math.exp(shared[LOADING] * sigma * z[q]), math.nan
        for s in range(count):
            k = sizes[s]
            own = new_founding(genus, shared, k, added, r)
            if own.ratio_after != ratio:  # sizes with one ratio share a table of what is left
                ratio, most = own.ratio_after, reach[s]
                after_workers(
                    most, own, unmated, tilt, cum2, lone, accompanied, table2, value, parts
                )
            arrivals(k, table1[s], masses[s], first[s], last[s], arrive)
            queens_of(table1[s], k, weight, before[s])
            mated_first(k, table2, 1.0 - unmated, value[3])
            with_workers(
                k, parts, value, arrive, first[s], last[s], own.fertile, colony_at, weight,
                out[s, days:], curve[s], left[s],
            )  # fmt: skip
    for s in range(count):
        own = new_founding(genus, shared, sizes[s], added, r)
        until_workers(
            sizes[s], before[s], masses[s], first[s], last[s], edge[s], own.fertile, days_at,
            out[s], curve[s],
        )  # fmt: skip


@njit(cache=True, error_model="numpy", nogil=True)
def _fill(  # type: ignore[no-untyped-def]  # compiled by numba
    first,
    last,
    params,
    shared,
    added,
    share,
    sizes,
    colony_at,
    days_at,
    cuts1,
    cuts2,
    z,
    w,
    out,
    curve,
    left,
):
    """`recurse` for draws ``first`` up to ``last``, added to outputs that start at 0."""
    edges = curve.shape[4]
    cum1 = np.empty(edges)
    cum2 = np.empty(edges)
    for d in range(first, last):
        cumulative(shared[d, STEPS1 : STEPS1 + N1], cuts1, edges - 1, cum1)
        cumulative(shared[d, STEPS2 : STEPS2 + N2], cuts2, edges - 1, cum2)
        for g in range(params.shape[1]):
            for r in range(share.size):
                one_genus(
                    params[d, g],
                    shared[d],
                    added[d],
                    r,
                    share[r],
                    sizes,
                    cum1,
                    cum2,
                    colony_at,
                    days_at,
                    z,
                    w,
                    out[d, g],
                    curve[d, g],
                    left[d, g],
                )
            scale(left[d, g])


def recurse(
    params: Floats,
    shared: Floats,
    added: Floats,
    share: Floats,
    sizes: Ints,
    cells: int,
    colony_at: Ints,
    days_at: Ints,
    cuts1: Floats,
    cuts2: Floats,
    z: Floats,
    w: Floats,
) -> tuple[Floats, Floats, Floats, Floats]:
    """Outcomes of new foundings, by draw, genus and size.

    Parameters
    ----------
    params : float array, shape (draws, genera, EFFECTS)
    shared : float array, shape (draws, SHARED_WIDTH)
    added : float array, shape (draws, PARTS, rows)
        What each row of covariates adds to each part of a founding's parameters, see `layout`.
    share : float array, shape (rows,)
        Share of each row; sums to 1. Outcomes average over rows, the same for every size.
    sizes : int array
        Founding sizes, each at least 1.
    cells : int
        Two-day cells up to the horizon.
    colony_at, days_at : int arrays
        Cell edges (days / 2, ascending) of colony outcomes and of queens before workers.
    cuts1, cuts2 : float arrays
        Starts of the hazard pieces.
    z, w : float arrays
        Nodes and weights of the frailty.

    Returns
    -------
    out : float array, shape (draws, genera, sizes, days_at + 3 colony_at)
        Queens alive, the clock stopped at the first worker, at ``days_at``; then, at
        ``colony_at`` each, colonies with a mated queen if mated and unmated die alike, colonies as
        seen (any living queen), and colonies with a mated queen if the mated die first.
    alive, workers : float arrays, shape (draws, genera, sizes, cells + 1)
        Share of queens alive (filled at every KEPT-th edge) and chance with workers, by edge.
    left : float array, shape (draws, genera, sizes, cells + 1, 4)
        Chances of none, one, several queens and expected queens, by edge since first worker.
    """
    draws, genera = params.shape[0], params.shape[1]
    out = np.zeros((draws, genera, sizes.size, days_at.size + 3 * colony_at.size))
    curve = np.zeros((draws, genera, sizes.size, 2, cells + 1))
    left = np.zeros((draws, genera, sizes.size, 4, cells + 1))
    given = [np.ascontiguousarray(a) for a in (params, shared, added, share, sizes)]
    given += [np.ascontiguousarray(a) for a in (colony_at, days_at, cuts1, cuts2, z, w)]
    in_parallel(_fill, draws, *given, out, curve, left)
    return out, curve[:, :, :, 0], curve[:, :, :, 1], left.transpose(0, 1, 2, 4, 3)
