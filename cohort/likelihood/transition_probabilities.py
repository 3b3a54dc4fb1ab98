"""Exact transitions of the count of living queens in one container.

Comes in: two counts, an integrated hazard H (per queen, while two or more live), the ratio
rho of the lone to the accompanied hazard, and theta, the share of losses from two that take
both. Goes out: the chance of the transition and its derivatives. Never: a day, a genus, a prior.

Between two looks each of n >= 2 queens dies at the accompanied hazard; whoever is left alone
dies at rho times that. A loss from two takes both with chance theta. In the time scale of H,

* n -> m, m >= 2: binomial, C(n, m) exp(-m H) (1 - exp(-H))^(n-m);
* n -> 1: (1 - theta) int_0^H D_n(u) exp(-rho (H - u)) du;
* n -> 0: int_0^H D_n(u) [theta + (1 - theta) (1 - exp(-rho (H - u)))] du,

with D_n(u) = n (n-1) (1 - exp(-u))^(n-2) exp(-2u), the density of the fight that ends the
company of n. The last line is an integral of positive terms and never "one minus the rest",
which loses a quarter of its value at n = 6, H = .001.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

_LEAST = np.polynomial.legendre.leggauss(4)
_FEW = np.polynomial.legendre.leggauss(6)
_SOME = np.polynomial.legendre.leggauss(11)
_MANY = np.polynomial.legendre.leggauss(20)
FEW_X, FEW_W = 0.5 * (_FEW[0] + 1), 0.5 * _FEW[1]
SOME_X, SOME_W = 0.5 * (_SOME[0] + 1), 0.5 * _SOME[1]
MANY_X, MANY_W = 0.5 * (_MANY[0] + 1), 0.5 * _MANY[1]

LEAST_X, LEAST_W = 0.5 * (_LEAST[0] + 1), 0.5 * _LEAST[1]

SHORT = 0.04
"""Below this H (n + rho) four nodes and a short series for exp do, for up to four queens.

Largest relative error at this bound: 5e-16 of two queens, 2e-13 of four, 7e-9 of six."""

PANEL = 2.0
"""Longest stretch of H that one set of Gauss-Legendre nodes covers."""

LITTLE = 0.005
"""Hazard run up by each queen below which the closed forms of two and three queens lose digits."""

CLOSE = 0.5
"""Below this (j - rho) H a quotient is taken from its series."""

TERMS = 14
"""Terms of the series: the first left out is below 1e-14."""

_ORDER = np.arange(TERMS)[::-1]
VALUE = np.array([1.0 / math.factorial(i + 1) for i in _ORDER])
SLOPE = np.array([1.0 / (math.factorial(i) * (i + 1) * (i + 2)) for i in _ORDER])

BEYOND = 60.0
"""H past which a company of any size has ended for certain; keeps panels few."""


@njit(cache=True, error_model="numpy", forceinline=True)
def choose(n: int, m: int) -> float:
    """Binomial coefficient as a float."""
    out = 1.0
    for i in range(min(m, n - m)):
        out = out * (n - i) / (i + 1)
    return out


@njit(cache=True, error_model="numpy", forceinline=True)
def power(x, n):  # type: ignore[no-untyped-def]  # compiled by numba
    """Raise x to a whole n >= 0; ``x ** n`` does not compile in a caller with fast maths."""
    out = 1.0
    for _ in range(n):
        out *= x
    return out


@njit(cache=True, error_model="numpy", forceinline=True)
def death_and_survival(H: float) -> tuple[float, float]:
    """Chance to have died by H, and to have lived; both to full digits for little H."""
    v = -math.expm1(-H)
    return v, 1.0 - v if H < 1.0 else math.exp(-H)


@njit(cache=True, error_model="numpy", forceinline=True)
def company_end(n, v, e):  # type: ignore[no-untyped-def]  # compiled by numba
    """Density D_n(H) of the end of company of n queens; v, e: `death_and_survival` of H."""
    return n * (n - 1) * v ** (n - 2) * e * e


@njit(cache=True, error_model="numpy", forceinline=True)
def company_ended(n, v, e):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chance that fewer than two of n are left, as positive terms; v, e as above."""
    return v ** (n - 1) * (v + n * e)


@njit(cache=True, error_model="numpy")
def _nodes(stiffness):  # type: ignore[no-untyped-def]  # compiled by numba
    if stiffness < 0.6:
        return FEW_X, FEW_W
    if stiffness < 4.0:
        return SOME_X, SOME_W
    return MANY_X, MANY_W


@njit(cache=True, error_model="numpy", forceinline=True)
def faded(j, H, rho, alive, lone):  # type: ignore[no-untyped-def]  # compiled by numba
    """int_0^H exp(-j u) exp(-rho (H-u)) du, and minus its derivative in rho, in closed form.

    ``alive`` is exp(-j H), ``lone`` exp(-rho H).
    """
    gap = j - rho
    x = gap * H
    if abs(x) >= CLOSE:
        value = (lone - alive) / gap
        return value, (H * lone - value) / gap
    value = 0.0  # (1 - exp(-x)) / x by its series: the quotient loses digits here
    slope = 0.0
    for i in range(TERMS):
        value = VALUE[i] - x * value
        slope = SLOPE[i] - x * slope
    return H * lone * value, H * H * lone * slope


@njit(cache=True, error_model="numpy")
def _two_or_three(n, H, rho, v, e):  # type: ignore[no-untyped-def]  # compiled by numba
    """`last_pair` of two or three queens, in closed form."""
    lone = math.exp(-rho * H)
    alive, wait = faded(2, H, rho, e * e, lone)
    if n == 2:
        alive *= 2.0
        wait *= 2.0
    else:
        less, sooner = faded(3, H, rho, e * e * e, lone)
        alive = 6.0 * (alive - less)
        wait = 6.0 * (wait - sooner)
    return alive, company_ended(n, v, e) - alive, wait


@njit(cache=True, error_model="numpy", forceinline=True)
def small_expm1(x):  # type: ignore[no-untyped-def]  # compiled by numba
    """exp(x) - 1 for |x| < SHORT, to full digits."""
    out = 1.0 / 8.0
    for i in range(7, 1, -1):
        out = (1.0 + x * out) * (1.0 / i)
    return x * (1.0 + x * out)


@njit(cache=True, error_model="numpy")
def _in_short(n, H, rho):  # type: ignore[no-untyped-def]  # compiled by numba
    """`last_pair` of four queens or fewer when little has happened: Gauss-Legendre, no exp."""
    alive = 0.0
    gone = 0.0
    wait = 0.0
    for i in range(LEAST_X.size):
        u = H * LEAST_X[i]
        rest = H - u
        dead = -small_expm1(-u)
        density = H * LEAST_W[i] * company_end(n, dead, 1.0 - dead)
        fade = small_expm1(-rho * rest)
        alive += density * (1.0 + fade)
        gone -= density * fade
        wait += density * rest * (1.0 + fade)
    return alive, gone, wait


@njit(cache=True, error_model="numpy")
def _in_panels(n, H, rho):  # type: ignore[no-untyped-def]  # compiled by numba
    """`last_pair` of any number of queens: Gauss-Legendre, panel by panel."""
    alive = 0.0
    gone = 0.0
    wait = 0.0
    top = min(H, BEYOND)
    panels = math.ceil(top / PANEL)
    if panels < 1:
        panels = 1
    width = top / panels
    x, w = _nodes(width * (n + rho))
    for p in range(panels):
        for i in range(x.size):
            u = width * (p + x[i])
            rest = H - u
            dead, left = death_and_survival(u)
            density = width * w[i] * company_end(n, dead, left)
            fade = math.expm1(-rho * rest)
            alive += density * (1.0 + fade)
            gone -= density * fade
            wait += density * rest * (1.0 + fade)
    return alive, gone, wait


@njit(cache=True, error_model="numpy", forceinline=True)
def last_pair(n, H, rho, v, e):  # type: ignore[no-untyped-def]  # compiled by numba
    """Integrals over the end of company that the steps to one and to none share.

    Returns
    -------
    tuple of float
        ``alive`` = int D_n(u) exp(-rho (H-u)) du, ``gone`` = int D_n(u) (1 - exp(-rho (H-u))) du,
        and ``wait`` = int D_n(u) (H-u) exp(-rho (H-u)) du (minus the derivative of alive in rho).

    Notes
    -----
    Two and three queens have a closed form, whose differences lose digits when little has
    happened; then, and for more queens, Gauss-Legendre. ``v``, ``e`` are `death_and_survival` of H.
    """
    if n <= 3 and min(H, rho * H) > LITTLE * (n - 1):
        return _two_or_three(n, H, rho, v, e)
    if n <= 4 and H * (n + rho) < SHORT:
        return _in_short(n, H, rho)
    return _in_panels(n, H, rho)


@njit(cache=True, error_model="numpy")
def step(n, m, H, rho, last_fight):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chance that n living queens become m, with its gradient.

    Parameters
    ----------
    n, m : int
        Queens before and after.
    H : float
        Hazard of one queen in company, integrated over the interval.
    rho : float
        Lone hazard divided by the hazard in company, constant over the interval.
    theta : float
        Share of losses from two that take both.

    Returns
    -------
    tuple of float
        Chance, and its derivatives in H, rho and theta.
    """
    if m > n or m < 0:
        return 0.0, 0.0, 0.0, 0.0
    if n == 0:
        return 1.0, 0.0, 0.0, 0.0
    if n == 1:
        v, e = death_and_survival(rho * H)
        if m == 1:
            return e, -rho * e, -H * e, 0.0
        return v, rho * e, H * e, 0.0
    v, e = death_and_survival(H)
    if m >= 2:
        lost = n - m
        p = choose(n, m) * e**m
        if lost == 0:
            return p, -n * p, 0.0, 0.0
        p *= v ** (lost - 1)
        return p * v, p * (lost * e - m * v), 0.0, 0.0
    alive, gone, wait = last_pair(n, H, rho, v, e)
    ends = company_end(n, v, e)
    keep = 1.0 - last_fight
    if m == 1:
        return keep * alive, keep * (ends - rho * alive), -keep * wait, -alive
    ended = company_ended(n, v, e)
    return (
        last_fight * ended + keep * gone,
        last_fight * ends + keep * rho * alive,
        keep * wait,
        ended - gone,
    )
