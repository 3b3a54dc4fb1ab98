"""The founding model as a PyMC graph: priors -> hazards -> one likelihood node.

Comes in: a `Lineup`, an `Exposure` and `Priors`. Goes out: a `pymc.Model` whose data can be
swapped. Never: sampling.

Genus effects are the mean of the study's genera plus deviations that sum to zero. In
distribution this is Normal(mean, sd) for every genus; in geometry it is what samples well.

SDs carry a sign while they are sampled, and what they multiply is stretched: see `geometry`.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pymc as pm
import pytensor.tensor as pt

from cohort.exposure import Exposure
from cohort.model.geometry import EASED, PHASE_OF_STEP, signed_sd, standard
from cohort.model.lineup import Lineup
from cohort.model.op import founding_loglik
from cohort.model.priors import EFFECTS, Priors
from cohort.model.told import apart, told
from cohort.transitions.assembly import in_one
from cohort.warm_clock import thresholds

NOTHING: Final = np.zeros(0)
"""No founding is shifted."""
NEVER: Final = -40.0
"""Logit of a chance that is as good as none."""
MEANS: Final = tuple(
    [EFFECTS.index(name) for name in names]
    for names in (
        ("together", "rivalry", "last_fight"),
        ("founding_hazard", "worker_hazard", "first_worker"),
    )
)
"""Effects whose means are sampled as they are, and effects whose means lean on those."""
STEPS: Final = 7
"""Steps of the two random walks together (four of the founding phase, three with workers)."""


def data_of(lineup: Lineup, exposure: Exposure) -> dict[str, Any]:
    """The arrays a study puts into the graph, by name; what a refit swaps."""
    who = np.stack([lineup.genus, lineup.size, lineup.seen], axis=1)
    steps = np.concatenate([lineup.steps1, lineup.steps2])
    values: dict[str, Any] = {
        "study": in_one(who, steps, exposure.records, exposure.rows, exposure.nodes),
        "told": told(lineup, exposure).in_one(),
    }
    levels = {
        "keeper": (lineup.keepers, lineup.keeper),
        "flight": (lineup.flights, lineup.flight),
        "kind_within": (lineup.kinds_within, lineup.kind_within),
    }
    values |= {f"{name}_of": index for name, (names, index) in levels.items() if names}
    values |= {"x": lineup.x} if lineup.covariates else {}
    return values | ({"warm": lineup.warm} if lineup.warm.any() else {})


def _means(mean: Any, wide: Any, lean: Any, size_step: Any, multi_days: Any) -> Any:
    """Means of the genus effects over genera: Normal(mean, wide) each, in leaning coordinates.

    Losses in company tell of lone hazard + ratio, not of each; so what is sampled is the lone
    hazard moved by the ratio's share, and so on. A shift by another parameter changes no prior.
    """
    (aside, moved), order = MEANS, np.argsort(np.concatenate(MEANS))
    by_size = pt.stack([lean[0] * size_step, 0.0, 0.0])
    ratios = pm.Normal(f"ratios{EASED}", mean[aside] + by_size, wide[aside])
    by_ratio = pt.stack([lean[1] * ratios[0], lean[2] * ratios[1], lean[3] * multi_days])
    levels = pm.Normal(f"levels{EASED}", mean[moved] + by_ratio, wide[moved])
    back = pt.concatenate([ratios - by_size, levels - by_ratio])[order]
    return pm.Deterministic("genus_mean", back, dims="effect")


def _genus_effects(
    priors: Priors, lineup: Lineup, parts: dict[str, Any], size_step: Any, multi_days: Any
) -> Any:
    mean, sd, between = (priors.column(c) for c in ("mean", "sd", "between"))
    active = np.ones(len(EFFECTS))
    if lineup.pooled_fight:
        active[EFFECTS.index("last_fight")] = 0.0
    spread = active * signed_sd("genus_sd", between, dims="effect")
    shape = (len(EFFECTS), len(lineup.genera))
    told = parts["genus"].reshape(shape)
    raw = standard("genus", spread[:, None], told, dims=("effect", "genus_name"))
    wide = pt.sqrt(sd**2 + spread**2 / shape[1])
    centre = _means(mean, wide, parts["lean"], size_step, multi_days)
    off = raw - raw.mean(axis=1, keepdims=True)
    return pm.Deterministic(
        "genus", centre[:, None] + spread[:, None] * off, dims=("effect", "genus_name")
    )


def _shift(priors: Priors, data: dict[str, Any], told: dict[str, Any]) -> Any:
    """What keeper, flight, species and covariates add to the log founding hazard."""
    parts = []
    for name in ("keeper", "flight", "kind_within"):
        if f"{name}_of" in data:
            sd = signed_sd(f"{name}_sd", priors.keeper)
            effect = sd * standard(name, sd, told[name], dims=name)
            pm.Deterministic(f"{name}_effect", effect, dims=name)
            parts.append(effect[data[f"{name}_of"]])
    if "x" in data:
        slope = pm.Normal("covariate_slope", 0.0, priors.covariate, dims="covariate")
        parts.append(pt.dot(data["x"], slope))
    return sum(parts) if parts else NOTHING


def _later(priors: Priors, data: dict[str, Any]) -> Any:
    """Shift of the log day of the first worker by the warmth of the shelf."""
    return pm.Normal("warm_days", *priors.warm_days) * data["warm"] if "warm" in data else NOTHING


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
        data = {name: pm.Data(name, value) for name, value in data_of(lineup, exposure).items()}
        parts = apart(data["told"], lineup)
        size_step = pm.Normal("size_step", 0.0, priors.size_step_sd)
        multi_days = pm.Normal("multi_days", *priors.multi_days)
        effects = _genus_effects(priors, lineup, parts, size_step, multi_days)
        walk_sd = signed_sd("walk_sd", priors.walk, dims="phase")
        walk = standard("walk", walk_sd[PHASE_OF_STEP], parts["step"], dims="step")
        pm.Deterministic("walk", walk, dims="step")
        tau = pm.HalfNormal("within_days", priors.within_days)
        sigma = signed_sd("frailty_sd", priors.frailty)
        z = standard("frailty", sigma, parts["founding"], dims="founding")
        pm.Deterministic("frailty", z, dims="founding")
        mated: Any = pm.Beta("mated", *priors.mated)
        seen: Any = pm.Normal("seen", *priors.seen) if lineup.seen.any() else 0.0
        loading: Any = 1.0
        if lineup.variant == "free loading":
            loading = pm.Normal("loading", 1.0, 0.5)
        if lineup.variant == "no frailty":
            sigma = 0.0
        if lineup.variant == "no fertile fraction":
            mated = 1.0
        if lineup.variant == "no rivalry":
            effects = pt.set_subtensor(effects[EFFECTS.index("rivalry")], 0.0)
        if lineup.variant == "last fight takes one":
            effects = pt.set_subtensor(effects[EFFECTS.index("last_fight")], NEVER)
        outputs: Any = founding_loglik(
            effects, size_step, multi_days, walk, walk_sd, tau, sigma, loading, mated, seen,
            _threshold(priors, lineup), _shift(priors, data, parts), _later(priors, data), z,
            float(lineup.variant == "lasting"), data["study"],
        )  # fmt: skip
        pm.Potential("seen_so_far", outputs[0])
    return model
