"""The founding model written out in PyMC, as the books write it.

Comes in: a `Lineup`, an `Exposure` and `Priors`. Goes out: a `pymc.Model` for whoever wants to read
the model, change it, or sample it otherwise. Never: what `cohort compare` samples
(`transitions.density` is the same model, quicker, nothing to compile; a test holds both together).

Genus effects are the mean of the study's genera plus deviations that sum to zero: in distribution
Normal(mean, sd) for every genus.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pymc as pm
import pytensor.tensor as pt

from cohort.exposure import Exposure
from cohort.history import History
from cohort.model.coordinates import LEVEL_NAMES, packed_study
from cohort.model.lineup import Lineup
from cohort.model.op import founding_loglik
from cohort.model.priors import EFFECTS, Priors
from cohort.model.sample import prepare
from cohort.transitions.density import NEVER
from cohort.transitions.layout import N1, N2
from cohort.warm_clock import thresholds


def _genus_effects(priors: Priors, lineup: Lineup) -> Any:
    mean, sd, between = (priors.column(c) for c in ("mean", "sd", "between"))
    active = np.ones(len(EFFECTS))
    if lineup.pooled_fight:
        active[EFFECTS.index("last_fight")] = 0.0
    spread = active * pm.HalfNormal("genus_sd", between, dims="effect")
    wide = pt.sqrt(sd**2 + spread**2 / len(lineup.genera))
    centre = pm.Normal("genus_mean", mean, wide, dims="effect")
    raw = pm.Normal("genus_raw", 0.0, 1.0, dims=("effect", "genus_name"))
    off = raw - raw.mean(axis=1, keepdims=True)
    return pm.Deterministic(
        "genus", centre[:, None] + spread[:, None] * off, dims=("effect", "genus_name")
    )


def _shift(priors: Priors, lineup: Lineup) -> Any:
    """What keeper, flight, species and covariates add to the log founding hazard."""
    shift: Any = np.zeros(len(lineup.foundings))
    levels = (lineup.keepers, lineup.flights, lineup.kinds_within)
    index = (lineup.keeper, lineup.flight, lineup.kind_within)
    for name, names, of in zip(LEVEL_NAMES, levels, index, strict=True):
        if names:
            sd = pm.HalfNormal(f"{name}_sd", priors.keeper)
            raw = pm.Normal(f"{name}_raw", 0.0, 1.0, dims=name)
            shift = shift + pm.Deterministic(f"{name}_effect", sd * raw, dims=name)[of]
    if lineup.covariates:
        slope = pm.Normal("covariate_slope", 0.0, priors.covariate, dims="covariate")
        shift = shift + pt.dot(lineup.x, slope)
    return shift


def _later(priors: Priors, lineup: Lineup) -> Any:
    """Shift of the log day of the first worker by the warmth of the shelf."""
    if not lineup.warm.any():
        return np.zeros(len(lineup.foundings))
    return pm.Normal("warm_days", *priors.warm_days) * lineup.warm


def _threshold(priors: Priors, lineup: Lineup) -> Any:
    """Temperature above which a shelf with a log counts; not read where no shelf has one."""
    if not lineup.logged.any():
        return 0.0
    low, high = thresholds(lineup.reference)
    mean, sd = priors.warm_threshold
    return pm.TruncatedNormal("warm_threshold", mean, sd, lower=low, upper=high)


def written_out(lineup: Lineup, exposure: Exposure, priors: Priors) -> pm.Model:
    """The PyMC model of a lineup.

    Parameters
    ----------
    lineup : Lineup
    exposure : Exposure
        Packed tables of the same foundings.
    priors : Priors

    Returns
    -------
    pymc.Model
        Coordinates ``effect``, ``genus_name``, ``founding``, ``step``, ``phase`` and, where they
        enter, ``keeper``, ``flight``, ``kind_within``, ``covariate``.
    """
    coords: dict[str, Any] = {
        "effect": list(EFFECTS),
        "genus_name": list(lineup.genera),
        "founding": list(lineup.foundings),
        "step": list(range(N1 - 1 + N2 - 1)),
        "phase": ["before", "after"],
    }
    levels = (lineup.keepers, lineup.flights, lineup.kinds_within)
    coords |= {n: list(names) for n, names in zip(LEVEL_NAMES, levels, strict=True) if names}
    coords |= {"covariate": list(lineup.covariates)} if lineup.covariates else {}
    with pm.Model(coords=coords) as model:
        effects = _genus_effects(priors, lineup)
        size_step = pm.Normal("size_step", 0.0, priors.size_step_sd)
        multi_days = pm.Normal("multi_days", *priors.multi_days)
        walk_sd = pm.HalfNormal("walk_sd", priors.walk, dims="phase")
        walk = pm.Normal("walk", 0.0, 1.0, dims="step")
        tau = pm.LogNormal("within_days", *priors.within_days)
        sigma: Any = pm.HalfNormal("frailty_sd", priors.frailty)
        z = pm.Normal("frailty", 0.0, 1.0, dims="founding")
        mated: Any = pm.Beta("mated", *priors.mated)
        seen: Any = pm.Normal("seen", *priors.seen) if lineup.seen.any() else 0.0
        loading: Any = 1.0
        if lineup.variant == "free loading":
            loading = pm.Normal("loading", *priors.loading)
        if lineup.variant == "no frailty":
            sigma = 0.0
        if lineup.variant == "no fertile fraction":
            mated = 1.0
        if lineup.variant == "no rivalry":
            effects = pt.set_subtensor(effects[EFFECTS.index("rivalry")], 0.0)
        if lineup.variant == "last fight takes one":
            effects = pt.set_subtensor(effects[EFFECTS.index("last_fight")], NEVER)
        sds = pt.repeat(walk_sd, np.array([N1 - 1, N2 - 1]))
        steps = pt.dot(np.concatenate([lineup.steps1, lineup.steps2]), walk * sds)
        rest = [tau, sigma, loading, size_step, multi_days, mated, seen, _threshold(priors, lineup)]
        lasting = float(lineup.variant == "lasting")
        shared = pt.concatenate([steps, pt.stack([*map(pt.as_tensor, rest), lasting])])
        outputs: Any = founding_loglik(
            effects, shared, _shift(priors, lineup), _later(priors, lineup), z,
            packed_study(lineup, exposure),
        )  # fmt: skip
        pm.Potential("seen_so_far", outputs[0])
    return model


def founding_model(
    history: History, *, adjust: tuple[str, ...] = (), priors: Priors | None = None
) -> pm.Model:
    """The founding model of a history as a PyMC model, to read, extend or sample otherwise.

    Parameters
    ----------
    history : History
    adjust : tuple of str
        Columns to adjust the founding hazard for.
    priors : Priors, optional

    Returns
    -------
    pymc.Model
        Hazards are logs per queen and day, times logs of days. Its one likelihood node is the exact
        kernel with its slopes.

    Raises
    ------
    StudyError
        Nothing to compare, or a covariate that cannot enter.
    """
    lineup, exposure = prepare(history, adjust=adjust)
    return written_out(lineup, exposure, priors or Priors())
