"""Chances of 0..n queens left, in closed form at many times at once: for outcomes.

Comes in: n, hazards run up, the ratio rho of the lone to the accompanied hazard. Goes out: the
row of chances. Never: the likelihood, which takes logarithms and so needs small chances to many
digits; here they are right to 2e-8 of one.

One of n is left with chance G_n(H) = int_0^H D_n(u) exp(-rho (H-u)) du (see
`transition_probabilities`).

D_n is a sum of exponentials, so G_n = sum_j c_j (exp(-rho H) - exp(-(j+2) H)) / (j + 2 - rho),
with c_j = n (n-1) C(n-2, j) (-1)^j; where rho all but meets j + 2, with the gap j + 2 - rho, the
quotient is H exp(-rho H) (1 - gap H / 2).
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numba import njit

from cohort.likelihood import BORROWS
from cohort.likelihood.transition_probabilities import choose

NEAR: Final = 1e-5
"""Gap between rho and a whole number below which the quotient is taken as near its limit."""


@njit(**BORROWS)
def fight_weights(n, rho, weights):  # type: ignore[no-untyped-def]  # compiled by numba
    """Fill ``weights`` (n - 1 numbers) for `one_left`; returns which j meets rho, or -1."""
    near = -1
    sign = 1.0
    for j in range(n - 1):
        c = sign * n * (n - 1) * choose(n - 2, j)
        gap = j + 2.0 - rho
        if abs(gap) < NEAR:
            near = j
            weights[j] = c
        else:
            weights[j] = c / gap
        sign = -sign
    return near


@njit(**BORROWS)
def one_left(n, H, e, lone, rho, weights, near):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chance that one of n >= 2 queens is left at H by a last fight that leaves one.

    ``e`` is exp(-H), ``lone`` exp(-rho H).
    """
    power = e * e
    total = 0.0
    for j in range(n - 1):
        if j == near:
            total += weights[j] * lone * H * (1.0 - 0.5 * (j + 2.0 - rho) * H)
        else:
            total += weights[j] * (lone - power)
        power *= e
    return total


@njit(**BORROWS)
def fades(cum, level, out):  # type: ignore[no-untyped-def]  # compiled by numba
    """exp(-level x integral) at every cell edge, into ``out``."""
    for i in range(cum.size):
        out[i] = math.exp(-level * cum[i])


@njit(**BORROWS)
def powers_of(accompanied, n, table):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chances that m given queens live, accompanied^m, into row m of ``table`` from 2 to n."""
    for i in range(accompanied.size):
        table[2, i] = accompanied[i] * accompanied[i]
    for m in range(3, n + 1):
        for i in range(accompanied.size):
            table[m, i] = table[m - 1, i] * accompanied[i]


@njit(cache=True, error_model="numpy")
def one_of(n, cum, level, ratio, lone, last_fight, table):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chance that one is left of n, into row 1 of ``table``, whose rows from 2 are `powers_of`."""
    rho, weights = 1.0 / ratio, np.empty(n - 1)
    near = fight_weights(n, rho, weights)
    for i in range(lone.size):
        table[1, i] = 0.0
    for m in range(2, n + 1):
        weight = (1.0 - last_fight) * weights[m - 2]
        if m - 2 == near:
            for i in range(lone.size):
                H = cum[i] * level * ratio
                table[1, i] += weight * lone[i] * H * (1.0 - 0.5 * (m - rho) * H)
        else:
            for i in range(lone.size):
                table[1, i] += weight * (lone[i] - table[m, i])


@njit(cache=True, error_model="numpy")
def several_of(n, accompanied, table):  # type: ignore[no-untyped-def]  # compiled by numba
    """Make chances of m of n left of rows from 2 (`powers_of`), and what is left over of row 0."""
    dead = np.empty(accompanied.size)  # (1 - accompanied)^(n - m)
    for i in range(accompanied.size):
        dead[i] = 1.0
        table[0, i] = 1.0 - table[1, i]
    for m in range(n, 1, -1):
        ways = choose(n, m)
        for i in range(accompanied.size):
            table[m, i] *= ways * dead[i]
            table[0, i] -= table[m, i]
            dead[i] *= 1.0 - accompanied[i]
    for i in range(accompanied.size):
        table[0, i] = max(0.0, table[0, i])


@njit(cache=True, error_model="numpy")
def company(n, cum, level, ratio, lone, accompanied, last_fight, table):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chances of 0..n queens left of n at every cell edge, into ``table`` (n + 1, edges).

    ``lone`` is the chance that a lone queen lives to each edge, ``accompanied`` that of one always
    in company, whose hazard is ``level`` x ``ratio`` (both from `fades`). Row by row in plain
    loops, of which the compiler takes several edges at once; whole rows at a time were slower.
    """
    if n == 0:
        for i in range(lone.size):
            table[0, i] = 1.0
    elif n == 1:
        for i in range(lone.size):
            table[1, i] = lone[i]
            table[0, i] = 1.0 - lone[i]
    else:
        powers_of(accompanied, n, table)
        one_of(n, cum, level, ratio, lone, last_fight, table)
        several_of(n, accompanied, table)
