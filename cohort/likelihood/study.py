"""The likelihood of a packed study: summed with its gradient for fitting, by founding for checking.

Comes in: packed tables and parameter arrays (see `layout`). Goes out: one number and its gradient
(`study_loglik`), or one number per founding and draw with the frailty integrated out
(`marginal_loglik`). Never: priors or sampling.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from numba import njit

from cohort.likelihood import BORROWS, ONCE
from cohort.likelihood.founding import founding
from cohort.likelihood.layout import (
    FERTILE,
    FRAILTY,
    HAZARD1,
    HAZARD2,
    LAST_FIGHT,
    LOADING,
    LOG_DAY,
    N1,
    N2,
    OWNER,
    RIVALRY,
    SHARED_WIDTH,
    SIGMA,
    STEPS1,
    STEPS2,
    THRESHOLD,
    TOGETHER,
    WINTER,
    WINTER_COMPANY,
    WITHIN_DAYS,
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
    R_RHO_WINTER,
    R_THRESHOLD,
    R_WINTER1,
    R_WINTER2,
    R_WITHIN_DAYS,
    RATES,
)
from cohort.likelihood.threads import in_parallel

Floats = npt.NDArray[np.float64]
_HERMITE = np.polynomial.hermite_e.hermegauss(15)
HERMITE_X = _HERMITE[0]
HERMITE_LOGW = np.log(_HERMITE[1] / math.sqrt(2 * math.pi))
CAP = 40.0
"""Log rates are held within this bound, so that a wild warm-up step stays finite."""


@njit(cache=True, error_model="numpy")
def capped(x: float) -> float:
    """Exponential of x held within +-CAP."""
    return math.exp(min(max(x, -CAP), CAP))


@njit(cache=True, error_model="numpy")
def paces(shared):  # type: ignore[no-untyped-def]  # compiled by numba
    """Hazard of each piece, founding phase then worker phase, over that of the level piece.

    Behind them that in winter rest, and there the ratio in company.
    """
    out = np.empty(N1 + N2 + 2)
    for j in range(N1 + N2):
        out[j] = capped(shared[STEPS1 + j])
    out[N1 + N2] = capped(shared[WINTER])
    out[N1 + N2 + 1] = capped(shared[WINTER_COMPANY])
    return out


@njit(forceinline=True, **BORROWS)
def fill_rates(par, f, z, shared, pace, rates):  # type: ignore[no-untyped-def]  # compiled by numba
    """Rates of founding f with frailty z into the flat array ``rates``; ``pace`` of `paces`."""
    tilt = shared[SIGMA] * z
    level1 = capped(par[f, HAZARD1] + tilt)
    level2 = capped(par[f, HAZARD2] + shared[LOADING] * tilt)
    ratio1 = capped(par[f, TOGETHER])
    ratio2 = capped(par[f, RIVALRY])
    for j in range(N1):
        lone = level1 * pace[j]
        rates[R_LONE1 + j] = lone
        rates[R_COMPANY1 + j] = lone * ratio1
    for j in range(N2):
        lone = level2 * pace[N1 + j]
        rates[R_LONE2 + j] = lone
        rates[R_COMPANY2 + j] = lone * ratio2
    company = pace[N1 + N2] * pace[N1 + N2 + 1]
    rates[R_WINTER1] = level1 * company
    rates[R_WINTER2] = level2 * company
    rates[R_RHO_WINTER] = 1.0 / pace[N1 + N2 + 1]
    rates[R_RHO1] = 1.0 / ratio1
    rates[R_RHO2] = 1.0 / ratio2
    rates[R_LAST_FIGHT] = par[f, LAST_FIGHT]
    rates[R_LOG_DAY] = par[f, LOG_DAY]
    rates[R_WITHIN_DAYS] = shared[WITHIN_DAYS]
    rates[R_FERTILE] = par[f, FERTILE]
    rates[R_THRESHOLD] = par[f, THRESHOLD]


@njit(forceinline=True, **BORROWS)
def spread_rates(  # type: ignore[no-untyped-def]  # compiled by numba
    gradient, rates, scale, f, z, shared, par_gradient, shared_gradient, own_frailty
):
    """Carry the gradient in ``rates`` to that in parameters, times ``scale``."""
    in_level1, in_together = 0.0, 0.0
    for j in range(N1):
        company = scale * gradient[R_COMPANY1 + j] * rates[R_COMPANY1 + j]
        both = company + scale * gradient[R_LONE1 + j] * rates[R_LONE1 + j]
        shared_gradient[STEPS1 + j] += both
        in_level1 += both
        in_together += company
    in_level2, in_rivalry = 0.0, 0.0
    for j in range(N2):
        company = scale * gradient[R_COMPANY2 + j] * rates[R_COMPANY2 + j]
        both = company + scale * gradient[R_LONE2 + j] * rates[R_LONE2 + j]
        shared_gradient[STEPS2 + j] += both
        in_level2 += both
        in_rivalry += company
    in_winter1 = scale * gradient[R_WINTER1] * rates[R_WINTER1]
    in_winter2 = scale * gradient[R_WINTER2] * rates[R_WINTER2]
    in_level1 += in_winter1
    in_level2 += in_winter2
    shared_gradient[WINTER] += in_winter1 + in_winter2
    shared_gradient[WINTER_COMPANY] += (
        in_winter1 + in_winter2 - scale * gradient[R_RHO_WINTER] * rates[R_RHO_WINTER]
    )
    par_gradient[f, HAZARD1] += in_level1
    par_gradient[f, HAZARD2] += in_level2
    par_gradient[f, TOGETHER] += in_together - scale * gradient[R_RHO1] * rates[R_RHO1]
    par_gradient[f, RIVALRY] += in_rivalry - scale * gradient[R_RHO2] * rates[R_RHO2]
    par_gradient[f, LAST_FIGHT] += scale * gradient[R_LAST_FIGHT]
    par_gradient[f, LOG_DAY] += scale * gradient[R_LOG_DAY]
    par_gradient[f, FERTILE] += scale * gradient[R_FERTILE]
    par_gradient[f, THRESHOLD] += scale * gradient[R_THRESHOLD]
    in_tilt = in_level1 + shared[LOADING] * in_level2
    if own_frailty:
        par_gradient[f, FRAILTY] += shared[SIGMA] * in_tilt
    shared_gradient[SIGMA] += z * in_tilt
    shared_gradient[LOADING] += shared[SIGMA] * z * in_level2
    shared_gradient[WITHIN_DAYS] += scale * gradient[R_WITHIN_DAYS]


@njit(**BORROWS)
def at_entry(  # type: ignore[no-untyped-def]  # compiled by numba
    par, f, shared, pace, records, i, rows, nodes, rates, values, kept, term,
    par_gradient, shared_gradient,
):  # fmt: skip
    """Log chance of the state at a delayed entry, over the frailty of those who might have entered.

    Its gradient is taken from ``par_gradient`` and ``shared_gradient``, as the chance divides the
    likelihood. ``rates``, ``values``, ``kept`` and ``term`` are scratch.
    """
    for q in range(HERMITE_X.size):
        fill_rates(par, f, HERMITE_X[q], shared, pace, rates)
        values[q] = HERMITE_LOGW[q] + founding(records, i, rows, nodes, rates, kept[q], term)
    top = values[0]
    for q in range(1, HERMITE_X.size):
        top = max(top, values[q])
    whole = 0.0
    for q in range(HERMITE_X.size):
        whole += math.exp(values[q] - top)
    for q in range(HERMITE_X.size):
        share = math.exp(values[q] - top) / whole
        fill_rates(par, f, HERMITE_X[q], shared, pace, rates)
        spread_rates(
            kept[q], rates, -share, f, HERMITE_X[q], shared, par_gradient, shared_gradient, False
        )
    return top + math.log(whole)


@njit(**ONCE)
def study_loglik(par, shared, records, rows, nodes):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log-likelihood of a study given every founding's frailty, and its gradient.

    Parameters
    ----------
    par : float array, shape (foundings, FOUNDING_WIDTH)
    shared : float array, shape (SHARED_WIDTH,)
    records, rows, nodes : float arrays
        Packed study, see `layout`.

    Returns
    -------
    tuple
        Log-likelihood; gradient in ``par`` and in ``shared``, same shapes.
    """
    par_gradient = np.zeros_like(par)
    shared_gradient = np.zeros(SHARED_WIDTH)
    rates = np.empty(RATES)
    gradient = np.empty(GRADIENT)
    term = np.empty(GRADIENT)
    values, kept = np.empty(HERMITE_X.size), np.empty((HERMITE_X.size, GRADIENT))
    pace = paces(shared)
    total = 0.0
    for i in range(records.shape[0]):
        f = int(records[i, OWNER])
        if i < par.shape[0]:
            z = par[f, FRAILTY]
            fill_rates(par, f, z, shared, pace, rates)
            total += founding(records, i, rows, nodes, rates, gradient, term)
            spread_rates(gradient, rates, 1.0, f, z, shared, par_gradient, shared_gradient, True)
        else:
            total -= at_entry(
                par, f, shared, pace, records, i, rows, nodes, rates, values, kept, term,
                par_gradient, shared_gradient,
            )  # fmt: skip
    return total, par_gradient, shared_gradient


@njit(**BORROWS)
def _tilt(gradient, rates, loading):  # type: ignore[no-untyped-def]  # compiled by numba
    """Slope of the log-likelihood in a shift of log hazards, times ``loading`` after workers."""
    before, after = 0.0, 0.0
    for j in range(R_COMPANY1, R_COMPANY2):
        before += gradient[j] * rates[j]
    for j in range(R_COMPANY2, HAZARDS):
        after += gradient[j] * rates[j]
    before += gradient[R_WINTER1] * rates[R_WINTER1]
    return before + loading * (after + gradient[R_WINTER2] * rates[R_WINTER2])


@njit(cache=True, error_model="numpy")
def integrated(par, f, shared, records, i, rows, nodes, scratch):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log of the likelihood of record i averaged over the frailty, z standard normal.

    Adaptive Gauss-Hermite with 15 nodes, recentred at the mode and rescaled by the curvature
    there; the curvature comes from a difference of analytic gradients.
    """
    rates, gradient, term = scratch[0], scratch[1], scratch[2]
    sigma = shared[SIGMA]
    pace = paces(shared)
    z = 0.0
    curve = 1.0
    for _ in range(12):
        fill_rates(par, f, z, shared, pace, rates)
        founding(records, i, rows, nodes, rates, gradient, term)
        here = sigma * _tilt(gradient, rates, shared[LOADING]) - z
        fill_rates(par, f, z + 1e-4, shared, pace, rates)
        founding(records, i, rows, nodes, rates, gradient, term)
        there = sigma * _tilt(gradient, rates, shared[LOADING]) - z - 1e-4
        curve = max((here - there) / 1e-4, 0.2)
        move = here / curve
        z += min(max(move, -2.0), 2.0)
        if abs(move) < 1e-3:
            break
    scale = 1.0 / math.sqrt(curve)
    top = -np.inf
    total = 0.0
    for q in range(HERMITE_X.size):
        x = HERMITE_X[q]
        at = z + scale * x
        fill_rates(par, f, at, shared, pace, rates)
        value = founding(records, i, rows, nodes, rates, gradient, term)
        value += HERMITE_LOGW[q] + 0.5 * x * x - 0.5 * at * at
        if value > top:
            total = total * math.exp(top - value) + 1.0
            top = value
        else:
            total += math.exp(value - top)
    return top + math.log(total) + math.log(scale)


@njit(cache=True, error_model="numpy", nogil=True)
def _marginal(first, last, pars, shareds, records, rows, nodes, out):  # type: ignore[no-untyped-def]  # compiled by numba
    """`marginal_loglik` for draws ``first`` up to ``last``, added to ``out``."""
    foundings = pars.shape[1]
    scratch = np.empty((3, RATES))
    for d in range(first, last):
        for i in range(records.shape[0]):
            f = int(records[i, OWNER])
            own = min(f, shareds.shape[1] - 1)
            value = integrated(pars[d], f, shareds[d, own], records, i, rows, nodes, scratch)
            if i < foundings:
                out[d, f] += value
            else:
                out[d, f] -= value


def marginal_loglik(
    pars: Floats, shareds: Floats, records: Floats, rows: Floats, nodes: Floats
) -> Floats:
    """Log-likelihood by draw and founding, the frailty integrated out.

    Parameters
    ----------
    pars : float array, shape (draws, foundings, FOUNDING_WIDTH)
        The frailty column is not read.
    shareds : float array, shape (draws, SHARED_WIDTH) or (draws, foundings, SHARED_WIDTH)
        The latter where each founding has its own.

    Returns
    -------
    float array, shape (draws, foundings)
    """
    out: Floats = np.zeros(pars.shape[:2])
    by_founding = shareds if shareds.ndim == 3 else shareds[:, None]
    given = [np.ascontiguousarray(a) for a in (pars, by_founding, records, rows, nodes)]
    in_parallel(_marginal, len(pars), *given, out)
    return out
