"""Small studies packed for the kernel, and the kernel's parameters from plain rates.

`packed_line` goes the whole way: a line of looks -> study -> history -> packed tables, so that
tests which use it hold the history and the packing too.
"""

import math

import numpy as np
from numba import njit
from small_study import small_study

from cohort.history import history
from cohort.likelihood import layout as at
from cohort.likelihood.exposure import Trace, _Packer, packed
from cohort.likelihood.founding import founding
from cohort.likelihood.rates import GRADIENT, RATES
from cohort.likelihood.study import fill_rates, marginal_loglik, paces, study_loglik
from cohort.simulate.events import run
from cohort.simulate.truth import GenusTruth


def line_of(k, looks):
    """One founding as `small_study` writes it."""
    parts = []
    for look in looks:
        day, queens, workers = look[:3]
        seen = ["-" if v is None else str(v) for v in (queens, workers)]
        parts.append(f"{day:.0f} {seen[0]}/{seen[1]}")
    return f"{k} | {', '.join(parts)}"


def history_of(sets, *, more=None, winters=(), **settings):
    """History of foundings given as (k, looks), named F0, F1, ...; all rest in the same winters."""
    lines = {f"F{i}": line_of(k, looks) for i, (k, looks) in enumerate(sets)}
    events = [
        (f"F{i}", look[0], "queens-out", look[3], "given")
        for i, (_, looks) in enumerate(sets)
        for look in looks
        if len(look) > 3
    ]
    words = ("winter-in", "winter-out")
    events += [
        (name, day, word)
        for name in lines
        for rest in winters
        for day, word in zip(rest, words, strict=True)
    ]
    settings = {"through_winter": bool(winters), "horizon_days": 500 if winters else 180} | settings
    return history(small_study(lines, events, more=more, **settings))


def packed_sets(sets, *, cell=0.1, more=None, winters=()):
    """Foundings given as (k, looks), packed through study and history."""
    return packed(history_of(sets, more=more, winters=winters), cell=cell)


def par_of(rates, foundings):
    """Kernel parameters: every founding the same rates."""
    par = np.zeros((foundings, at.FOUNDING_WIDTH))
    par[:, at.HAZARD1] = math.log(rates.level1)
    par[:, at.TOGETHER] = math.log(rates.ratio1)
    par[:, at.HAZARD2] = math.log(rates.level2)
    par[:, at.RIVALRY] = math.log(rates.ratio2)
    par[:, at.LAST_FIGHT] = rates.theta
    par[:, at.LOG_DAY] = rates.log_day
    par[:, at.FERTILE] = rates.phi
    return par


def shared_of(rates):
    """Kernel parameters all foundings share."""
    shared = np.zeros(at.SHARED_WIDTH)
    shared[at.STEPS1 : at.STEPS1 + at.N1] = rates.steps1
    shared[at.STEPS2 : at.STEPS2 + at.N2] = rates.steps2
    shared[at.WITHIN_DAYS], shared[at.SIGMA], shared[at.LOADING] = (
        rates.tau,
        rates.sigma,
        rates.loading,
    )
    shared[at.WINTER], shared[at.WINTER_COMPANY] = (
        math.log(rates.winter),
        math.log(rates.winter_company),
    )
    return shared


def marginal(tables, rates):
    """Log-likelihood of each founding, every founding the same rates."""
    records, rows, nodes = tables
    foundings = int(records[:, at.OWNER].max()) + 1
    par, shared = par_of(rates, foundings)[None], shared_of(rates)[None]
    return marginal_loglik(par, shared, records, rows, nodes)[0]


def given_frailty(tables, rates, z):
    """Log-likelihood of a whole study given its frailties."""
    records, rows, nodes = tables
    par = par_of(rates, len(z))
    par[:, at.FRAILTY] = z
    return study_loglik(par, shared_of(rates), records, rows, nodes)[0]


def tables_of(exposure):
    return exposure.records, exposure.rows, exposure.nodes


def tables_of_trace(spans, after, by, looked_to, *, cell=0.1):
    """Tables of one founding packed from its spans."""
    packer = _Packer(cell)
    packer.add(Trace(spans, after, by, looked_to), 0)
    return packer.tables()


def lived(n, k, rates, days, seed, *, winters=()):
    """Foundings lived through by the event simulator, as (k, looks); all in the same winters."""
    truth = GenusTruth(
        log_hazard=math.log(rates.level1),
        together=math.log(rates.ratio1),
        founding_steps=rates.steps1,
        log_hazard_workers=math.log(rates.level2),
        worker_steps=rates.steps2,
        rivalry=math.log(rates.ratio2),
        last_fight=rates.theta,
        log_median_day=rates.log_day,
        multi_days=0.0,
        within_days=rates.tau,
        mated=1 - (1 - rates.phi) ** (1 / k),
        frailty=rates.sigma,
        winter=math.log(rates.winter),
        winter_company=math.log(rates.winter_company),
    )
    cold = np.tile(np.ravel(winters), (n, 1)) if winters else None
    paths = run(n, k, truth, np.random.default_rng(seed), max(days), winter=cold)
    sets = []
    for i in range(n):
        looks = []
        for day in days:
            alive = k - int((paths.deaths[i] <= day).sum())
            looks.append((float(day), alive, int(paths.first_worker[i] <= day)))
            if not alive:
                break
        sets.append((k, tuple(looks)))
    return sets


@njit(error_model="numpy")
def by_frailty(par, shared, records, rows, nodes, z):
    """Log-likelihood of each founding (records without late entries) at each frailty."""
    rates, gradient, term = np.empty(RATES), np.empty(GRADIENT), np.empty(GRADIENT)
    out = np.empty((z.size, par.shape[0]))
    for q in range(z.size):
        for i in range(par.shape[0]):
            fill_rates(par, i, z[q], shared, paces(shared), rates)
            out[q, i] = founding(records, i, rows, nodes, rates, gradient, term)
    return out
