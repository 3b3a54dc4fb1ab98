"""From named draws, of a posterior or of priors, to the arrays of the compiled code.

Comes in: values by name, first axis the draws, and a `Lineup`. Goes out: effects by genus and what
all foundings share, in the order of `cohort.transitions.layout`, and by founding. Never: a formula
of the predictor (`cohort.transitions.predictor` has them).
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt
import xarray as xr
from scipy.special import expit

from cohort.model.lineup import Lineup
from cohort.model.parameters import BY_FOUNDING, BY_GENUS, COMMON, EFFECTS
from cohort.terms.levels import PARTS
from cohort.transitions import layout as at
from cohort.transitions.predictor import parameters_by_founding

Floats = npt.NDArray[np.float64]
Values = Mapping[str, Floats]
"""Draws by name, each of shape (draws, ...)."""


def stacked(posterior: xr.Dataset) -> dict[str, Floats]:
    """Every variable with its chains end to end, shape (draws, ...).

    Parameters
    ----------
    posterior : Dataset
        Named draws, dimensions chain and draw.
    """
    out = {}
    for name, array in posterior.data_vars.items():
        values = array.transpose("chain", "draw", ...).to_numpy()
        out[str(name)] = values.reshape(-1, *values.shape[2:])
    return out


def effects_of(effects: Floats, lineup: Lineup) -> Floats:
    """Effects by genus as the compiled code takes them.

    Parameters
    ----------
    effects : float array, shape (draws, genera, EFFECTS)
        As they are sampled: the share of losses that take both as a logit.
    lineup : Lineup
        Its variant may switch an effect off.
    """
    out = effects.copy()
    for e, row in enumerate(BY_GENUS):
        held = row.held(lineup.variant)
        if held is not None:
            out[..., e] = held
    out[..., at.E_BOTH] = expit(out[..., at.E_BOTH])
    return out


def shared_of(values: Values, lineup: Lineup) -> Floats:
    """What all foundings share, shape (draws, SHARED_WIDTH).

    What is not among the values (matings nobody saw, warmth nobody measured) is 0 and not read.
    """
    walk = values["walk"] * np.repeat(values["walk_sd"], [at.N1 - 1, at.N2 - 1], axis=1)
    out: Floats = np.zeros((len(walk), at.SHARED_WIDTH))
    out[:, at.STEPS1 : at.STEPS2] = walk @ lineup.steps1.T
    out[:, at.STEPS2 : at.TAU] = walk @ lineup.steps2.T
    for row in COMMON:
        held = row.held(lineup.variant)
        if row.shared >= 0 and (held is not None or row.name in values):
            out[:, row.shared] = values[row.name] if held is None else held
    out[:, at.S_LASTING] = float(lineup.variant == "lasting")
    return out


def added_by_slopes(values: Values, lineup: Lineup, x: Floats, draws: int) -> Floats:
    """What covariates add to each part of a founding's parameters, for every draw.

    Parameters
    ----------
    values : mapping of arrays
        See `stacked`.
    lineup : Lineup
    x : float array, shape (rows, covariates)
    draws : int

    Returns
    -------
    float array, shape (draws, PARTS, rows)
    """
    out: Floats = np.zeros((draws, at.PARTS, len(x)))
    for i, part in enumerate(PARTS):
        columns = lineup.adjusted(part)
        if len(columns):
            out[:, i] = values[f"slope_{part}"] @ x[:, columns].T
    return out


def by_founding(values: Values, lineup: Lineup) -> tuple[Floats, Floats]:
    """The compiled code's parameters of every founding of a lineup, for every draw.

    Parameters
    ----------
    values : mapping of arrays
        See `stacked`.
    lineup : Lineup

    Returns
    -------
    par : float array, shape (draws, foundings, FOUNDING_WIDTH)
    shared : float array, shape (draws, SHARED_WIDTH)
    """
    effects = effects_of(np.stack([values[name] for name in EFFECTS], axis=2), lineup)
    shared = shared_of(values, lineup)
    added = added_by_slopes(values, lineup, lineup.x, len(shared))
    for row in BY_FOUNDING:
        if row.of and row.enters(lineup):
            own = values[row.name][:, lineup.levels[row.of].index]
            added[:, list(PARTS).index(row.part)] += own
    if lineup.warm.any():
        added[:, at.P_FIRST_WORKER] += values["warm_days"][:, None] * lineup.warm
    who = lineup.genus, lineup.size, lineup.seen
    par = parameters_by_founding(effects, shared, *who, added)
    if "frailty" in values:
        par[..., at.FRAILTY] = values["frailty"]
    return par, shared
