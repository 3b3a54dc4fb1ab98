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
def grow(H, add, rho, top, one):  # type: ignore[no-untyped-def] - compiled by numba
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
def row(n, H, one_n, lone, theta, out):  # type: ignore[no-untyped-def] - compiled by numba
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
def cumulative(steps, cuts, cells, out):  # type: ignore[no-untyped-def] - compiled by numba
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
def company(size, top, cum, level, ratio, theta, table):  # type: ignore[no-untyped-def] - compiled by numba
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
def below(day, mean, tau):  # type: ignore[no-untyped-def] - compiled by numba
    """Log-normal chance of a first worker by ``day``."""
    if day <= 0.0:
        return 0.0
    return 0.5 * math.erfc(-(math.log(day) - mean) / tau * 0.7071067811865476)


@njit(cache=True, error_model="numpy")
def one_size(
    k, table1, table2, masses, below_edge, phi, unmated, colony_at, days_at, weight, left, out, kept
):  # type: ignore[no-untyped-def] - compiled by numba
    """Add one frailty node of one founding size to the sums in ``out``, ``kept`` and ``left``.

    ``out``: [share before at days | lasting at colony days | seen at colony days];
    ``kept``: queens alive at every kept point, chance with workers by every edge.
    """
    cells = masses.size
    arrive = np.empty((cells, k + 1))
    for i in range(cells):
        for c in range(k + 1):
            arrive[i, c] = masses[i] * 0.5 * (table1[i, k, c] + table1[i + 1, k, c])
    # stopped at the first worker
    gained = 0.0
    queens = 0.0
    next_day = 0
    for j in range(cells + 1):
        while next_day < days_at.size and days_at[next_day] == j:
            alone = 0.0
            for c in range(1, k + 1):
                alone += c * table1[j, k, c]
            out[next_day] += weight * ((1.0 - phi * below_edge[j]) * alone + phi * queens) / k
            next_day += 1
        kept[1, j] += weight * phi * gained
        if j < cells:
            for c in range(1, k + 1):
                gained += arrive[j, c]
                queens += c * arrive[j, c]
    # worker phase: value of c queens, l cells and a half after the first worker
    expect = np.zeros((cells, k + 1))
    alive = np.zeros((cells, k + 1))
    lasting = np.zeros((cells, k + 1))
    for i in range(cells):
        for c in range(1, k + 1):
            for m in range(1, c + 1):
                p = 0.5 * (table2[i, c, m] + table2[i + 1, c, m])
                expect[i, c] += p * m
                alive[i, c] += p
                lasting[i, c] += p * (1.0 - unmated**m)
    for j in range(0, cells + 1, KEPT):
        total = 0.0
        for i in range(j):
            for c in range(1, k + 1):
                total += arrive[i, c] * expect[j - 1 - i, c]
        alone = 0.0
        for c in range(1, k + 1):
            alone += c * table1[j, k, c]
        kept[0, j] += weight * ((1.0 - phi * below_edge[j]) * alone + phi * total) / k
    first = days_at.size
    for d in range(colony_at.size):
        j = colony_at[d]
        seen = 0.0
        last = 0.0
        for i in range(j):
            for c in range(1, k + 1):
                seen += arrive[i, c] * alive[j - 1 - i, c]
                last += arrive[i, c] * lasting[j - 1 - i, c]
        out[first + d] += weight * last
        out[first + colony_at.size + d] += weight * phi * seen
    for c in range(2, k + 1):
        reach = 0.0
        for i in range(cells):
            reach += arrive[i, c]
        for i in range(left.shape[0]):
            left[i, 0] += weight * reach * table2[i, c, 0]
            left[i, 1] += weight * reach * table2[i, c, 1]
            for m in range(2, c + 1):
                left[i, 2] += weight * reach * table2[i, c, m]
                left[i, 3] += weight * reach * table2[i, c, m] * m
            left[i, 3] += weight * reach * table2[i, c, 1]


@njit(cache=True, error_model="numpy", parallel=True)
def recurse(params, shared, sizes, cells, colony_at, days_at, cuts1, cuts2, z, w):  # type: ignore[no-untyped-def] - compiled by numba
    """Outcomes of new foundings, by draw, genus and size.

    Parameters
    ----------
    params : float array, shape (draws, genera, G_WIDTH)
    shared : float array, shape (draws, S_WIDTH)
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
    alive, workers : float arrays, shape (draws, genera, sizes, cells + 1)
        Share of queens alive (filled at every KEPT-th edge) and chance with workers, by edge.
    left : float array, shape (draws, genera, sizes, cells + 1, 4)
        Chances of none, one, several queens and expected queens, by edge since first worker.
    """
    draws, genera = params.shape[0], params.shape[1]
    width = days_at.size + 2 * colony_at.size
    out = np.zeros((draws, genera, sizes.size, width))
    curve = np.zeros((draws, genera, sizes.size, 2, cells + 1))
    left = np.zeros((draws, genera, sizes.size, cells + 1, 4))
    top = sizes.max()
    for d in prange(draws):
        cum1 = np.empty(cells + 1)
        cum2 = np.empty(cells + 1)
        cumulative(shared[d, S_STEPS1 : S_STEPS1 + N1], cuts1, cells, cum1)
        cumulative(shared[d, S_STEPS2 : S_STEPS2 + N2], cuts2, cells, cum2)
        table1 = np.zeros((cells + 1, top + 1, top + 1))
        table2 = np.zeros((cells + 1, top + 1, top + 1))
        edge = np.empty((2, cells + 1))
        mass = np.empty((2, cells))
        unmated = 1.0 - shared[d, S_MATED]
        for g in range(genera):
            for arm in range(2):
                mean = params[d, g, G_LOG_DAY] + arm * shared[d, S_MULTI_DAYS]
                for i in range(cells + 1):
                    edge[arm, i] = below(STEP * i, mean, shared[d, S_TAU])
                for i in range(cells):
                    mass[arm, i] = edge[arm, i + 1] - edge[arm, i]
            for q in range(z.size):
                tilt = math.exp(shared[d, S_SIGMA] * z[q])
                level2 = math.exp(params[d, g, G_HAZARD2]) * tilt
                company(
                    0,
                    top,
                    cum2,
                    level2,
                    math.exp(params[d, g, G_RIVALRY]),
                    params[d, g, G_BOTH],
                    table2,
                )
                level1 = math.exp(params[d, g, G_HAZARD1]) * tilt
                for s in range(sizes.size):
                    k = sizes[s]
                    ratio = 1.0
                    arm = 0
                    if k >= 2:
                        arm = 1
                        ratio = math.exp(
                            params[d, g, G_TOGETHER] + shared[d, S_SIZE_STEP] * math.log2(k / 2.0)
                        )
                    company(k, k, cum1, level1, ratio, 0.0, table1)
                    one_size(
                        k,
                        table1,
                        table2,
                        mass[arm],
                        edge[arm],
                        1.0 - unmated**k,
                        unmated,
                        colony_at,
                        days_at,
                        w[q],
                        left[d, g, s],
                        out[d, g, s],
                        curve[d, g, s],
                    )
            for s in range(sizes.size):
                for i in range(cells + 1):
                    whole = left[d, g, s, i, 0] + left[d, g, s, i, 1] + left[d, g, s, i, 2]
                    if whole > 0.0:
                        for m in range(4):
                            left[d, g, s, i, m] /= whole
    return out, curve[:, :, :, 0], curve[:, :, :, 1], left
