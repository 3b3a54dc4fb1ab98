"""The founding model as a PyMC graph: priors -> hazards -> one likelihood node.

Comes in: a `Lineup`, an `Exposure` and `Priors`. Goes out: a `pymc.Model` whose data can be
swapped. Never: sampling.

Genus effects are the mean of the study's genera plus deviations that sum to zero. In
distribution this is Normal(mean, sd) for every genus; in geometry it is what samples well
(statistics.md, section 2).
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pymc as pm
import pytensor.tensor as pt

from cohort.exposure import Exposure
from cohort.model.lineup import Lineup
from cohort.model.op import founding_loglik
from cohort.model.priors import EFFECTS, Priors
from cohort.warm_clock import thresholds

STEPS: Final = 7
"""Steps of the two random walks together (four of the founding phase, three with workers)."""


def data_of(lineup: Lineup, exposure: Exposure) -> dict[str, Any]:
    """The arrays a study puts into the graph, by name; what a refit swaps."""
    none = np.zeros(len(lineup.foundings), np.int64)
    levels = (v if v.size else none for v in (lineup.keeper, lineup.flight, lineup.kind_within))
    index = np.stack([lineup.genus, lineup.size, lineup.seen, *levels], axis=1)
    return {
        "index": index.astype(np.int64),
        "steps": np.concatenate([lineup.steps1, lineup.steps2]),
        "records": exposure.records,
        "rows": exposure.rows,
        "nodes": exposure.nodes,
        "x": lineup.x,
        "warm": lineup.warm,
    }


def _genus_effects(priors: Priors, pooled_fight: bool) -> Any:
    mean, sd, between = (priors.column(c) for c in ("mean", "sd", "between"))
    active = np.ones(len(EFFECTS))
    if pooled_fight:
        active[EFFECTS.index("last_fight")] = 0.0
    spread = pm.HalfNormal("genus_sd", between, dims="effect")
    raw = pm.Normal("genus_raw", 0.0, 1.0, dims=("effect", "genus_name"))
    count = raw.shape[1]
    centre = pm.Normal(
        "genus_mean", mean, pt.sqrt(sd**2 + (active * spread) ** 2 / count), dims="effect"
    )
    off = raw - raw.mean(axis=1, keepdims=True)
    return pm.Deterministic(
        "genus", centre[:, None] + (active * spread)[:, None] * off, dims=("effect", "genus_name")
    )


def _levels(name: str, scale: float, levels: tuple[str, ...], index: Any) -> Any:
    """An effect of keepers or flights; 0 where it does not enter."""
    if not levels:
        return 0.0
    sd = pm.HalfNormal(f"{name}_sd", scale)
    raw = pm.Normal(f"{name}_raw", 0.0, 1.0, dims=name)
    return (sd * raw)[index]


def _fertile(priors: Priors, lineup: Lineup, size: Any, seen: Any) -> Any:
    """Chance that a founding can have workers at all: one of its queens at least is mated."""
    p = pm.Beta("mated", *priors.mated)
    if lineup.variant == "no fertile fraction":
        return pt.ones_like(size, dtype="float64")
    if not lineup.seen.any():
        return 1.0 - (1.0 - p) ** size
    shift = pm.Normal("seen", *priors.seen)
    p_seen = pm.math.invlogit(pm.math.logit(p) + shift)
    return 1.0 - (1.0 - p) ** (size - seen) * (1.0 - p_seen) ** seen


def _warmth(priors: Priors, lineup: Lineup) -> Any:
    """Shift of the log day of the first worker by the warmth of the shelf; 0 where not asked."""
    if not lineup.warm.any():
        return 0.0
    return pm.Normal("warm_days", *priors.warm_days) * pm.Data("warm", lineup.warm)


def _threshold(priors: Priors, lineup: Lineup) -> Any:
    """Temperature above which a shelf with a log counts; not read where no shelf has one."""
    if not lineup.logged.any():
        return 0.0
    low, high = thresholds(lineup.reference)
    mean, sd = priors.warm_threshold
    return pm.TruncatedNormal("warm_threshold", mean, sd, lower=low, upper=high)


def founding_model(lineup: Lineup, exposure: Exposure, priors: Priors) -> pm.Model:
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
        enter, ``keeper``, ``flight``, ``covariate``.
    """
    coords: dict[str, Any] = {
        "effect": list(EFFECTS),
        "genus_name": list(lineup.genera),
        "founding": list(lineup.foundings),
        "step": list(range(STEPS)),
        "phase": ["before", "after"],
    }
    coords |= {"keeper": list(lineup.keepers)} if lineup.keepers else {}
    coords |= {"flight": list(lineup.flights)} if lineup.flights else {}
    coords |= {"kind_within": list(lineup.kinds_within)} if lineup.kinds_within else {}
    coords |= {"covariate": list(lineup.covariates)} if lineup.covariates else {}
    with pm.Model(coords=coords) as model:
        values = data_of(lineup, exposure)
        index = pm.Data("index", values["index"])
        steps = pm.Data("steps", values["steps"])
        records, rows, nodes = (pm.Data(k, values[k]) for k in ("records", "rows", "nodes"))
        genus, size, seen = index[:, 0], index[:, 1], index[:, 2]
        multi = pt.ge(size, 2).astype("float64")
        doublings = pt.log2(pt.maximum(size, 2) / 2.0)

        effects = _genus_effects(priors, lineup.pooled_fight)
        size_step = pm.Normal("size_step", 0.0, priors.size_step_sd)
        walk_sd = pm.HalfNormal("walk_sd", priors.walk, dims="phase")
        walk = pm.Normal("walk", 0.0, 1.0, dims="step")
        tau = pm.HalfNormal("within_days", priors.within_days)
        multi_days = pm.Normal("multi_days", *priors.multi_days)
        sigma = pm.HalfNormal("frailty_sd", priors.frailty)
        z = pm.Normal("frailty", 0.0, 1.0, dims="founding")
        loading: Any = 1.0
        if lineup.variant == "free loading":
            loading = pm.Normal("loading", 1.0, 0.5)
        if lineup.variant == "no frailty":
            sigma = sigma * 0.0

        here = effects[:, genus]
        shift = _levels("keeper", priors.keeper, lineup.keepers, index[:, 3])
        shift += _levels("flight", priors.keeper, lineup.flights, index[:, 4])
        shift += _levels("kind_within", priors.keeper, lineup.kinds_within, index[:, 5])
        if lineup.covariates:
            slope = pm.Normal("covariate_slope", 0.0, priors.covariate, dims="covariate")
            shift += pt.dot(pm.Data("x", values["x"]), slope)
        together = (here[1] + size_step * doublings) * multi
        level = here[0] + shift
        if lineup.variant == "lasting":
            level, together = level + together, together * 0.0
        rivalry = here[3] * (0.0 if lineup.variant == "no rivalry" else 1.0)
        both = pm.math.invlogit(here[4])
        if lineup.variant == "last fight takes one":
            both = both * 0.0
        par = pt.stack(
            [
                level,
                together,
                here[2],
                rivalry,
                both,
                here[5] + multi_days * multi + _warmth(priors, lineup),
                _fertile(priors, lineup, size, seen),
                z,
                pt.zeros_like(z) + _threshold(priors, lineup),
            ],
            axis=1,
        )
        sds = pt.concatenate([pt.repeat(walk_sd[:1], 4), pt.repeat(walk_sd[1:], 3)])
        pieces = pt.dot(steps, walk * sds)
        shared = pt.concatenate([pieces, pt.stack([tau, sigma, loading])])
        outputs: Any = founding_loglik(par, shared, records, rows, nodes)
        pm.Potential("seen_so_far", outputs[0])
    return model
