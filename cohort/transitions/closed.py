"""The chance that one queen of n is left, in closed form: for outcomes, which add chances up.

Comes in: n, the ratio rho of the lone to the accompanied hazard, exp(-H) and exp(-rho H). Goes
out: G_n(H) = int_0^H D_n(u) exp(-rho (H-u)) du (see `counts`). Never: the likelihood, which takes
logarithms and so needs small chances to many digits; here they are right to 1e-8 of one.

D_n is a sum of exponentials, so G_n = sum_j c_j (exp(-rho H) - exp(-(j+2) H)) / (j + 2 - rho),
with c_j = n (n-1) C(n-2, j) (-1)^j; where rho meets j + 2 the quotient is H exp(-rho H).
"""

from __future__ import annotations

from typing import Final

from numba import njit

from cohort.transitions.counts import choose

NEAR: Final = 1e-6
"""Distance of rho from a whole number below which the limit is taken."""


@njit(cache=True, error_model="numpy")
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


@njit(cache=True, error_model="numpy")
def one_left(n, H, e, lone, weights, near):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chance that one of n >= 2 queens is left at H by a last fight that leaves one.

    ``e`` is exp(-H), ``lone`` exp(-rho H).
    """
    power = e * e
    total = 0.0
    for j in range(n - 1):
        if j == near:
            total += weights[j] * lone * H
        else:
            total += weights[j] * (lone - power)
        power *= e
    return total
