"""The likelihood founding by founding, each with every number it lives by as its own.

Comes in: one row per founding, laid out by `LIVED`, and a packed study. Goes out: a log-likelihood
per founding, and its gradient in every number of its row. Never: a sum, a predictor, a prior.

`study` sums over foundings that share their paces, spreads and frailty. Here nothing is shared, so
that whoever writes a model of their own may move any of it.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numba import njit

from cohort.likelihood.assembly import tables
from cohort.likelihood.founding import founding
from cohort.likelihood.layout import FOUNDING_WIDTH, FRAILTY, OWNER, READ, SHARED_WIDTH
from cohort.likelihood.rates import GRADIENT, RATES
from cohort.likelihood.study import (
    HERMITE_X,
    at_entry,
    fill_rates,
    integrated,
    paces,
    spread_rates,
)

SHARED_FROM: Final = FOUNDING_WIDTH
"""First column of a row that foundings share elsewhere."""
LIVED: Final = FOUNDING_WIDTH + READ
"""Columns of a row: the parameters of a founding, then those of what all share that its likelihood
reads, both as in `layout`."""


@njit(cache=True, error_model="numpy")
def loglik_by_founding(lived, study, average):  # type: ignore[no-untyped-def]  # compiled by numba
    """Log-likelihood of every founding, and its gradient.

    Parameters
    ----------
    lived : float array, shape (foundings, LIVED)
    study : float array
        Made by `assembly.in_one`; of its tables the records, rows and nodes are read.
    average : int
        1: averaged over the frailty, whose column is not read; the gradient is then left at 0.

    Returns
    -------
    float arrays, shapes (foundings,) and (foundings, LIVED)
    """
    _, _, records, rows, nodes = tables(study)
    count = lived.shape[0]
    value, slopes = np.zeros(count), np.zeros((count, LIVED))
    par, shared = np.zeros((1, FOUNDING_WIDTH)), np.zeros(SHARED_WIDTH)
    d_par, d_shared = np.zeros((1, FOUNDING_WIDTH)), np.zeros(SHARED_WIDTH)
    rates, gradient = np.empty(RATES), np.empty(GRADIENT)
    term = np.empty(GRADIENT)
    scratch = np.empty((3, RATES))
    values, kept = np.empty(HERMITE_X.size), np.empty((HERMITE_X.size, GRADIENT))
    for i in range(records.shape[0]):
        f = int(records[i, OWNER])
        for j in range(FOUNDING_WIDTH):
            par[0, j], d_par[0, j] = lived[f, j], 0.0
        for j in range(READ):
            shared[j], d_shared[j] = lived[f, SHARED_FROM + j], 0.0
        entered = i >= count  # a record of the state at a delayed entry, which divides
        if average:
            one = integrated(par, 0, shared, records, i, rows, nodes, scratch)
            value[f] += -one if entered else one
            continue
        pace = paces(shared)
        if entered:
            value[f] -= at_entry(
                par, 0, shared, pace, records, i, rows, nodes, rates, values, kept, term,
                d_par, d_shared,
            )  # fmt: skip
        else:
            z = par[0, FRAILTY]
            fill_rates(par, 0, z, shared, pace, rates)
            value[f] += founding(records, i, rows, nodes, rates, gradient, term)
            spread_rates(gradient, rates, 1.0, 0, z, shared, d_par, d_shared, True)
        for j in range(FOUNDING_WIDTH):
            slopes[f, j] += d_par[0, j]
        for j in range(READ):
            slopes[f, SHARED_FROM + j] += d_shared[j]
    return value, slopes
