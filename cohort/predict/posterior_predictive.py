"""Whole studies replicated from the posterior, each founding on its own calendar of looks.

Comes in: parameters by draw, and a `Calendar` (looks, removals, entry). Goes out: what would have
been seen: counts per look, the look that first showed workers. Never: a summary; those are in
`predictive`.

Written with the exact count transitions, step by step from look to look. The frailty of each
founding is drawn afresh from its prior, as for a new founding of the same genus, size, keeper and
flight: replicates made with the fitted frailty would follow the very losses they are to be held
against, and hardly any check could fail.

A founding followed from later than day 0 is begun anew until it arrives with the queens and
workers it entered with; after `TRIES` it is taken as found, frailty and all.

In winter rest hazards are those of the cold, and the clock of the first worker stands still: her
day, and the pieces of the hazards, go by warm days.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import numpy.typing as npt
from numba import njit

from cohort.likelihood.layout import CUTS1, CUTS2, N1, N2
from cohort.likelihood.rates import (
    R_COMPANY1,
    R_COMPANY2,
    R_FERTILE,
    R_LAST_FIGHT,
    R_LOG_DAY,
    R_LONE1,
    R_LONE2,
    R_RHO1,
    R_RHO2,
    R_RHO_WINTER,
    R_THRESHOLD,
    R_WINTER1,
    R_WINTER2,
    R_WITHIN_DAYS,
    RATES,
)
from cohort.likelihood.study import fill_rates, paces
from cohort.likelihood.transition_probabilities import step
from cohort.likelihood.warmed import day_of

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
TRIES: Final = 300
EDGES1: Final = np.array([*CUTS1, 1e9])
EDGES2: Final = np.array([*CUTS2, 1e9])
UNSEEN: Final = 1e9
"""Day of something that does not come."""


@dataclass(frozen=True)
class Calendar:
    """When each founding was or would have been looked at.

    Attributes
    ----------
    start, stop : int arrays, shape (foundings,)
        Its looks lie in ``day[start:stop]``.
    day : float array, shape (looks,)
        Days since day 0 of the founding, ascending.
    taken : int array, shape (looks,)
        Queens taken out alive just before the interval that ends at the look.
    size, entry_queens : int arrays, shape (foundings,)
    entry : float array, shape (foundings,)
    entry_workers : bool array, shape (foundings,)
    sought : float array, shape (foundings,)
        Last day on which a look still looked for workers.
    low, high : float arrays, shape (logged days,)
        Lowest and highest of each logged day, founding after founding, degrees Celsius.
    log_start : int array, shape (foundings + 1,)
        The days of founding f lie in ``low[log_start[f]:log_start[f + 1]]``; none: plain days.
    reference : float
        Temperature whose days are the unit of logged foundings.
    winter_in, winter_out : float arrays, shape (winter rests,)
        Winter rests, founding after founding, days since day 0.
    winter_start : int array, shape (foundings + 1,)
        Those of founding f lie in ``winter_in[winter_start[f]:winter_start[f + 1]]``.
    """

    start: Ints
    stop: Ints
    day: Floats
    taken: Ints
    size: Ints
    entry: Floats
    entry_queens: Ints
    entry_workers: npt.NDArray[np.bool_]
    sought: Floats
    low: Floats = field(default_factory=lambda: np.zeros(0))
    high: Floats = field(default_factory=lambda: np.zeros(0))
    log_start: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    reference: float = 0.0
    winter_in: Floats = field(default_factory=lambda: np.zeros(0))
    winter_out: Floats = field(default_factory=lambda: np.zeros(0))
    winter_start: Ints = field(default_factory=lambda: np.zeros(0, np.int64))


@njit(cache=True, error_model="numpy")
def _integral(a: float, b: float, edges: Floats, pieces: int, rates: Floats, first: int) -> float:
    """Hazard between two days, piece by piece."""
    total = 0.0
    for j in range(pieces):
        days = min(b, edges[j + 1]) - max(a, edges[j])
        if days > 0.0:
            total += days * rates[first + j]
    return total


@njit(cache=True, error_model="numpy")
def _next(
    n: int, company: float, lone: float, rho: float, last_fight: float, rng: np.random.Generator
) -> int:
    """Queens left of n, drawn from the exact transition."""
    if n == 0:
        return 0
    u = rng.random()
    if n == 1:
        return 1 if u < math.exp(-lone) else 0
    for m in range(n, 0, -1):
        u -= step(n, m, company, rho, last_fight)[0]
        if u < 0.0:
            return m
    return 0


@njit(cache=True, error_model="numpy")
def _before(n: int, a: float, b: float, rates: Floats, rng: np.random.Generator) -> int:
    company = _integral(a, b, EDGES1, N1, rates, R_COMPANY1)
    lone = _integral(a, b, EDGES1, N1, rates, R_LONE1)
    return _next(n, company, lone, rates[R_RHO1], 0.0, rng)


@njit(cache=True, error_model="numpy")
def _with(n: int, a: float, b: float, rates: Floats, rng: np.random.Generator) -> int:
    """As `_before`, with workers; days since the first worker."""
    company = _integral(a, b, EDGES2, N2, rates, R_COMPANY2)
    lone = _integral(a, b, EDGES2, N2, rates, R_LONE2)
    return _next(n, company, lone, rates[R_RHO2], rates[R_LAST_FIGHT], rng)


@njit(cache=True, error_model="numpy")
def _stretch(
    n: int, a: float, b: float, e: float, rates: Floats, rng: np.random.Generator
) -> tuple[int, float]:
    """Queens left after (a, b], and the first worker's day, gone if nobody lived to see it."""
    if e > b:
        return _before(n, a, b, rates, rng), e
    if e > a:
        n = _before(n, a, e, rates, rng)
        if n == 0:
            return 0, UNSEEN
        a = e
    return _with(n, a - e, b - e, rates, rng), e


@njit(cache=True, error_model="numpy")
def _in_cold(
    n: int, days: float, e: float, warm: float, rates: Floats, rng: np.random.Generator
) -> int:
    """Queens left after days of winter rest on a warm day."""
    company = days * (rates[R_WINTER2] if e <= warm else rates[R_WINTER1])
    return _next(n, company, rates[R_RHO_WINTER] * company, rates[R_RHO_WINTER], 0.0, rng)


@njit(cache=True, error_model="numpy")
def _through(
    n: int,
    a: float,
    b: float,
    e: float,
    first: int,
    last: int,
    winter_in: Floats,
    winter_out: Floats,
    rates: Floats,
    rng: np.random.Generator,
) -> tuple[int, float, float]:
    """As `_stretch`, with the winter rests from ``first`` to ``last``; a and b go on in them.

    Returns
    -------
    tuple
        Queens, warm day of the first worker, and b as a warm day.
    """
    cold = 0.0
    for w in range(first, last):
        cold += max(0.0, min(a, winter_out[w]) - winter_in[w])
        low, high = max(a, winter_in[w]), min(b, winter_out[w])
        if high > low:
            if low > a:
                n, e = _stretch(n, a - cold, low - cold, e, rates, rng)
            n = _in_cold(n, high - low, e, low - cold, rates, rng)
            cold += high - low
            a = high
    if b > a or first == last:
        n, e = _stretch(n, a - cold, b - cold, e, rates, rng)
    return n, e, b - cold


@njit(cache=True, error_model="numpy")
def _rests(f: int, winter_start: Ints) -> tuple[int, int]:
    """Where the winter rests of a founding lie."""
    if winter_start.size == 0:
        return 0, 0
    return int(winter_start[f]), int(winter_start[f + 1])


@njit(cache=True, error_model="numpy")
def _first_day(
    rates: Floats,
    f: int,
    low: Floats,
    high: Floats,
    log_start: Ints,
    reference: float,
    rng: np.random.Generator,
) -> float:
    if rng.random() >= rates[R_FERTILE]:
        return UNSEEN
    day = math.exp(min(rates[R_LOG_DAY] + rates[R_WITHIN_DAYS] * rng.standard_normal(), 20.0))
    if log_start.size == 0 or log_start[f] == log_start[f + 1]:
        return day
    limit = rates[R_THRESHOLD]
    on = day_of(day, low, high, log_start[f], log_start[f + 1], reference - limit, limit)
    return float(min(on, UNSEEN))


@njit(cache=True, error_model="numpy")
def _open(
    par: Floats,
    f: int,
    shared: Floats,
    size: int,
    entry: float,
    queens: int,
    workers: bool,
    low: Floats,
    high: Floats,
    log_start: Ints,
    reference: float,
    winter_in: Floats,
    winter_out: Floats,
    winter_start: Ints,
    rates: Floats,
    rng: np.random.Generator,
) -> float:
    """Draw frailty and first day of a founding that arrives at its entry as it was found."""
    e, warm = UNSEEN, entry
    begin, end = _rests(f, winter_start)
    for _ in range(TRIES):
        fill_rates(par, f, rng.standard_normal(), shared, paces(shared), rates)
        e = _first_day(rates, f, low, high, log_start, reference, rng)
        if entry <= 0.0:
            return e
        n, seen, warm = _through(size, 0.0, entry, e, begin, end, winter_in, winter_out, rates, rng)
        if n == queens and (seen <= warm) == workers:
            return seen
    if workers:
        return min(e, 0.5 * warm)
    return e if e > warm else UNSEEN


@njit(cache=True, error_model="numpy")
def _posterior_predictive(
    pars: Floats,
    shareds: Floats,
    start: Ints,
    stop: Ints,
    day: Floats,
    taken: Ints,
    size: Ints,
    entry: Floats,
    entry_queens: Ints,
    entry_workers: npt.NDArray[np.bool_],
    sought: Floats,
    low: Floats,
    high: Floats,
    log_start: Ints,
    reference: float,
    winter_in: Floats,
    winter_out: Floats,
    winter_start: Ints,
    rng: np.random.Generator,
) -> tuple[npt.NDArray[np.int16], npt.NDArray[np.int16], npt.NDArray[np.float32]]:
    """See `posterior_predictive`; the columns of a `Calendar` one by one."""
    draws, foundings = pars.shape[0], pars.shape[1]
    at_risk = np.zeros((draws, day.size), np.int16)
    alive = np.zeros((draws, day.size), np.int16)
    first = np.full((draws, foundings), np.inf, np.float32)
    rates = np.empty(RATES)
    for d in range(draws):
        for f in range(foundings):
            e = _open(
                pars[d], f, shareds[d, min(f, shareds.shape[1] - 1)], size[f], entry[f],
                entry_queens[f], entry_workers[f], low, high, log_start, reference, winter_in,
                winter_out, winter_start, rates, rng,
            )  # fmt: skip
            begin, end = _rests(f, winter_start)
            n, a = entry_queens[f], entry[f]
            if entry_workers[f]:
                first[d, f] = entry[f]
            for i in range(start[f], stop[f]):
                n -= taken[i]
                if n <= 0:
                    break
                at_risk[d, i] = n
                n, e, warm = _through(
                    n, a, day[i], e, begin, end, winter_in, winter_out, rates, rng
                )
                alive[d, i] = n
                a = day[i]
                if e <= warm and a <= sought[f] and math.isinf(first[d, f]):
                    first[d, f] = a
                if n == 0:
                    break
    return at_risk, alive, first


def posterior_predictive(
    pars: Floats, shareds: Floats, plan: Calendar, rng: np.random.Generator
) -> tuple[npt.NDArray[np.int16], npt.NDArray[np.int16], npt.NDArray[np.float32]]:
    """Replicated studies.

    Parameters
    ----------
    pars : float array, shape (draws, foundings, FOUNDING_WIDTH)
        See `cohort.likelihood.layout`; the frailty column is not read.
    shareds : float array, shape (draws, SHARED_WIDTH) or (draws, foundings, SHARED_WIDTH)
        The latter where each founding has its own.
    plan : Calendar
    rng : numpy Generator

    Returns
    -------
    at_risk, alive : int16 arrays, shape (draws, looks)
        Queens in the interval that ends at the look, and alive at it; 0 and 0 once all are gone.
    first : float32 array, shape (draws, foundings)
        Day of the look that first showed workers; inf where none did.
    """
    by_founding = shareds if shareds.ndim == 3 else shareds[:, None]
    at_risk, alive, first = _posterior_predictive(
        pars, by_founding, plan.start, plan.stop, plan.day, plan.taken, plan.size, plan.entry,
        plan.entry_queens, plan.entry_workers, plan.sought, plan.low, plan.high,
        plan.log_start, plan.reference, plan.winter_in, plan.winter_out, plan.winter_start, rng,
    )  # fmt: skip
    return at_risk, alive, first
