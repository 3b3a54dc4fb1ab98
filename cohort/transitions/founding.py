"""The likelihood of one founding and its slopes, in one pass.

Comes in: one record of a packed study (see `layout`) and the rates that apply to it. Goes out:
its log-likelihood, and the slopes in every log rate. Never: priors, genera, sampling.

What is summed (statistics.md, section 2): over the explanation "no worker before the end",
(1 - phi F(end)) times the founding-phase path, and over the unseen day e of the first worker:
phi times the exact log-normal chance of each small cell of days times the path with e in its
middle. The path changes little within a cell, the chance of the day may change a lot: nodes of a
density would slip past it when first days spread little. Sums run through a streaming
log-sum-exp, so that far-off parameters of a warm-up do not underflow.

The edges of a founding with a shelf log are taken on its warm clock (see `warmed`); the path stays
in days.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from cohort.transitions import BORROWS
from cohort.transitions.counts import choose, fallen, step
from cohort.transitions.layout import (
    AFTER,
    BASE_COMPANY,
    BASE_FROM,
    BASE_LONE,
    BASE_TO,
    BEFORE,
    COMPANY1,
    COMPANY2,
    EXPOSURE,
    LEAST,
    LOG_END,
    LOG_FROM,
    LOG_TO,
    LONE1,
    LONE2,
    N1,
    N2,
    NODES_FROM,
    NODES_TO,
    NONE,
    NONE_COMPANY,
    NONE_FROM,
    NONE_LONE,
    NONE_TO,
    PHASE,
    ROWS_FROM,
    ROWS_TO,
    SOME,
    SPLIT1,
    SPLIT2,
    SPLIT_AFTER,
    SPLIT_BEFORE,
    WARM_END,
    WARM_FROM,
    WARM_NODE,
    WARM_RECORD,
    WARM_TO,
)
from cohort.transitions.tails import TINY, between, beyond
from cohort.transitions.warmed import warmed

# slopes of one founding: log hazards of both phases by piece, then the rest
D1 = 0
D_TOGETHER = D1 + N1
D2 = D_TOGETHER + 1
D_RIVALRY = D2 + N2
D_BOTH = D_RIVALRY + 1
D_LOG_DAY = D_BOTH + 1
D_TAU = D_LOG_DAY + 1
D_FERTILE = D_TAU + 1
D_THRESHOLD = D_FERTILE + 1
SLOPES = D_THRESHOLD + 1

# rates of one founding, one flat array
R_COMPANY1 = 0
R_LONE1 = R_COMPANY1 + N1
R_COMPANY2 = R_LONE1 + N1
R_LONE2 = R_COMPANY2 + N2
R_RHO1 = R_LONE2 + N2
R_RHO2 = R_RHO1 + 1
R_BOTH = R_RHO2 + 1
R_LOG_DAY = R_BOTH + 1
R_TAU = R_LOG_DAY + 1
R_FERTILE = R_TAU + 1
R_THRESHOLD = R_FERTILE + 1
RATES = R_THRESHOLD + 1


@njit(**BORROWS)
def quiet(table, at, company, lone, pieces, rates, r_company, r_lone, slopes, d, d_ratio):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log chance that nobody dies: exposure sums times rates; adds its slopes."""
    total = 0.0
    for j in range(pieces):
        x = table[at, company + j] * rates[r_company + j]
        y = table[at, lone + j] * rates[r_lone + j]
        total -= x + y
        slopes[d + j] -= x + y
        slopes[d_ratio] -= x
    return total


@njit(**BORROWS)
def fewer(n, m, H, rho, theta):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chance, with slopes, that n queens become m, or for m = SOME that any is left."""
    if m != SOME:
        return step(n, m, H, rho, theta)
    p, in_h, in_rho, in_theta = step(n, 0, H, rho, theta)
    return 1.0 - p, -in_h, -in_rho, -in_theta


@njit(**BORROWS)
def loss(rows, at, rates, slopes):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log chance of one interval with a loss; adds its slopes."""
    n = int(rows[at, BEFORE])
    m = int(rows[at, AFTER])
    if rows[at, PHASE] == 0.0:
        pieces, company, lone, d, d_ratio = N1, R_COMPANY1, R_LONE1, D1, D_TOGETHER
        rho, theta = rates[R_RHO1], 0.0
    else:
        pieces, company, lone, d, d_ratio = N2, R_COMPANY2, R_LONE2, D2, D_RIVALRY
        rho, theta = rates[R_RHO2], rates[R_BOTH]
    if n == 1:
        H = 0.0
        for j in range(pieces):
            H += rows[at, EXPOSURE + j] * rates[lone + j]
        v, e = fallen(H)
        v = max(v, TINY)
        slope = e / v
        for j in range(pieces):
            slopes[d + j] += slope * rows[at, EXPOSURE + j] * rates[lone + j]
        return math.log(v)
    H = 0.0
    for j in range(pieces):
        H += rows[at, EXPOSURE + j] * rates[company + j]
    if m >= 2:
        v, e = fallen(H)
        v = max(v, TINY)
        value = math.log(choose(n, m)) - m * H + (n - m) * math.log(v)
        slope = -m + (n - m) * e / v
    else:
        p, in_h, in_rho, in_theta = fewer(n, m, H, rho, theta)
        if p < TINY:
            return math.log(TINY)
        value = math.log(p)
        slope = in_h / p
        slopes[d_ratio] -= in_rho * rho / p
        if rows[at, PHASE] == 1.0:
            slopes[D_BOTH] += in_theta / p
    for j in range(pieces):
        slopes[d + j] += slope * rows[at, EXPOSURE + j] * rates[company + j]
    slopes[d_ratio] += slope * H
    return value


@njit(**BORROWS)
def split(nodes, at, rates, slopes):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log chance of an interval with a loss that holds the first worker; adds its slopes.

    Sums over the unseen count c at E: founding phase n -> c, worker phase c -> a.
    """
    n = int(nodes[at, SPLIT_BEFORE])
    a = int(nodes[at, SPLIT_AFTER])
    least = max(int(nodes[at, LEAST]), a)
    h1 = 0.0
    h2 = 0.0
    for j in range(N1):
        h1 += nodes[at, SPLIT1 + j] * rates[R_COMPANY1 + j]
    for j in range(N2):
        h2 += nodes[at, SPLIT2 + j] * rates[R_COMPANY2 + j]
    p = 0.0
    in_h1 = 0.0
    in_h2 = 0.0
    in_rho1 = 0.0
    in_rho2 = 0.0
    in_theta = 0.0
    for c in range(least, n + 1):
        p1, p1_h, p1_rho, _ = step(n, c, h1, rates[R_RHO1], 0.0)
        p2, p2_h, p2_rho, p2_theta = step(c, a, h2, rates[R_RHO2], rates[R_BOTH])
        p += p1 * p2
        in_h1 += p1_h * p2
        in_rho1 += p1_rho * p2
        in_h2 += p1 * p2_h
        in_rho2 += p1 * p2_rho
        in_theta += p1 * p2_theta
    if p < TINY:
        return math.log(TINY)
    for j in range(N1):
        slopes[D1 + j] += in_h1 * nodes[at, SPLIT1 + j] * rates[R_COMPANY1 + j] / p
    for j in range(N2):
        slopes[D2 + j] += in_h2 * nodes[at, SPLIT2 + j] * rates[R_COMPANY2 + j] / p
    slopes[D_TOGETHER] += (in_h1 * h1 - in_rho1 * rates[R_RHO1]) / p
    slopes[D_RIVALRY] += (in_h2 * h2 - in_rho2 * rates[R_RHO2]) / p
    slopes[D_BOTH] += in_theta / p
    return math.log(p)


@njit(**BORROWS)
def cell_edge(nodes, at, plain, warm, rates):  # type: ignore[no-untyped-def]  # compiled by numba
    """One edge of a cell of days: its place in SDs, its slope in the threshold, and `beyond`."""
    day, in_level = nodes[at, plain], 0.0
    if nodes.shape[1] > WARM_NODE and nodes[at, WARM_NODE] > 0.0:
        day, in_level = warmed(nodes, at, plain, WARM_NODE, warm, rates[R_THRESHOLD])
    x = (day - rates[R_LOG_DAY]) / rates[R_TAU]
    return x, in_level, beyond(x)


@njit(**BORROWS)
def next_edge(nodes, at, first, stop, rates):  # type: ignore[no-untyped-def]  # compiled by numba
    """Edge at which a cell begins: ``stop`` of the cell before it, where the two meet."""
    if at > first and nodes[at, LOG_FROM] != nodes[at - 1, LOG_TO]:
        return cell_edge(nodes, at, LOG_FROM, WARM_FROM, rates)
    return stop


@njit(**BORROWS)
def with_first_day(nodes, at, start, rows, rates, slopes):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log of the chance of E in one cell x path; ``slopes`` is cleared, then filled.

    ``start`` is the `cell_edge` at which the cell begins; that at its end is returned as well.
    """
    slopes[:] = 0.0
    tau = rates[R_TAU]
    a, in_start, tail_a = start
    stop = cell_edge(nodes, at, LOG_TO, WARM_TO, rates)
    b, in_stop, tail_b = stop
    value, at_a, at_b = between(a, tail_a, b, tail_b)
    slopes[D_THRESHOLD] += (at_b * in_stop - at_a * in_start) / tau
    slopes[D_LOG_DAY] += (at_a - at_b) / tau
    slopes[D_TAU] += (a * at_a - b * at_b) / tau
    value += quiet(
        nodes, at, COMPANY1, LONE1, N1, rates, R_COMPANY1, R_LONE1, slopes, D1, D_TOGETHER
    )
    value += quiet(
        nodes, at, COMPANY2, LONE2, N2, rates, R_COMPANY2, R_LONE2, slopes, D2, D_RIVALRY
    )
    for r in range(int(nodes[at, ROWS_FROM]), int(nodes[at, ROWS_TO])):
        value += loss(rows, r, rates, slopes)
    if nodes[at, LEAST] >= 0.0:
        value += split(nodes, at, rates, slopes)
    return value, stop


@njit(**BORROWS)
def without_worker(records, i, rows, rates, slopes):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log of (1 - phi F(end)) x founding-phase path; ``slopes`` is cleared, then filled."""
    slopes[:] = 0.0
    tau, phi = rates[R_TAU], rates[R_FERTILE]
    end = records[i, LOG_END]
    in_end = 0.0
    if records.shape[1] > WARM_RECORD and records[i, WARM_RECORD] > 0.0:
        end, in_end = warmed(records, i, LOG_END, WARM_RECORD, WARM_END, rates[R_THRESHOLD])
    x = (end - rates[R_LOG_DAY]) / tau
    tail, density = beyond(x)
    late = tail if x >= 0.0 else 1.0 - tail
    p = max((1.0 - phi) + phi * late, TINY)
    slopes[D_LOG_DAY] += phi * density / tau / p
    slopes[D_TAU] += phi * density * x / tau / p
    slopes[D_FERTILE] -= (1.0 - late) / p
    slopes[D_THRESHOLD] -= phi * density * in_end / tau / p
    value = math.log(p) + quiet(
        records, i, NONE_COMPANY, NONE_LONE, N1, rates, R_COMPANY1, R_LONE1, slopes, D1, D_TOGETHER
    )
    for r in range(int(records[i, NONE_FROM]), int(records[i, NONE_TO])):
        value += loss(rows, r, rates, slopes)
    return value


@njit(**BORROWS)
def founding(records, i, rows, nodes, rates, slopes, term, mixed):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log-likelihood of record i at the given rates; ``slopes`` is cleared, then filled.

    ``term`` and ``mixed`` are scratch of length `SLOPES`. Slopes are with respect to log
    hazards, the two log ratios, theta, the mean log day, tau, phi and threshold, in that order.
    """
    slopes[:] = 0.0
    value = quiet(
        records, i, BASE_COMPANY, BASE_LONE, N1, rates, R_COMPANY1, R_LONE1, slopes, D1, D_TOGETHER
    )
    for r in range(int(records[i, BASE_FROM]), int(records[i, BASE_TO])):
        value += loss(rows, r, rates, slopes)
    mixed[:] = 0.0
    top = -np.inf
    total = 0.0
    if records[i, NONE] == 1.0:
        top = without_worker(records, i, rows, rates, term)
        total = 1.0
        for j in range(SLOPES):  # not array to array: numba would compile an error text for it
            mixed[j] = term[j]
    first, last = int(records[i, NODES_FROM]), int(records[i, NODES_TO])
    if last > first:
        phi = max(rates[R_FERTILE], TINY)
        log_phi = math.log(phi)
        stop = cell_edge(nodes, first, LOG_FROM, WARM_FROM, rates)
        for q in range(first, last):
            start = next_edge(nodes, q, first, stop, rates)
            here, stop = with_first_day(nodes, q, start, rows, rates, term)
            here += log_phi
            term[D_FERTILE] += 1.0 / phi
            if here > top:
                shrink = math.exp(top - here)
                for j in range(SLOPES):
                    mixed[j] = mixed[j] * shrink + term[j]
                total = total * shrink + 1.0
                top = here
            else:
                share = math.exp(here - top)
                for j in range(SLOPES):
                    mixed[j] += share * term[j]
                total += share
    for j in range(SLOPES):
        slopes[j] += mixed[j] / total
    return value + top + math.log(total)
