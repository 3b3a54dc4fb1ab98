"""The founding model written out in PyMC, as the books write it.

Comes in: a `ModelDesign`, an `Exposure` and `Priors`. Goes out: a `pymc.Model` for whoever wants to
read the model, change it, or sample it otherwise. Never: what `cohort compare` samples
(`likelihood.density` is the same model, quicker, nothing to compile; a test holds both together).

Genus effects are the mean of the study's genera plus deviations that sum to zero: in distribution
Normal(mean, sd) for every genus.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
import pymc as pm
import pytensor.tensor as pt

from cohort.history import History
from cohort.likelihood import layout as at
from cohort.likelihood.exposure import Exposure
from cohort.likelihood.packing import STEPS
from cohort.model.design import ModelDesign
from cohort.model.families import Beta, CutNormal, HalfNormal, LogNormal, Normal, Prior
from cohort.model.log_posterior import PHASES, limits, named_dims, packed_study
from cohort.model.op import founding_loglik
from cohort.model.parameters import BY_FOUNDING, BY_GENUS, COMMON, EFFECTS
from cohort.model.priors import Priors
from cohort.model.sample import prepare
from cohort.terms.adjusting import Adjust
from cohort.terms.levels import FIRST_WORKER, PARTS


def _genus_effects(priors: Priors, design: ModelDesign) -> Any:
    mean, sd, between = (priors.column(c) for c in ("mean", "sd", "between"))
    active = np.ones(len(EFFECTS))
    if design.pooled_fight:
        active[EFFECTS.index("last_fight")] = 0.0
    spread = active * pm.HalfNormal("genus_sd", between, dims="effect")
    wide = pt.sqrt(sd**2 + spread**2 / len(design.genera))
    centre = pm.Normal("genus_mean", mean, wide, dims="effect")
    raw = pm.Normal("genus_raw", 0.0, 1.0, dims=("effect", "genus_name"))
    off = raw - raw.mean(axis=1, keepdims=True)
    return pm.Deterministic(
        "genus", centre[:, None] + spread[:, None] * off, dims=("effect", "genus_name")
    )


def _prior(name: str, prior: Prior, design: ModelDesign, dims: tuple[str, ...]) -> Any:
    """A prior of the table as PyMC has it."""
    dims_or_none = dims or None
    match prior:
        case HalfNormal(scale):
            return pm.HalfNormal(name, scale, dims=dims_or_none)
        case Beta(a, b):
            return pm.Beta(name, a, b, dims=dims_or_none)
        case LogNormal(mean, sd):
            return pm.LogNormal(name, mean, sd, dims=dims_or_none)
        case CutNormal(mean, sd):
            low, high = limits(design)
            return pm.TruncatedNormal(name, mean, sd, lower=low, upper=high)
        case Normal(mean, sd):
            return pm.Normal(name, mean, sd, dims=dims_or_none)
    raise AssertionError(f"{name}: {prior} is no prior of the table")


def _common(priors: Priors, design: ModelDesign) -> dict[str, Any]:
    """Every parameter that genera share and that enters, by name; and the steps of the hazards."""
    out = {
        row.name: _prior(row.name, priors[row.name], design, row.dims)
        for row in COMMON
        if row.prior is not None and row.enters(design)
    }
    out["walk"] = pm.Normal("walk", 0.0, 1.0, dims="step")
    return out


def _shared(common: dict[str, Any], design: ModelDesign) -> Any:
    """What all foundings share, in the order of `cohort.likelihood.layout`."""
    numbers: dict[int, Any] = {at.S_LASTING: float(design.variant == "lasting")}
    for row in COMMON:
        if row.shared >= 0:
            fixed_at = row.fixed_at(design.variant)
            numbers[row.shared] = common.get(row.name, 0.0) if fixed_at is None else fixed_at
    sds = pt.repeat(common["walk_sd"], np.bincount(PHASES))
    steps = pt.dot(np.concatenate([design.steps1, design.steps2]), common["walk"] * sds)
    rest = [pt.as_tensor(numbers[place]) for place in range(at.WITHIN_DAYS, at.SHARED_WIDTH)]
    return pt.concatenate([steps, pt.stack(rest)])


def _added(priors: Priors, common: dict[str, Any], design: ModelDesign) -> Any:
    """What levels, covariates and warmth add to each part of each founding's parameters."""
    out: dict[str, Any] = {part: np.zeros(len(design.foundings)) for part in PARTS}
    for row in BY_FOUNDING:
        if not row.part or not row.enters(design):
            continue
        if row.of:
            raw = pm.Normal(f"{row.name}_raw", 0.0, 1.0, dims=row.dims)
            effect = pm.Deterministic(row.name, common[row.sd] * raw, dims=row.dims)
            out[row.part] = out[row.part] + effect[design.levels[row.of].index]
        else:
            slope = _prior(row.name, priors[row.name], design, row.dims)
            out[row.part] = out[row.part] + pt.dot(design.x[:, design.adjusted(row.part)], slope)
    if design.warm.any():
        out[FIRST_WORKER] = out[FIRST_WORKER] + common["warm_days"] * design.warm
    return pt.stack([pt.as_tensor(move) for move in out.values()])


def written_out(design: ModelDesign, exposure: Exposure, priors: Priors) -> pm.Model:
    """The PyMC model of a design.

    Parameters
    ----------
    design : ModelDesign
    exposure : Exposure
        Packed tables of the same foundings.
    priors : Priors

    Returns
    -------
    pymc.Model
        Coordinates ``effect``, ``genus_name``, ``founding``, ``step``, ``phase`` and, where they
        enter, the kinds of level (``keeper`` ...) and ``covariate_<part>``.
    """
    coords: dict[str, Any] = {
        "effect": list(EFFECTS),
        "genus_name": list(design.genera),
        "step": list(range(STEPS)),
        "phase": ["before", "after"],
    }
    coords |= named_dims(design)
    with pm.Model(coords=coords) as model:
        effects = _genus_effects(priors, design)
        for e, row in enumerate(BY_GENUS):
            fixed_at = row.fixed_at(design.variant)
            if fixed_at is not None:
                effects = pt.set_subtensor(effects[e], fixed_at)
        common = _common(priors, design)
        z = pm.Normal("frailty", 0.0, 1.0, dims="founding")
        added = _added(priors, common, design)
        study = packed_study(design, exposure)
        outputs: Any = founding_loglik(effects, _shared(common, design), added, z, study)
        pm.Potential("seen_so_far", outputs[0])
    return model


def founding_model(
    history: History, *, adjust: Adjust | Iterable[str] = (), priors: Priors | None = None
) -> pm.Model:
    """The founding model of a history as a PyMC model, to read, extend or sample otherwise.

    Parameters
    ----------
    history : History
    adjust : Adjust or iterable of str
        Columns to adjust for, by what they may move; a plain list moves the survival before and
        with workers.
    priors : Priors, optional

    Returns
    -------
    pymc.Model
        Hazards are logs per queen and day, times logs of days. Its one likelihood node is the exact
        kernel with its gradient.

    Raises
    ------
    StudyError
        Nothing to compare, or a covariate that cannot enter.
    """
    design, exposure = prepare(history, adjust=adjust)
    return written_out(design, exposure, priors or Priors())
