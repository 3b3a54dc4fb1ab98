"""Winter rest: intervals that hold days of it, and their gradient.

Comes in: rows of a packed study that `exposure` marked as cold (see `layout.COLD`) and the rates
that apply to them. Goes out: a log chance, and the gradient in every rate. Never: which days
are cold.

Within a stage (before or with workers, warm or in winter rest) the hazard of a lone queen is a
fixed multiple of that in company, and `transition_probabilities` has the chances. From stage to
stage that multiple changes. So an interval with a loss and several stages is a product of
transition matrices, the counts between them unseen: chances of counts run forward, those of what
was seen at the end backward, and each stage's derivative stands between the two.
"""

from __future__ import annotations

import math

from numba import njit

from cohort.likelihood import BORROWS, ONCE
from cohort.likelihood.layout import AFTER, BEFORE, EXPOSURE, LINK, N1, N2, PHASE, SOME
from cohort.likelihood.rates import (
    R_COMPANY1,
    R_COMPANY2,
    R_LAST_FIGHT,
    R_RHO1,
    R_RHO2,
    R_RHO_WINTER,
    R_ROOM,
    R_WINTER1,
    R_WINTER2,
)
from cohort.likelihood.tails import TINY
from cohort.likelihood.transition_probabilities import step


@njit(**BORROWS)
def stage(rows, at, phase, rates):  # type: ignore[no-untyped-def]  # compiled by numba
    """Hazard in company run up in a stage, its ratio rho, the share of last fights."""
    if phase == 2:
        return rows[at, EXPOSURE] * rates[R_WINTER1], rates[R_RHO_WINTER], 0.0
    if phase == 3:  # nobody fights in the cold
        return rows[at, EXPOSURE] * rates[R_WINTER2], rates[R_RHO_WINTER], 0.0
    H = 0.0
    if phase == 0:
        for j in range(N1):
            H += rows[at, EXPOSURE + j] * rates[R_COMPANY1 + j]
        return H, rates[R_RHO1], 0.0
    for j in range(N2):
        H += rows[at, EXPOSURE + j] * rates[R_COMPANY2 + j]
    return H, rates[R_RHO2], rates[R_LAST_FIGHT]


@njit(**BORROWS)
def spread_stage(rows, at, phase, in_h, in_rho, in_theta, gradient):  # type: ignore[no-untyped-def]  # compiled by numba
    """Carry the derivatives of a log chance in one `stage` to the rates."""
    if phase >= 2:
        gradient[R_WINTER1 if phase == 2 else R_WINTER2] += in_h * rows[at, EXPOSURE]
        gradient[R_RHO_WINTER] += in_rho
    elif phase == 0:
        for j in range(N1):
            gradient[R_COMPANY1 + j] += in_h * rows[at, EXPOSURE + j]
        gradient[R_RHO1] += in_rho
    else:
        for j in range(N2):
            gradient[R_COMPANY2 + j] += in_h * rows[at, EXPOSURE + j]
        gradient[R_RHO2] += in_rho
        gradient[R_LAST_FIGHT] += in_theta


@njit(**BORROWS)
def phase_of_row(code):  # type: ignore[no-untyped-def]  # compiled by numba
    """Phase of a stage, winter rest told apart: 0 to 3."""
    return int(-1.0 - code) if code < 0.0 else int(code) % LINK


@njit(**ONCE)
def forward(rows, first, last, n, rates):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chances of counts at the start of each stage and at the end of the last, behind the rates."""
    width = n + 1
    for i in range((last - first + 2) * width):
        rates[R_ROOM + i] = 0.0
    rates[R_ROOM + n] = 1.0
    for at in range(first, last + 1):
        H, rho, last_fight = stage(rows, at, phase_of_row(rows[at, PHASE]), rates)
        here = R_ROOM + (at - first) * width
        least = int(rows[at, AFTER]) if at < last else 0
        for c in range(width):
            if rates[here + c] > 0.0:
                for m in range(least, c + 1):
                    p = step(c, m, H, rho, last_fight)[0]
                    rates[here + width + m] += rates[here + c] * p


@njit(**ONCE)
def backward(rows, first, last, n, whole, rates, gradient):  # type: ignore[no-untyped-def]  # compiled by numba
    """Add the gradient of the log of ``whole``, stage by stage from the last; see `forward`.

    The chance of what was seen at the end, by count, lies behind those of `forward`.
    """
    width = n + 1
    seen = R_ROOM + (last - first + 2) * width
    for back in range(last - first + 1):
        at = last - back
        phase = phase_of_row(rows[at, PHASE])
        H, rho, last_fight = stage(rows, at, phase, rates)
        here, least = R_ROOM + (at - first) * width, 0
        if at < last:
            least = int(rows[at, AFTER])
        in_h, in_rho, in_theta = 0.0, 0.0, 0.0
        for c in range(n, -1, -1):  # from the top: what is seen of c is no more asked for below
            total = 0.0
            for m in range(least, c + 1):
                p, p_h, p_rho, p_theta = step(c, m, H, rho, last_fight)
                total += p * rates[seen + m]
                weight = rates[here + c] * rates[seen + m] / whole
                in_h += weight * p_h
                in_rho += weight * p_rho
                in_theta += weight * p_theta
            rates[seen + c] = total
        spread_stage(rows, at, phase, in_h, in_rho, in_theta, gradient)


@njit(**ONCE)
def in_winter(rows, at, rates, gradient):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log chance of an interval that holds winter rest, told by its last row; adds its gradient."""
    n, m = int(rows[at, BEFORE]), int(rows[at, AFTER])
    first = at - int(rows[at, PHASE]) // LINK
    if n == m:  # nobody died, and it is all winter rest
        H, rho, _ = stage(rows, at, int(rows[at, PHASE]), rates)
        if n == 1:
            spread_stage(rows, at, int(rows[at, PHASE]), -rho, -H, 0.0, gradient)
            return -rho * H
        spread_stage(rows, at, int(rows[at, PHASE]), -float(n), 0.0, 0.0, gradient)
        return -n * H
    forward(rows, first, at, n, rates)
    end = R_ROOM + (at - first + 1) * (n + 1)
    whole = 0.0
    for c in range(n + 1):
        fits = 1.0 if c == m or (m == SOME and c > 0) else 0.0
        whole += fits * rates[end + c]
        rates[end + n + 1 + c] = fits
    if whole < TINY:
        return math.log(TINY)
    backward(rows, first, at, n, whole, rates, gradient)
    return math.log(whole)
