"""The likelihood of one founding and its gradient, in one pass.

Comes in: one record of a packed study (see `layout`) and the rates that apply to it. Goes out:
its log-likelihood, and the gradient in every log rate. Never: priors, genera, sampling.

What is summed (statistics.md, section 2): over the explanation "no worker before the end",
(1 - phi F(end)) times the founding-phase path, and over the unseen day e of the first worker:
phi times the exact log-normal chance of each small cell of days times the path with e in its
middle. The path changes little within a cell, the chance of the day may change a lot: nodes of a
density would slip past it when first days spread little. Sums run through a streaming
log-sum-exp, so that far-off parameters of a warm-up do not underflow.

The edges of a founding with a shelf log are taken on its warm clock (see `warmed`); the path stays
in days. Days of winter rest are no days of the path: they stand in rows of their own (`winter`).
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from cohort.likelihood import BORROWS
from cohort.likelihood.layout import (
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
from cohort.likelihood.rates import (
    D1,
    D2,
    D_FERTILE,
    D_LAST_FIGHT,
    D_LOG_DAY,
    D_RIVALRY,
    D_THRESHOLD,
    D_TOGETHER,
    D_WITHIN_DAYS,
    GRADIENT,
    R_COMPANY1,
    R_COMPANY2,
    R_FERTILE,
    R_LAST_FIGHT,
    R_LOG_DAY,
    R_LONE1,
    R_LONE2,
    R_RHO1,
    R_RHO2,
    R_THRESHOLD,
    R_WITHIN_DAYS,
)
from cohort.likelihood.tails import TINY, between, beyond
from cohort.likelihood.transition_probabilities import choose, death_and_survival, step
from cohort.likelihood.warmed import warmed
from cohort.likelihood.winter import in_winter


@njit(**BORROWS)
def log_survival(table, at, company, lone, pieces, rates, r_company, r_lone, gradient, d, d_ratio):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log chance that nobody dies: exposure sums times rates; adds its gradient."""
    total = 0.0
    for j in range(pieces):
        x = table[at, company + j] * rates[r_company + j]
        y = table[at, lone + j] * rates[r_lone + j]
        total -= x + y
        gradient[d + j] -= x + y
        gradient[d_ratio] -= x
    return total


@njit(**BORROWS)
def fewer(n, m, H, rho, last_fight):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chance, with its gradient, that n queens become m, or for m = SOME that any is left."""
    if m != SOME:
        return step(n, m, H, rho, last_fight)
    p, in_h, in_rho, in_theta = step(n, 0, H, rho, last_fight)
    return 1.0 - p, -in_h, -in_rho, -in_theta


@njit(**BORROWS)
def loss(rows, at, rates, gradient):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log chance of one interval with a loss, or with winter rest; adds its gradient."""
    if rows[at, PHASE] < 0.0:
        return 0.0  # a stage that the last one of its interval tells of
    if rows[at, PHASE] >= 2.0:
        return in_winter(rows, at, rates, gradient)
    return in_one_phase(rows, at, rates, gradient)


@njit(**BORROWS)
def in_one_phase(rows, at, rates, gradient):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log chance of an interval with a loss, in one phase; adds its gradient."""
    n = int(rows[at, BEFORE])
    m = int(rows[at, AFTER])
    if rows[at, PHASE] == 0.0:
        pieces, company, lone, d, d_ratio = N1, R_COMPANY1, R_LONE1, D1, D_TOGETHER
        rho, last_fight = rates[R_RHO1], 0.0
    else:
        pieces, company, lone, d, d_ratio = N2, R_COMPANY2, R_LONE2, D2, D_RIVALRY
        rho, last_fight = rates[R_RHO2], rates[R_LAST_FIGHT]
    if n == 1:
        H = 0.0
        for j in range(pieces):
            H += rows[at, EXPOSURE + j] * rates[lone + j]
        v, e = death_and_survival(H)
        v = max(v, TINY)
        slope = e / v
        for j in range(pieces):
            gradient[d + j] += slope * rows[at, EXPOSURE + j] * rates[lone + j]
        return math.log(v)
    H = 0.0
    for j in range(pieces):
        H += rows[at, EXPOSURE + j] * rates[company + j]
    if m >= 2:
        v, e = death_and_survival(H)
        v = max(v, TINY)
        value = math.log(choose(n, m)) - m * H + (n - m) * math.log(v)
        slope = -m + (n - m) * e / v
    else:
        p, in_h, in_rho, in_theta = fewer(n, m, H, rho, last_fight)
        if p < TINY:
            return math.log(TINY)
        value = math.log(p)
        slope = in_h / p
        gradient[d_ratio] -= in_rho * rho / p
        if rows[at, PHASE] == 1.0:
            gradient[D_LAST_FIGHT] += in_theta / p
    for j in range(pieces):
        gradient[d + j] += slope * rows[at, EXPOSURE + j] * rates[company + j]
    gradient[d_ratio] += slope * H
    return value


@njit(**BORROWS)
def split(nodes, at, rates, gradient):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log chance of an interval with a loss that holds the first worker; adds its gradient.

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
        p2, p2_h, p2_rho, p2_theta = step(c, a, h2, rates[R_RHO2], rates[R_LAST_FIGHT])
        p += p1 * p2
        in_h1 += p1_h * p2
        in_rho1 += p1_rho * p2
        in_h2 += p1 * p2_h
        in_rho2 += p1 * p2_rho
        in_theta += p1 * p2_theta
    if p < TINY:
        return math.log(TINY)
    for j in range(N1):
        gradient[D1 + j] += in_h1 * nodes[at, SPLIT1 + j] * rates[R_COMPANY1 + j] / p
    for j in range(N2):
        gradient[D2 + j] += in_h2 * nodes[at, SPLIT2 + j] * rates[R_COMPANY2 + j] / p
    gradient[D_TOGETHER] += (in_h1 * h1 - in_rho1 * rates[R_RHO1]) / p
    gradient[D_RIVALRY] += (in_h2 * h2 - in_rho2 * rates[R_RHO2]) / p
    gradient[D_LAST_FIGHT] += in_theta / p
    return math.log(p)


@njit(**BORROWS)
def cell_edge(nodes, at, plain, warm, rates):  # type: ignore[no-untyped-def]  # compiled by numba
    """One edge of a cell of days: place in SDs, derivative in the threshold, `beyond`."""
    day, in_level = nodes[at, plain], 0.0
    if nodes.shape[1] > WARM_NODE and nodes[at, WARM_NODE] > 0.0:
        day, in_level = warmed(nodes, at, plain, WARM_NODE, warm, rates[R_THRESHOLD])
    x = (day - rates[R_LOG_DAY]) / rates[R_WITHIN_DAYS]
    return x, in_level, beyond(x)


@njit(**BORROWS)
def next_edge(nodes, at, first, stop, rates):  # type: ignore[no-untyped-def]  # compiled by numba
    """Edge at which a cell begins: ``stop`` of the cell before it, where the two meet."""
    if at > first and nodes[at, LOG_FROM] != nodes[at - 1, LOG_TO]:
        return cell_edge(nodes, at, LOG_FROM, WARM_FROM, rates)
    return stop


@njit(**BORROWS)
def with_first_day(nodes, at, start, rows, rates, gradient):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log of the chance of E in one cell x path; ``gradient`` is cleared, then filled.

    ``start`` is the `cell_edge` at which the cell begins; that at its end is returned as well.
    """
    gradient[:] = 0.0
    within_days = rates[R_WITHIN_DAYS]
    a, in_start, tail_a = start
    stop = cell_edge(nodes, at, LOG_TO, WARM_TO, rates)
    b, in_stop, tail_b = stop
    value, at_a, at_b = between(a, tail_a, b, tail_b)
    gradient[D_THRESHOLD] += (at_b * in_stop - at_a * in_start) / within_days
    gradient[D_LOG_DAY] += (at_a - at_b) / within_days
    gradient[D_WITHIN_DAYS] += (a * at_a - b * at_b) / within_days
    value += log_survival(
        nodes, at, COMPANY1, LONE1, N1, rates, R_COMPANY1, R_LONE1, gradient, D1, D_TOGETHER
    )
    value += log_survival(
        nodes, at, COMPANY2, LONE2, N2, rates, R_COMPANY2, R_LONE2, gradient, D2, D_RIVALRY
    )
    for r in range(int(nodes[at, ROWS_FROM]), int(nodes[at, ROWS_TO])):
        value += loss(rows, r, rates, gradient)
    if nodes[at, LEAST] >= 0.0:
        value += split(nodes, at, rates, gradient)
    return value, stop


@njit(**BORROWS)
def without_worker(records, i, rows, rates, gradient):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log of (1 - phi F(end)) x founding-phase path; ``gradient`` is cleared, then filled."""
    gradient[:] = 0.0
    within_days, phi = rates[R_WITHIN_DAYS], rates[R_FERTILE]
    end = records[i, LOG_END]
    in_end = 0.0
    if records.shape[1] > WARM_RECORD and records[i, WARM_RECORD] > 0.0:
        end, in_end = warmed(records, i, LOG_END, WARM_RECORD, WARM_END, rates[R_THRESHOLD])
    x = (end - rates[R_LOG_DAY]) / within_days
    tail, density = beyond(x)
    late = tail if x >= 0.0 else 1.0 - tail
    p = max((1.0 - phi) + phi * late, TINY)
    gradient[D_LOG_DAY] += phi * density / within_days / p
    gradient[D_WITHIN_DAYS] += phi * density * x / within_days / p
    gradient[D_FERTILE] -= (1.0 - late) / p
    gradient[D_THRESHOLD] -= phi * density * in_end / within_days / p
    value = math.log(p) + log_survival(
        records,
        i,
        NONE_COMPANY,
        NONE_LONE,
        N1,
        rates,
        R_COMPANY1,
        R_LONE1,
        gradient,
        D1,
        D_TOGETHER,
    )
    for r in range(int(records[i, NONE_FROM]), int(records[i, NONE_TO])):
        value += loss(rows, r, rates, gradient)
    return value


@njit(**BORROWS)
def founding(records, i, rows, nodes, rates, gradient, term, mixed):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log-likelihood of record i at the given rates; ``gradient`` is cleared, then filled.

    ``term`` and ``mixed`` are scratch of length `GRADIENT`. The gradient is with respect to log
    hazards, the two log ratios, theta, the mean log day, tau, phi and threshold, in that order.
    """
    gradient[:] = 0.0
    value = log_survival(
        records,
        i,
        BASE_COMPANY,
        BASE_LONE,
        N1,
        rates,
        R_COMPANY1,
        R_LONE1,
        gradient,
        D1,
        D_TOGETHER,
    )
    for r in range(int(records[i, BASE_FROM]), int(records[i, BASE_TO])):
        value += loss(rows, r, rates, gradient)
    mixed[:] = 0.0
    top = -np.inf
    total = 0.0
    if records[i, NONE] == 1.0:
        top = without_worker(records, i, rows, rates, term)
        total = 1.0
        for j in range(GRADIENT):  # not array to array: numba would compile an error text for it
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
                for j in range(GRADIENT):
                    mixed[j] = mixed[j] * shrink + term[j]
                total = total * shrink + 1.0
                top = here
            else:
                share = math.exp(here - top)
                for j in range(GRADIENT):
                    mixed[j] += share * term[j]
                total += share
    for j in range(GRADIENT):
        gradient[j] += mixed[j] / total
    return value + top + math.log(total)
