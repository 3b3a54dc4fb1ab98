"""Published survival data written straight into the tables that our likelihood reads.

A unit (a patient, a group of mice, a cell of a table) becomes a founding whose first worker cannot
come (chance to be fertile 0), so that only the founding phase speaks: exposure enters as queens x
days of a lone queen, and an event at a known moment as the loss of a lone queen within a moment so
short that its chance is the hazard times the moment.
"""

import math

import numpy as np

from cohort.likelihood import layout as at
from cohort.likelihood.study import marginal_loglik, study_loglik

MOMENT = 1e-9


def tables(exposure, events):
    """Records and rows; exposure and events have one row per unit, one column per piece.

    The five pieces are those of the founding phase; a table may use fewer.
    """
    exposure, events = np.atleast_2d(exposure), np.atleast_2d(np.asarray(events, int))
    units, pieces = exposure.shape
    records = np.zeros((units, at.RECORD_WIDTH))
    records[:, at.NONE] = 1.0
    records[:, at.LOG_END] = -745.0
    records[:, at.OWNER] = np.arange(units)
    records[:, at.NONE_LONE : at.NONE_LONE + pieces] = exposure
    rows = np.zeros((int(events.sum()), at.ROW_WIDTH))
    rows[:, at.BEFORE] = 1.0
    unit, piece = np.divmod(np.repeat(np.arange(events.size), events.ravel()), pieces)
    rows[np.arange(len(rows)), at.EXPOSURE + piece] = MOMENT
    ends = np.cumsum(events.sum(axis=1))
    records[:, at.NONE_FROM], records[:, at.NONE_TO] = ends - events.sum(axis=1), ends
    assert (np.diff(unit) >= 0).all()
    return records, rows, np.zeros((0, at.NODE_WIDTH))


def parameters(log_hazard, *, steps=(), sigma=0.0, z=0.0):
    """Kernel parameters: a log hazard per unit, and log steps of the pieces."""
    log_hazard = np.asarray(log_hazard, float)
    par = np.zeros((len(log_hazard), at.FOUNDING_WIDTH))
    par[:, at.HAZARD1], par[:, at.FRAILTY] = log_hazard, z
    shared = np.zeros(at.SHARED_WIDTH)
    shared[at.STEPS1 : at.STEPS1 + len(steps)] = steps
    shared[at.WITHIN_DAYS], shared[at.SIGMA], shared[at.LOADING] = 1.0, sigma, 1.0
    return par, shared


def loglik(log_hazard, exposure, events, **more):
    """Log-likelihood of all units, and its slopes in log hazards and in steps."""
    par, shared = parameters(log_hazard, **more)
    value, gradient, in_shared = study_loglik(par, shared, *tables(exposure, events))
    return value - _moments(events), gradient[:, at.HAZARD1], in_shared[: at.N1]


def marginal(log_hazard, exposure, events, sigma):
    """Log-likelihood by unit, a normal shift of the log hazard with SD sigma integrated out."""
    par, shared = parameters(log_hazard, sigma=sigma)
    values = marginal_loglik(par[None], shared[None], *tables(exposure, events))[0]
    return values - np.asarray(events).reshape(len(values), -1).sum(axis=1) * math.log(MOMENT)


def _moments(events):
    return np.sum(events) * math.log(MOMENT)
