"""From what was seen of one founding to what may come: first worker, loss of a queen, of all.

Comes in: packed foundings, parameters by draw, frailty nodes and their weights given what was
seen. Goes out: chances. Never: a second formula for a transition: the chances of
`transition_probabilities` and the likelihood of `founding` are all there is.

Given a draw and a frailty, what was seen up to the last look fixes the count there and either a
bracket of the first worker (its day is weighed by the likelihood, node by node) or that none had
come (then the day is log-normal beyond that look, or never, if no queen is mated).
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import numpy.typing as npt
from numba import njit

from cohort.likelihood.closed import fight_weights, one_left
from cohort.likelihood.founding import cell_edge, founding, with_first_day
from cohort.likelihood.layout import (
    CUTS1,
    CUTS2,
    LOG_E,
    LOG_FROM,
    NODES_FROM,
    NODES_TO,
    OWNER,
    SIGMA,
    WARM_FROM,
)
from cohort.likelihood.rates import (
    GRADIENT,
    R_COMPANY1,
    R_COMPANY2,
    R_FERTILE,
    R_LAST_FIGHT,
    R_LOG_DAY,
    R_RHO1,
    R_RHO2,
    R_WITHIN_DAYS,
    RATES,
)
from cohort.likelihood.study import fill_rates, paces
from cohort.likelihood.threads import in_parallel
from cohort.likelihood.transition_probabilities import company_ended, death_and_survival, step
from cohort.predict.recursion import (
    below,
)

Floats = npt.NDArray[np.float64]

# what is known of one founding at its last look: the columns of ``state``
LOOKED: Final = 0  # last look that looked for workers and saw none, days since day 0
COUNTED: Final = 1  # last look that counted queens
QUEENS: Final = 2  # queens alive at it
SEEN: Final = 3  # 1 when workers were seen
STATE_WIDTH: Final = 4

_CUTS1 = np.array(CUTS1)
_CUTS2 = np.array(CUTS2)


@njit(cache=True, error_model="numpy")
def between(a, b, cuts, rates, first):  # type: ignore[no-untyped-def]  # compiled by numba
    """Integral of a piecewise rate over (a, b]; ``rates[first]`` is the rate of the first piece."""
    total = 0.0
    for j in range(cuts.size):
        end = cuts[j + 1] if j + 1 < cuts.size else 1e9
        days = min(b, end) - max(a, cuts[j])
        if days > 0.0:
            total += days * rates[first + j]
    return total


@njit(cache=True, error_model="numpy")
def to_day(n, start, e, end, rates):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chances that none of n queens is lost, and that all are, by ``end`` with first worker at e.

    Returns
    -------
    tuple of float
        Chance that all n still live, chance that none does.
    """
    if e >= end:
        h = between(start, end, _CUTS1, rates, R_COMPANY1)
        return step(n, n, h, rates[R_RHO1], 0.0)[0], step(n, 0, h, rates[R_RHO1], 0.0)[0]
    h1 = between(start, e, _CUTS1, rates, R_COMPANY1) if e > start else 0.0
    h2 = between(max(start - e, 0.0), end - e, _CUTS2, rates, R_COMPANY2)
    rho1, rho2, last_fight = rates[R_RHO1], rates[R_RHO2], rates[R_LAST_FIGHT]
    same = step(n, n, h1, rho1, 0.0)[0] * step(n, n, h2, rho2, last_fight)[0]
    if h1 == 0.0:
        return same, step(n, 0, h2, rho2, last_fight)[0]
    none = 0.0
    for c in range(n + 1):
        none += step(n, c, h1, rho1, 0.0)[0] * step(c, 0, h2, rho2, last_fight)[0]
    return same, none


@njit(cache=True, error_model="numpy", nogil=True)
def _seen(first, last, pars, shareds, records, rows, nodes, z, so_far, at_entry):  # type: ignore[no-untyped-def]  # compiled by numba
    """`seen_so_far` for draws ``first`` up to ``last``."""
    foundings = pars.shape[1]
    rates = np.empty(RATES)
    gradient = np.empty(GRADIENT)
    term = np.empty(GRADIENT)
    for d in range(first, last):
        pace = paces(shareds[d])
        for i in range(records.shape[0]):
            f = int(records[i, OWNER])
            for q in range(z.size):
                fill_rates(pars[d], f, z[q], shareds[d], pace, rates)
                value = founding(records, i, rows, nodes, rates, gradient, term)
                if i < foundings:
                    so_far[f, d, q] = value
                else:
                    at_entry[f, d, q] = value


def seen_so_far(
    pars: Floats, shareds: Floats, records: Floats, rows: Floats, nodes: Floats, z: Floats
) -> tuple[Floats, Floats]:
    """Log-likelihood of each founding at each draw and frailty, and of its state at entry.

    Parameters
    ----------
    pars : float array, shape (draws, foundings, FOUNDING_WIDTH)
    shareds : float array, shape (draws, SHARED_WIDTH)
    records, rows, nodes : float arrays
        Packed foundings, see `layout`.
    z : float array
        Frailties.

    Returns
    -------
    so_far, at_entry : float arrays, shape (foundings, draws, z)
        ``at_entry`` is 0 where follow-up began on day 0.
    """
    so_far = np.zeros((pars.shape[1], pars.shape[0], z.size))
    at_entry = np.zeros_like(so_far)
    given = (pars, shareds, records, rows, nodes, z, so_far, at_entry)
    in_parallel(_seen, len(pars), *given)
    return so_far, at_entry


@njit(cache=True, error_model="numpy")
def clock(looked, counted, rates, mass, company):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chance that the clock rings in each day after ``looked``, and the hazard run up since.

    ``mass`` is filled with the chance of each day given that no worker came by ``looked``;
    ``company`` with the integral of the hazard in company from ``counted`` to the day's end.

    Returns
    -------
    tuple of float
        Chance that no queen is mated, and that one is but the clock rings after the last day.
    """
    mean, within_days, phi = rates[R_LOG_DAY], rates[R_WITHIN_DAYS], rates[R_FERTILE]
    before = below(looked, mean, within_days)
    waiting = max(1.0 - phi * before, 1e-290)
    for i in range(mass.size):
        now = below(looked + i + 1.0, mean, within_days)
        mass[i] = phi * (now - before) / waiting
        before = now
        company[i] = between(counted, looked + i + 1.0, _CUTS1, rates, R_COMPANY1)
    return (1.0 - phi) / waiting, phi * (1.0 - before) / waiting


@njit(cache=True, error_model="numpy")
def arrivals_of_one(n, mass, company, tilt, rho, weight, out):  # type: ignore[no-untyped-def]  # compiled by numba
    """Add to ``out`` the chance, by day, that the clock rings and one of n queens still lives."""
    weights = np.empty(max(n, 2) - 1)
    near = fight_weights(n, rho, weights) if n >= 2 else -1
    alive = 1.0
    for i in range(mass.size):
        there = 1.0
        after = company[i] * tilt
        if after > 0.0:
            there = math.exp(-rho * after)
        if after > 0.0 and n >= 2:
            one = one_left(n, after, math.exp(-after), there, rho, weights, near)
            there = 1.0 - company_ended(n, *death_and_survival(after)) + one
        out[i] += weight * mass[i] * 0.5 * (alive + there)
        alive = there


@njit(cache=True, error_model="numpy", nogil=True)
def _arrivals(first, last, pars, shareds, omega, z, state, arrive, unmated, late):  # type: ignore[no-untyped-def]  # compiled by numba
    """`first_worker_given_state` for foundings ``first`` up to ``last``, added to outputs of 0."""
    draws, days = omega.shape[1], arrive.shape[1]
    for f in range(first, last):
        if state[f, SEEN] == 1.0:
            continue
        rates = np.empty(RATES)
        mass = np.empty(days)
        company = np.empty(days)
        for d in range(draws):
            share = omega[f, d].sum()
            if share < 1e-12:
                continue
            fill_rates(pars[d], f, 0.0, shareds[d], paces(shareds[d]), rates)
            none, rest = clock(state[f, LOOKED], state[f, COUNTED], rates, mass, company)
            unmated[f] += share * none
            late[f] += share * rest
            for q in range(z.size):
                arrivals_of_one(
                    int(state[f, QUEENS]),
                    mass,
                    company,
                    math.exp(shareds[d, SIGMA] * z[q]),
                    rates[R_RHO1],
                    omega[f, d, q],
                    arrive[f],
                )


def first_worker_given_state(
    pars: Floats, shareds: Floats, omega: Floats, z: Floats, state: Floats, days: int
) -> tuple[Floats, Floats, Floats]:
    """Chance of the first worker by day after the last look that saw none.

    Parameters
    ----------
    pars, shareds, z : as in `seen_so_far`
    omega : float array, shape (foundings, draws, z)
        Weight of each draw and frailty given what was seen; sums to 1 per founding.
    state : float array, shape (foundings, STATE_WIDTH)
    days : int
        Days ahead.

    Returns
    -------
    arrive : float array, shape (foundings, days)
        Chance that the first worker comes i to i + 1 days after that look.
    unmated, late : float arrays, shape (foundings,)
        Chance that no queen of the founding is mated; that one is, and the first worker would
        come later than ``days`` ahead.
    """
    foundings = len(omega)
    arrive, unmated, late = np.zeros((foundings, days)), np.zeros(foundings), np.zeros(foundings)
    in_parallel(_arrivals, foundings, pars, shareds, omega, z, state, arrive, unmated, late)
    return arrive, unmated, late


@njit(cache=True, error_model="numpy")
def _waiting(looked, start, n, end, rates):  # type: ignore[no-untyped-def]  # compiled by numba
    """`to_day` averaged over the day of a first worker not seen by ``looked``."""
    mean, within_days, phi = rates[R_LOG_DAY], rates[R_WITHIN_DAYS], rates[R_FERTILE]
    before = below(looked, mean, within_days)
    waiting = max(1.0 - phi * before, 1e-290)
    cells = max(1, math.ceil((end - looked) / 2.0))
    width = (end - looked) / cells
    same = 0.0
    none = 0.0
    left = 1.0
    for i in range(cells):
        now = below(looked + width * (i + 1), mean, within_days)
        mass = phi * (now - before) / waiting
        before = now
        if mass < 1e-9:
            continue
        p, q = to_day(n, start, looked + width * (i + 0.5), end, rates)
        same += mass * p
        none += mass * q
        left -= mass
    p, q = to_day(n, start, end, end, rates)
    return same + left * p, none + left * q


@njit(cache=True, error_model="numpy")
def _with_workers(record, start, n, end, nodes, rows, rates, term):  # type: ignore[no-untyped-def]  # compiled by numba
    """`to_day` averaged over the bracketed day of the first worker."""
    first, last = int(record[NODES_FROM]), int(record[NODES_TO])
    top = -np.inf
    total = 0.0
    same = 0.0
    none = 0.0
    for at in range(first, last):
        begin = cell_edge(nodes, at, LOG_FROM, WARM_FROM, rates)
        cell = with_first_day(nodes, at, begin, rows, rates, term)
        value = cell.log_path + math.log(cell.path * cell.mass)
        p, q = to_day(n, start, math.exp(nodes[at, LOG_E]), end, rates)
        if value > top:
            shrink = math.exp(top - value)
            total, same, none = total * shrink + 1.0, same * shrink + p, none * shrink + q
            top = value
        else:
            share = math.exp(value - top)
            total, same, none = total + share, same + share * p, none + share * q
    return same / total, none / total


@njit(cache=True, error_model="numpy", nogil=True)
def _losses(first, last, pars, shareds, omega, z, state, records, rows, nodes, until, out):  # type: ignore[no-untyped-def]  # compiled by numba
    """`losses_given_state` for foundings ``first`` up to ``last``, added to an output of 0."""
    draws = omega.shape[1]
    for f in range(first, last):
        rates = np.empty(RATES)
        term = np.empty(GRADIENT)
        n = int(state[f, QUEENS])
        start = state[f, COUNTED]
        for d in range(draws):
            pace = paces(shareds[d])
            for q in range(z.size):
                weight = omega[f, d, q]
                if weight < 1e-12:
                    continue
                fill_rates(pars[d], f, z[q], shareds[d], pace, rates)
                for u in range(until.shape[1]):
                    if state[f, SEEN] == 1.0:
                        same, none = _with_workers(
                            records[f], start, n, until[f, u], nodes, rows, rates, term
                        )
                    else:
                        same, none = _waiting(state[f, LOOKED], start, n, until[f, u], rates)
                    out[f, u, 0] += weight * (1.0 - same)
                    out[f, u, 1] += weight * none


def losses_given_state(
    pars: Floats,
    shareds: Floats,
    omega: Floats,
    z: Floats,
    state: Floats,
    records: Floats,
    rows: Floats,
    nodes: Floats,
    until: Floats,
) -> Floats:
    """Chances that a queen, and that every queen, is lost from the last count to given days.

    Parameters
    ----------
    pars, shareds, omega, z, state : as in `first_worker_given_state`
    records, rows, nodes : as in `seen_so_far`
    until : float array, shape (foundings, days)
        Days since day 0 of each founding.

    Returns
    -------
    float array, shape (foundings, days, 2)
        Chance of fewer queens than counted, and of none.
    """
    out = np.zeros((len(omega), until.shape[1], 2))
    in_parallel(
        _losses, len(omega), pars, shareds, omega, z, state, records, rows, nodes, until, out
    )
    return out
