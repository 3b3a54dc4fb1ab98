"""The likelihood of one founding and its gradient, in one pass.

Comes in: one record of a packed study (see `layout`) and the rates that apply to it. Goes out:
its log-likelihood, and the gradient in every rate. Never: priors, genera, sampling.

What is summed (statistics.md, section 2): over the explanation "no worker before the end",
(1 - phi F(end)) times the founding-phase path, and over the unseen day e of the first worker:
phi times the exact log-normal chance of each small cell of days times the path with e in its
middle. The path changes little within a cell, the chance of the day may change a lot: nodes of a
density would slip past it when first days spread little. Each chance is a log and a factor, and
the sum is scaled by the largest log so far, so that far-off parameters of a warm-up do not
underflow and few logs are taken.

The edges of a founding with a shelf log are taken on its warm clock (see `warmed`); the path stays
in days. Days of winter rest are no days of the path: they stand in rows of their own (`winter`).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit

from cohort.likelihood import BORROWS, ONCE
from cohort.likelihood.layout import (
    AFTER,
    BASE_COMPANY,
    BASE_FROM,
    BASE_TO,
    BEFORE,
    COMPANY1,
    EXPOSURE,
    LEAST,
    LOG_END,
    LOG_FROM,
    LOG_TO,
    N1,
    N2,
    NODES_FROM,
    NODES_TO,
    NONE,
    NONE_COMPANY,
    NONE_FROM,
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
    GRADIENT,
    HAZARDS,
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
from cohort.likelihood.transition_probabilities import choose, death_and_survival, power, step
from cohort.likelihood.warmed import warmed
from cohort.likelihood.winter import in_winter

SLIGHT = 1e-100
"""Below this the log of a running product is taken, and the product begins again at 1."""
LEAST_FERTILE = 1e-15
"""Least chance of having workers at all, so that it can be multiplied by a slight path."""


@njit(**ONCE)
def fewer(n, m, H, rho, last_fight):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chance, with its gradient, that n queens become m, or for m = SOME that any is left."""
    if m != SOME:
        return step(n, m, H, rho, last_fight)
    p, in_h, in_rho, in_theta = step(n, 0, H, rho, last_fight)
    return 1.0 - p, -in_h, -in_rho, -in_theta


@njit(**ONCE)
def in_one_phase(rows, at, rates, gradient):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chance of an interval with a loss, in one phase, as `loss`."""
    n = int(rows[at, BEFORE])
    m = int(rows[at, AFTER])
    if rows[at, PHASE] == 0.0:
        pieces, company, lone = N1, R_COMPANY1, R_LONE1
        in_ratio, last_fight = R_RHO1, 0.0
    else:
        pieces, company, lone = N2, R_COMPANY2, R_LONE2
        in_ratio, last_fight = R_RHO2, rates[R_LAST_FIGHT]
    hazard = lone if n == 1 else company
    H = 0.0
    for j in range(pieces):
        H += rows[at, EXPOSURE + j] * rates[hazard + j]
    if n == 1 or m >= 2:
        v, e = death_and_survival(H)
        v, lost = max(v, TINY), n - m
        log_part, factor = -m * H, choose(n, m) * power(v, lost)
        if factor < SLIGHT:
            log_part += math.log(choose(n, m)) + lost * math.log(v)
            factor = 1.0
        slope = lost * e / v - m
    else:
        factor, in_h, in_rho, in_theta = fewer(n, m, H, rates[in_ratio], last_fight)
        log_part = 0.0
        if factor < TINY:
            return 0.0, TINY
        slope = in_h / factor
        gradient[in_ratio] += in_rho / factor
        if rows[at, PHASE] == 1.0:
            gradient[R_LAST_FIGHT] += in_theta / factor
    for j in range(pieces):
        gradient[hazard + j] += slope * rows[at, EXPOSURE + j]
    return log_part, factor


@njit(**ONCE)
def loss(rows, at, rates, gradient):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chance of one interval with a loss, or with winter rest; adds the gradient of its log.

    Returns a log and a factor: the chance is factor x exp(log).
    """
    if rows[at, PHASE] < 0.0:
        return 0.0, 1.0  # a stage that the last one of its interval tells of
    if rows[at, PHASE] >= 2.0:
        return in_winter(rows, at, rates, gradient), 1.0
    return in_one_phase(rows, at, rates, gradient)


@njit(**BORROWS)
def losses(rows, first, last, rates, gradient):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chance of several intervals, a log and a factor as `loss` of one."""
    log_part, factor = 0.0, 1.0
    for r in range(first, last):
        more, here = loss(rows, r, rates, gradient)
        log_part += more
        factor *= here
        if factor < SLIGHT:
            log_part += math.log(max(factor, TINY))
            factor = 1.0
    return log_part, factor


@njit(**ONCE)
def split(nodes, at, rates, gradient):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chance of an interval with a loss that holds the first worker; adds gradient of its log.

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
        return TINY
    for j in range(N1):
        gradient[R_COMPANY1 + j] += in_h1 / p * nodes[at, SPLIT1 + j]
    for j in range(N2):
        gradient[R_COMPANY2 + j] += in_h2 / p * nodes[at, SPLIT2 + j]
    gradient[R_RHO1] += in_rho1 / p
    gradient[R_RHO2] += in_rho2 / p
    gradient[R_LAST_FIGHT] += in_theta / p
    return p


@njit(forceinline=True, **BORROWS)
def cell_edge(nodes, at, plain, warm, rates):  # type: ignore[no-untyped-def]  # compiled by numba
    """One edge of a cell of days: place in SDs, derivative in the threshold, `beyond`."""
    day, in_level = nodes[at, plain], 0.0
    if nodes.shape[1] > WARM_NODE and nodes[at, WARM_NODE] > 0.0:
        day, in_level = warmed(nodes, at, plain, WARM_NODE, warm, rates[R_THRESHOLD])
    x = (day - rates[R_LOG_DAY]) / rates[R_WITHIN_DAYS]
    return x, in_level, beyond(x)


@njit(**ONCE)
def next_edge(nodes, at, first, stop, rates):  # type: ignore[no-untyped-def]  # compiled by numba
    """Edge at which a cell begins: ``stop`` of the cell before it, where the two meet."""
    if at > first and nodes[at, LOG_FROM] != nodes[at - 1, LOG_TO]:
        return cell_edge(nodes, at, LOG_FROM, WARM_FROM, rates)
    return stop


class Cell(NamedTuple):
    """The first worker in one cell of days, and the path: ``path`` x exp(``log_path``) x ``mass``.

    ``stop`` is the `cell_edge` at its end, ``at_start`` and ``at_stop`` are the densities there
    (see `between`); ``lost`` says whether somebody was lost, so that there is a ``term``.
    """

    stop: tuple[float, float, tuple[float, float]]
    log_path: float
    path: float
    mass: float
    at_start: float
    at_stop: float
    lost: bool


@njit(**ONCE)
def with_first_day(nodes, at, start, rows, rates, term):  # type: ignore[no-untyped-def]  # compiled by numba
    """The first worker in one cell that begins at the `cell_edge` ``start``: a `Cell`.

    Where somebody was lost ``term`` is filled with the gradient of the log chance of the losses.
    """
    stop = cell_edge(nodes, at, LOG_TO, WARM_TO, rates)
    log_part, mass, at_start, at_stop = between(start[0], start[2], stop[0], stop[2])
    if mass < SLIGHT:
        log_part += math.log(mass)
        at_start, at_stop, mass = at_start / mass, at_stop / mass, 1.0
    for j in range(HAZARDS):
        log_part -= nodes[at, COMPANY1 + j] * rates[j]
    factor = 1.0
    first, last = int(nodes[at, ROWS_FROM]), int(nodes[at, ROWS_TO])
    lost = last > first or nodes[at, LEAST] >= 0.0
    if lost:
        for j in range(GRADIENT):
            term[j] = 0.0
        more, factor = losses(rows, first, last, rates, term)
        log_part += more
        if nodes[at, LEAST] >= 0.0:
            factor *= split(nodes, at, rates, term)
        if factor < SLIGHT:
            log_part += math.log(max(factor, TINY))
            factor = 1.0
    return Cell(stop, log_part, factor, mass, at_start, at_stop, lost)


@njit(**ONCE)
def add_first_day(nodes, at, start, cell, path, rates, term, gradient):  # type: ignore[no-untyped-def]  # compiled by numba
    """Add the gradient of the chance ``path`` x ``cell.mass``."""
    part = path / rates[R_WITHIN_DAYS]
    gradient[R_LOG_DAY] += part * (cell.at_start - cell.at_stop)
    gradient[R_WITHIN_DAYS] += part * (start[0] * cell.at_start - cell.stop[0] * cell.at_stop)
    gradient[R_THRESHOLD] += part * (cell.stop[1] * cell.at_stop - start[1] * cell.at_start)
    share = path * cell.mass
    for j in range(HAZARDS):
        gradient[j] -= share * nodes[at, COMPANY1 + j]
    if cell.lost:
        for j in range(GRADIENT):
            gradient[j] += share * term[j]


@njit(**ONCE)
def with_worker(records, i, rows, nodes, rates, top, total, gradient, term):  # type: ignore[no-untyped-def]  # compiled by numba
    """Add the chance of phi x the first worker in each cell x path, and its gradient.

    ``top`` and ``total`` are what `without_worker` returned, or minus infinity and 0; what is
    returned is the same with the cells: ``total`` and ``gradient`` are divided by exp(``top``).
    """
    first, last = int(records[i, NODES_FROM]), int(records[i, NODES_TO])
    phi, in_phi = max(rates[R_FERTILE], LEAST_FERTILE), 0.0
    stop = cell_edge(nodes, first, LOG_FROM, WARM_FROM, rates)
    for q in range(first, last):
        start = next_edge(nodes, q, first, stop, rates)
        cell = with_first_day(nodes, q, start, rows, rates, term)
        stop, path = cell.stop, cell.path
        if cell.log_path <= top:
            path *= math.exp(cell.log_path - top)
        else:
            if top > -np.inf:
                shrink = math.exp(top - cell.log_path)
                for j in range(GRADIENT):
                    gradient[j] *= shrink
                total *= shrink
                in_phi *= shrink
            top = cell.log_path
        in_phi += path * cell.mass
        total += phi * path * cell.mass
        add_first_day(nodes, q, start, cell, phi * path, rates, term, gradient)
    gradient[R_FERTILE] += in_phi
    return top, total


@njit(**ONCE)
def without_worker(records, i, rows, rates, gradient):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chance (1 - phi F(end)) x founding-phase path, a log and a factor as `loss`.

    ``gradient``, 0 on entry, is filled; like the factor it is divided by exp(log).
    """
    within_days, phi = rates[R_WITHIN_DAYS], rates[R_FERTILE]
    log_part, factor = losses(
        rows, int(records[i, NONE_FROM]), int(records[i, NONE_TO]), rates, gradient
    )
    end = records[i, LOG_END]
    in_end = 0.0
    if records.shape[1] > WARM_RECORD and records[i, WARM_RECORD] > 0.0:
        end, in_end = warmed(records, i, LOG_END, WARM_RECORD, WARM_END, rates[R_THRESHOLD])
    x = (end - rates[R_LOG_DAY]) / within_days
    tail, density = beyond(x)
    late = tail if x >= 0.0 else 1.0 - tail
    none = max((1.0 - phi) + phi * late, TINY)
    if none < SLIGHT:
        log_part += math.log(none)
        factor /= none
    for j in range(2 * N1):
        log_part -= records[i, NONE_COMPANY + j] * rates[j]
        gradient[j] -= records[i, NONE_COMPANY + j]
    for j in range(GRADIENT):
        gradient[j] *= factor * none
    slope = factor * phi * density / within_days
    gradient[R_LOG_DAY] += slope
    gradient[R_WITHIN_DAYS] += slope * x
    gradient[R_FERTILE] -= factor * (1.0 - late)
    gradient[R_THRESHOLD] -= slope * in_end
    return log_part, factor * none


@njit(**BORROWS)
def founding(records, i, rows, nodes, rates, gradient, term):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log-likelihood of record i at the given rates; ``gradient`` is cleared, then filled.

    ``term`` is scratch of length `GRADIENT`. The gradient is in the rates, see `rates`.
    """
    for j in range(GRADIENT):
        gradient[j] = 0.0
    top, total = -np.inf, 0.0
    if records[i, NONE] == 1.0:
        top, total = without_worker(records, i, rows, rates, gradient)
    if records[i, NODES_TO] > records[i, NODES_FROM]:
        top, total = with_worker(records, i, rows, nodes, rates, top, total, gradient, term)
    over = 1.0 / total
    for j in range(GRADIENT):
        gradient[j] *= over
    value, factor = losses(
        rows, int(records[i, BASE_FROM]), int(records[i, BASE_TO]), rates, gradient
    )
    for j in range(2 * N1):
        value -= records[i, BASE_COMPANY + j] * rates[j]
        gradient[j] -= records[i, BASE_COMPANY + j]
    return value + top + math.log(total) + (math.log(factor) if factor != 1.0 else 0.0)
