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
from typing import Final

import numpy as np
from numba import njit, prange

from cohort.transitions.counts import choose
from cohort.transitions.layout import N1, N2

STEP: Final = 2.0
"""Days per cell."""
KEPT: Final = 2
"""Cells per kept point of the curves (so curves come every four days)."""

_GRID = np.polynomial.legendre.leggauss(3)
GRID_X = 0.5 * (_GRID[0] + 1)
GRID_W = 0.5 * _GRID[1]

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
def grow(H, add, rho, top, one):  # type: ignore[no-untyped-def]  # compiled by numba
    """Carry G_n(H) = int_0^H D_n(u) exp(-rho (H-u)) du on to H + add, for n = 2..top, in place.

    Exact up to the quadrature of the small step: G(H+d) = exp(-rho d) G(H) + int_0^d ...
    """
    if add <= 0.0:
        return
    parts = min(1 + int(add * (top + rho)), 40)
    width = add / parts
    fade = math.exp(-rho * width)
    at = H
    for _ in range(parts):
        for n in range(2, top + 1):
            one[n] *= fade
        for i in range(GRID_X.size):
            e = math.exp(-(at + width * GRID_X[i]))
            v = 1.0 - e
            weight = width * GRID_W[i] * e * e * math.exp(-rho * width * (1.0 - GRID_X[i]))
            power = 1.0
            for n in range(2, top + 1):
                one[n] += weight * n * (n - 1) * power
                power *= v
        at += width


@njit(cache=True, error_model="numpy")
def row(n, H, one_n, lone, theta, out):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chances of 0..n queens left of n, into ``out``; ``one_n`` is G_n(H), ``lone`` rho H."""
    if n == 0:
        out[0] = 1.0
        return
    if n == 1:
        out[1] = math.exp(-lone)
        out[0] = 1.0 - out[1]
        return
    e = math.exp(-H)
    v = 1.0 - e
    rest = 0.0
    for m in range(2, n + 1):
        out[m] = choose(n, m) * e**m * v ** (n - m)
        rest += out[m]
    out[1] = (1.0 - theta) * one_n
    out[0] = max(0.0, 1.0 - rest - out[1])


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
def company(size, top, cum, level, ratio, theta, table):  # type: ignore[no-untyped-def]  # compiled by numba
    """Transition rows of ``size``..``top`` queens at every cell edge, into ``table``."""
    one = np.zeros(top + 1)
    rho = 1.0 / ratio
    H = 0.0
    for i in range(cum.size):
        now = cum[i] * level * ratio
        grow(H, now - H, rho, top, one)
        H = now
        for n in range(size, top + 1):
            row(n, H, one[n], rho * H, theta, table[i, n])


@njit(cache=True, error_model="numpy")
def below(day, mean, tau):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log-normal chance of a first worker by ``day``."""
    if day <= 0.0:
        return 0.0
    return 0.5 * math.erfc(-(math.log(day) - mean) / tau * 0.7071067811865476)


@njit(cache=True, error_model="numpy")
def arrivals(k, top, table1, masses):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chance that the first worker comes in a cell and finds c queens, shape (cells, top + 1).

    Given that the founding can have workers at all; c = 0 is a clock that rang too late.
    """
    out = np.zeros((masses.size, top + 1))
    for i in range(masses.size):
        for c in range(k + 1):
            out[i, c] = masses[i] * 0.5 * (table1[i, k, c] + table1[i + 1, k, c])
    return out


@njit(cache=True, error_model="numpy")
def expected(row, k):  # type: ignore[no-untyped-def]  # compiled by numba
    """Mean of a row of chances of 0..k queens."""
    total = 0.0
    for c in range(1, k + 1):
        total += c * row[c]
    return total


@njit(cache=True, error_model="numpy")
def until_workers(k, table1, arrive, below_edge, phi, days_at, weight, out, workers):  # type: ignore[no-untyped-def]  # compiled by numba
    """Add what is seen up to the first worker: queens then alive, and the chance of workers."""
    gained = 0.0
    queens = 0.0
    d = 0
    for j in range(arrive.shape[0] + 1):
        while d < days_at.size and days_at[d] == j:
            waiting = (1.0 - phi * below_edge[j]) * expected(table1[j, k], k)
            out[d] += weight * (waiting + phi * queens) / k
            d += 1
        workers[j] += weight * phi * gained
        if j < arrive.shape[0]:
            for c in range(1, k + 1):
                gained += arrive[j, c]
                queens += c * arrive[j, c]


@njit(cache=True, error_model="numpy")
def worth(k, table2, unmated):  # type: ignore[no-untyped-def]  # compiled by numba
    """What c queens at the first worker are worth l cells and a half later, latest l first.

    Returns queens alive, chance that any is alive, chance that a mated one is; shape
    (3, cells, k + 1).
    """
    cells = table2.shape[0] - 1
    out = np.zeros((3, cells, k + 1))
    for i in range(cells):
        for c in range(1, k + 1):
            for m in range(1, c + 1):
                p = 0.5 * (table2[i, c, m] + table2[i + 1, c, m])
                out[0, cells - 1 - i, c] += p * m
                out[1, cells - 1 - i, c] += p
                out[2, cells - 1 - i, c] += p * (1.0 - unmated**m)
    return out


@njit(cache=True, error_model="numpy", fastmath=True)
def by_then(j, arrive, value):  # type: ignore[no-untyped-def]  # compiled by numba
    """Sum over the cell of the first worker of arrivals times their worth at edge j.

    ``value`` lies latest first (see `worth`), so both run forward together.
    """
    width = arrive.shape[1]
    a = arrive.reshape(-1)
    v = value.reshape(-1)[(value.shape[0] - j) * width :]
    total = 0.0
    for i in range(j * width):
        total += a[i] * v[i]
    return total


@njit(cache=True, error_model="numpy")
def shared_nest(k, table2, arrive, weight, left):  # type: ignore[no-untyped-def]  # compiled by numba
    """Add what is left of two or more queens by edge since the first worker, not yet scaled."""
    for c in range(2, k + 1):
        reach = 0.0
        for i in range(arrive.shape[0]):
            reach += arrive[i, c]
        for i in range(left.shape[0]):
            left[i, 0] += weight * reach * table2[i, c, 0]
            left[i, 1] += weight * reach * table2[i, c, 1]
            for m in range(2, c + 1):
                left[i, 2] += weight * reach * table2[i, c, m]
            left[i, 3] += weight * reach * expected(table2[i, c], c)


@njit(cache=True, error_model="numpy")
def one_size(  # type: ignore[no-untyped-def]  # compiled by numba
    k,
    table1,
    table2,
    value,
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
    arrive = arrivals(k, value.shape[2] - 1, table1, masses)
    until_workers(k, table1, arrive, below_edge, phi, days_at, weight, out, curve[1])
    for j in range(0, masses.size + 1, KEPT):
        waiting = (1.0 - phi * below_edge[j]) * expected(table1[j, k], k)
        curve[0, j] += weight * (waiting + phi * by_then(j, arrive, value[0])) / k
    first = days_at.size
    for d in range(colony_at.size):
        out[first + d] += weight * by_then(colony_at[d], arrive, value[2])
        out[first + colony_at.size + d] += weight * phi * by_then(colony_at[d], arrive, value[1])
    shared_nest(k, table2, arrive, weight, left)


@njit(cache=True, error_model="numpy")
def one_genus(  # type: ignore[no-untyped-def]  # compiled by numba
    genus, shared, shifts, share, sizes, cum1, cum2, colony_at, days_at, z, w, out, curve, left
):
    """Outcomes of one genus in one draw: sums over frailty nodes and covariate rows, by size."""
    cells = cum1.size - 1
    top = sizes.max()
    table1 = np.zeros((cells + 1, top + 1, top + 1))
    table2 = np.zeros((cells + 1, top + 1, top + 1))
    edge = np.empty((2, cells + 1))
    for arm in range(2):
        mean = genus[G_LOG_DAY] + arm * shared[S_MULTI_DAYS]
        for i in range(cells + 1):
            edge[arm, i] = below(STEP * i, mean, shared[S_TAU])
    for q in range(z.size):
        tilt = math.exp(shared[S_SIGMA] * z[q])
        level2 = math.exp(genus[G_HAZARD2]) * tilt
        company(0, top, cum2, level2, math.exp(genus[G_RIVALRY]), genus[G_BOTH], table2)
        value = worth(top, table2, 1.0 - shared[S_MATED])
        for s in range(sizes.size):
            k = sizes[s]
            arm = 1 if k >= 2 else 0
            log_ratio = arm * (genus[G_TOGETHER] + shared[S_SIZE_STEP] * math.log2(max(k, 2) / 2.0))
            for r in range(shifts.size):
                level1 = math.exp(genus[G_HAZARD1] + shifts[r]) * tilt
                company(k, k, cum1, level1, math.exp(log_ratio), 0.0, table1)
                one_size(
                    k,
                    table1,
                    table2,
                    value,
                    np.diff(edge[arm]),
                    edge[arm],
                    shared[S_MATED],
                    colony_at,
                    days_at,
                    w[q] * share[r],
                    out[s],
                    curve[s],
                    left[s],
                )
    for s in range(sizes.size):
        for i in range(cells + 1):
            whole = left[s, i, 0] + left[s, i, 1] + left[s, i, 2]
            if whole > 0.0:
                left[s, i] /= whole


@njit(cache=True, error_model="numpy", parallel=True)
def recurse(params, shared, shifts, share, sizes, cells, colony_at, days_at, cuts1, cuts2, z, w):  # type: ignore[no-untyped-def]  # compiled by numba
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
    left = np.zeros((draws, genera, sizes.size, cells + 1, 4))
    for d in prange(draws):
        cum1 = np.empty(cells + 1)
        cum2 = np.empty(cells + 1)
        cumulative(shared[d, S_STEPS1 : S_STEPS1 + N1], cuts1, cells, cum1)
        cumulative(shared[d, S_STEPS2 : S_STEPS2 + N2], cuts2, cells, cum2)
        for g in range(genera):
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
    return out, curve[:, :, :, 0], curve[:, :, :, 1], left
