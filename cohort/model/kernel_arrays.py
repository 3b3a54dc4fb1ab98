"""From named draws, of a posterior or of priors, to the arrays of the compiled code.

Comes in: values by name, first axis the draws, and a `ModelDesign`. Goes out: effects by genus and
what all foundings share, in the order of `cohort.likelihood.layout`, and by founding. Never: a
formula of the predictor (`cohort.likelihood.predictor` has them).
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt
import xarray as xr
from scipy.special import expit

from cohort.likelihood import layout as at
from cohort.likelihood.predictor import parameters_by_founding
from cohort.model.design import ModelDesign
from cohort.model.parameters import BY_FOUNDING, BY_GENUS, COMMON, EFFECTS
from cohort.terms.levels import PARTS

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
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


def effects_of(effects: Floats, design: ModelDesign) -> Floats:
    """Effects by genus as the compiled code takes them.

    Parameters
    ----------
    effects : float array, shape (draws, genera, EFFECTS)
        As they are sampled: the share of losses that take both as a logit.
    design : ModelDesign
        Its variant may switch an effect off.
    """
    out = effects.copy()
    for e, row in enumerate(BY_GENUS):
        fixed_at = row.fixed_at(design.variant)
        if fixed_at is not None:
            out[..., e] = fixed_at
    out[..., at.E_LAST_FIGHT] = expit(out[..., at.E_LAST_FIGHT])
    return out


def shared_of(values: Values, design: ModelDesign) -> Floats:
    """What all foundings share, shape (draws, SHARED_WIDTH).

    What is not among the values (matings nobody saw, warmth nobody measured) is 0 and not read.
    """
    walk = values["walk"] * np.repeat(values["walk_sd"], [at.N1 - 1, at.N2 - 1], axis=1)
    out: Floats = np.zeros((len(walk), at.SHARED_WIDTH))
    out[:, at.STEPS1 : at.STEPS2] = walk @ design.steps1.T
    out[:, at.STEPS2 : at.WITHIN_DAYS] = walk @ design.steps2.T
    for row in COMMON:
        fixed_at = row.fixed_at(design.variant)
        if row.shared >= 0 and (fixed_at is not None or row.name in values):
            out[:, row.shared] = values[row.name] if fixed_at is None else fixed_at
    out[:, at.S_LASTING] = float(design.variant == "lasting")
    return out


def added_by_slopes(values: Values, design: ModelDesign, x: Floats, draws: int) -> Floats:
    """What covariates add to each part of a founding's parameters, for every draw.

    Parameters
    ----------
    values : mapping of arrays
        See `stacked`.
    design : ModelDesign
    x : float array, shape (rows, covariates)
    draws : int

    Returns
    -------
    float array, shape (draws, PARTS, rows)
    """
    out: Floats = np.zeros((draws, at.PARTS, len(x)))
    for i, part in enumerate(PARTS):
        columns = design.adjusted(part)
        if len(columns):
            out[:, i] = values[f"slope_{part}"] @ x[:, columns].T
    return out


def added_to(values: Values, design: ModelDesign, rows: Ints, draws: int) -> Floats:
    """What covariates and levels add to each part of foundings of a design, for every draw.

    Parameters
    ----------
    values : mapping of arrays
        See `stacked`.
    design : ModelDesign
    rows : int array
        Which of its foundings.
    draws : int

    Returns
    -------
    float array, shape (draws, PARTS, rows)
    """
    out = added_by_slopes(values, design, design.x[rows], draws)
    for row in BY_FOUNDING:
        if row.of and row.enters(design):
            own = values[row.name][:, design.levels[row.of].index[rows]]
            out[:, list(PARTS).index(row.part)] += own
    return out


def by_founding(values: Values, design: ModelDesign) -> tuple[Floats, Floats]:
    """The compiled code's parameters of every founding of a design, for every draw.

    Parameters
    ----------
    values : mapping of arrays
        See `stacked`.
    design : ModelDesign

    Returns
    -------
    par : float array, shape (draws, foundings, FOUNDING_WIDTH)
    shared : float array, shape (draws, SHARED_WIDTH)
    """
    effects = effects_of(np.stack([values[name] for name in EFFECTS], axis=2), design)
    shared = shared_of(values, design)
    added = added_to(values, design, np.arange(len(design.foundings)), len(shared))
    if design.warm.any():
        added[:, at.P_FIRST_WORKER] += values["warm_days"][:, None] * design.warm
    who = design.genus_code, design.size, design.seen
    par = parameters_by_founding(effects, shared, *who, added)
    if "frailty" in values:
        par[..., at.FRAILTY] = values["frailty"]
    return par, shared
