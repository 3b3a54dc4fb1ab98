"""What becomes of new foundings: every outcome from one forward recursion.

Comes in: parameters by draw and genus, founding sizes, days. Goes out: chances and expectations,
averaged over the founding frailty inside each draw. Never: a second formula for a transition,
or data.

Days run on a two-day grid. The day of the first worker falls into a cell with its exact
log-normal mass; counts before and after it are exact transitions at the cell's edges, joined
linearly inside a cell. A test holds the error against a fine quadrature below .003.
"""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
import numpy.typing as npt
from numba import njit

from cohort.transitions.closed import company, fades
from cohort.transitions.layout import N1, N2
from cohort.transitions.threads import spread

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

STEP: Final = 2.0
"""Days per cell."""
KEPT: Final = 2
"""Cells per kept point of the curves (so curves come every four days)."""

# one genus in one draw: the columns of `params`
G_HAZARD1: Final = 0
G_TOGETHER: Final = 1
G_HAZARD2: Final = 2
G_RIVALRY: Final = 3
G_BOTH: Final = 4
G_LOG_DAY: Final = 5
G_WIDTH: Final = 6
# what all genera share in one draw: the columns of `shared`
S_STEPS1: Final = 0
S_STEPS2: Final = S_STEPS1 + N1
S_TAU: Final = S_STEPS2 + N2
S_SIGMA: Final = S_TAU + 1
S_SIZE_STEP: Final = S_SIGMA + 1
S_MULTI_DAYS: Final = S_SIZE_STEP + 1
S_MATED: Final = S_MULTI_DAYS + 1
S_WIDTH: Final = S_MATED + 1


@njit(cache=True, error_model="numpy")
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
def below(day, mean, tau):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log-normal chance of a first worker by ``day``."""
    if day <= 0.0:
        return 0.0
    return 0.5 * math.erfc(-(math.log(day) - mean) / tau * 0.7071067811865476)


@njit(cache=True, error_model="numpy")
def arrivals(k, table1, masses, out):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chance that the first worker comes in a cell and finds c queens, into ``out`` (c, cells).

    Given that the founding can have workers at all; c = 0, a clock that rang too late, stays out.
    """
    for c in range(1, k + 1):
        for i in range(masses.size):
            out[c, i] = masses[i] * 0.5 * (table1[c, i] + table1[c, i + 1])


@njit(cache=True, error_model="numpy")
def expected(table, k, i):  # type: ignore[no-untyped-def]  # compiled by numba
    """Mean count at edge i of a table of chances of 0..k queens."""
    total = 0.0
    for c in range(1, k + 1):
        total += c * table[c, i]
    return total


@njit(cache=True, error_model="numpy")
def until_workers(k, table1, arrive, below_edge, phi, days_at, weight, out, workers):  # type: ignore[no-untyped-def]  # compiled by numba
    """Add what is seen up to the first worker: queens then alive, and the chance of workers."""
    gained = 0.0
    queens = 0.0
    d = 0
    cells = arrive.shape[1]
    for j in range(cells + 1):
        while d < days_at.size and days_at[d] == j:
            waiting = (1.0 - phi * below_edge[j]) * expected(table1, k, j)
            out[d] += weight * (waiting + phi * queens) / k
            d += 1
        workers[j] += weight * phi * gained
        if j < cells:
            for c in range(1, k + 1):
                gained += arrive[c, j]
                queens += c * arrive[c, j]


@njit(cache=True, error_model="numpy")
def worth(top, table2, unmated, out):  # type: ignore[no-untyped-def]  # compiled by numba
    """What c queens at the first worker are worth l cells and a half later, latest l first.

    Queens alive, chance that any is alive, chance that a mated one is, into ``out``, shape
    (3, top + 1, cells).
    """
    cells = out.shape[2]
    out[:] = 0.0
    for c in range(1, top + 1):
        none_mated = 1.0
        for m in range(1, c + 1):
            none_mated *= unmated
            for i in range(cells):
                p = 0.5 * (table2[c, m, i] + table2[c, m, i + 1])
                out[0, c, cells - 1 - i] += p * m
                out[1, c, cells - 1 - i] += p
                out[2, c, cells - 1 - i] += p * (1.0 - none_mated)


@njit(cache=True, error_model="numpy", fastmath=True)
def by_then(j, k, arrive, value):  # type: ignore[no-untyped-def]  # compiled by numba
    """Sum over the cell of the first worker of arrivals times their worth at edge j.

    ``value`` lies latest first (see `worth`), so both run forward together.
    """
    total = 0.0
    for c in range(1, k + 1):
        a = arrive[c]
        v = value[c, value.shape[1] - j :]
        for i in range(j):
            total += a[i] * v[i]
    return total


@njit(cache=True, error_model="numpy")
def shared_nest(k, table2, arrive, weight, left):  # type: ignore[no-untyped-def]  # compiled by numba
    """Add what is left of two or more queens by edge since the first worker, not yet scaled."""
    edges = left.shape[1]
    for c in range(2, k + 1):
        reach = weight * arrive[c].sum()
        for m in range(c + 1):
            part = min(m, 2)
            for i in range(edges):
                p = reach * table2[c, m, i]
                left[part, i] += p
                left[3, i] += m * p


@njit(cache=True, error_model="numpy")
def scale(left):  # type: ignore[no-untyped-def]  # compiled by numba
    """Make chances of what `shared_nest` added up, by size and edge."""
    for s in range(left.shape[0]):
        for i in range(left.shape[2]):
            whole = left[s, 0, i] + left[s, 1, i] + left[s, 2, i]
            if whole > 0.0:
                for part in range(4):
                    left[s, part, i] /= whole


@njit(cache=True, error_model="numpy")
def one_size(  # type: ignore[no-untyped-def]  # compiled by numba
    k,
    table1,
    table2,
    value,
    arrive,
    masses,
    below_edge,
    mated,
    colony_at,
    days_at,
    weight,
    out,
    curve,
    left,
):
    """Add one frailty node of one founding size to the sums of `recurse`."""
    phi = 1.0 - (1.0 - mated) ** k
    arrivals(k, table1, masses, arrive)
    until_workers(k, table1, arrive, below_edge, phi, days_at, weight, out, curve[1])
    for j in range(0, masses.size + 1, KEPT):
        waiting = (1.0 - phi * below_edge[j]) * expected(table1, k, j)
        curve[0, j] += weight * (waiting + phi * by_then(j, k, arrive, value[0])) / k
    first = days_at.size
    for d in range(colony_at.size):
        at = colony_at[d]
        out[first + d] += weight * by_then(at, k, arrive, value[2])
        out[first + colony_at.size + d] += weight * phi * by_then(at, k, arrive, value[1])
    shared_nest(k, table2, arrive, weight, left)


@njit(cache=True, error_model="numpy")
def one_genus(  # type: ignore[no-untyped-def]  # compiled by numba
    genus, shared, shifts, share, sizes, cum1, cum2, colony_at, days_at, z, w, out, curve, left
):
    """Outcomes of one genus in one draw: sums over frailty nodes and covariate rows, by size."""
    edges = cum1.size
    top = sizes.max()
    table1 = np.empty((top + 1, edges))
    table2 = np.empty((top + 1, top + 1, edges))
    value = np.empty((3, top + 1, edges - 1))
    arrive = np.empty((top + 1, edges - 1))
    lone = np.empty(edges)
    edge = np.empty((2, edges))
    for arm in range(2):
        mean = genus[G_LOG_DAY] + arm * shared[S_MULTI_DAYS]
        for i in range(edges):
            edge[arm, i] = below(STEP * i, mean, shared[S_TAU])
    masses = edge[:, 1:] - edge[:, :-1]
    rivalry = math.exp(genus[G_RIVALRY])
    for q in range(z.size):
        tilt = math.exp(shared[S_SIGMA] * z[q])
        level2 = math.exp(genus[G_HAZARD2]) * tilt
        fades(cum2, level2, lone)
        for n in range(1, top + 1):
            company(n, cum2, level2, rivalry, lone, genus[G_BOTH], table2[n])
        worth(top, table2, 1.0 - shared[S_MATED], value)
        for r in range(shifts.size):
            level1 = math.exp(genus[G_HAZARD1] + shifts[r]) * tilt
            fades(cum1, level1, lone)
            for s in range(sizes.size):
                k = sizes[s]
                arm = 1 if k >= 2 else 0
                log_ratio = arm * (
                    genus[G_TOGETHER] + shared[S_SIZE_STEP] * math.log2(max(k, 2) / 2.0)
                )
                company(k, cum1, level1, math.exp(log_ratio), lone, 0.0, table1)
                one_size(
                    k,
                    table1,
                    table2,
                    value,
                    arrive,
                    masses[arm],
                    edge[arm],
                    shared[S_MATED],
                    colony_at,
                    days_at,
                    w[q] * share[r],
                    out[s],
                    curve[s],
                    left[s],
                )
    scale(left)


@njit(cache=True, error_model="numpy", nogil=True)
def _fill(  # type: ignore[no-untyped-def]  # compiled by numba
    first,
    last,
    params,
    shared,
    shifts,
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
        cumulative(shared[d, S_STEPS1 : S_STEPS1 + N1], cuts1, edges - 1, cum1)
        cumulative(shared[d, S_STEPS2 : S_STEPS2 + N2], cuts2, edges - 1, cum2)
        for g in range(params.shape[1]):
            one_genus(
                params[d, g],
                shared[d],
                shifts[d],
                share,
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


def recurse(
    params: Floats,
    shared: Floats,
    shifts: Floats,
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
    params : float array, shape (draws, genera, G_WIDTH)
    shared : float array, shape (draws, S_WIDTH)
    shifts : float array, shape (draws, rows)
        Shift of the log founding hazard by row of covariates.
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
    out : float array, shape (draws, genera, sizes, days_at + 2 colony_at)
        Queens alive, the clock stopped at the first worker, at ``days_at``; lasting colonies,
        then colonies as seen, at ``colony_at``.
    alive, workers : float arrays, shape (draws, genera, sizes, cells + 1)
        Share of queens alive (filled at every KEPT-th edge) and chance with workers, by edge.
    left : float array, shape (draws, genera, sizes, cells + 1, 4)
        Chances of none, one, several queens and expected queens, by edge since first worker.
    """
    draws, genera = params.shape[0], params.shape[1]
    out = np.zeros((draws, genera, sizes.size, days_at.size + 2 * colony_at.size))
    curve = np.zeros((draws, genera, sizes.size, 2, cells + 1))
    left = np.zeros((draws, genera, sizes.size, 4, cells + 1))
    given = [np.ascontiguousarray(a) for a in (params, shared, shifts, share, sizes)]
    given += [np.ascontiguousarray(a) for a in (colony_at, days_at, cuts1, cuts2, z, w)]
    fill: Any = _fill  # numba types a compiled function as taking one argument
    spread(lambda first, last: fill(first, last, *given, out, curve, left), draws)
    return out, curve[:, :, :, 0], curve[:, :, :, 1], left.transpose(0, 1, 2, 4, 3)
