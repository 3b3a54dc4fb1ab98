"""What the model says at fixed points, by which one sees whether a calibration still speaks of it.

Comes in: a `Task`. Goes out: a few numbers: log prior, log-likelihood and outcomes at the truths
of fixed studies. They stay as they are where code is moved, renamed or made quicker, and change
where the model, its priors or its outcomes do. Never: a fit; how the sampler walks is not in them.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
import xarray as xr

from cohort.calibrate.ranks import Task, outcomes_by_name
from cohort.calibrate.season import Season, season
from cohort.history import history
from cohort.model.own_draws import fit_of, labels, wanted
from cohort.model.parameters import EFFECTS
from cohort.model.pointwise import pointwise
from cohort.model.sensitivity import log_priors
from cohort.outcomes import posterior_draws

SEEDS: Final = (1, 2, 3)
"""Studies at whose truths the model is asked."""
OUTCOMES: Final = (
    "chance_per_founding (seen) of 1 [average]",
    "chance_per_founding (seen) of 3 [average]",
    "chance_lasting (alike) of 3 [average]",
    "same_queens_count (seen) of 3 [average]",
    "share_alive_before_workers of 3 [average]",
    "median_day of 1 [average]",
    "chance_none_left of 3 [average]",
)
DIGITS: Final = 6
"""Digits kept: the last few of a float differ from machine to machine."""


def _truth(drawn: Season) -> xr.Dataset:
    """The truth of a study as a posterior of one draw."""
    design, one = drawn.design, drawn.drawn
    values = {}
    for i, effect in enumerate(EFFECTS):
        values[effect] = one["genus"][:, i]
        values[f"{effect}_mean"] = one["genus_mean"][:, i]
        values[f"{effect}_sd"] = one["genus_sd"][:, i]
    known = labels(design)
    return xr.Dataset(
        {
            name: (("chain", "draw", *dims), np.asarray(values.get(name, one.get(name)))[None])
            for name, dims in wanted(design).items()
        },
        coords={
            dim: known[dim]
            for dim in dict.fromkeys(d for dims in wanted(design).values() for d in dims)
        },
    )


def fingerprint(task: Task) -> dict[str, float]:
    """Log prior, log-likelihood (frailty integrated out) and outcomes at the truths of `SEEDS`.

    Parameters
    ----------
    task : Task
        Its draws, tuning and acceptance do not enter.

    Returns
    -------
    dict
        By name and seed, six significant digits each.
    """
    out: dict[str, float] = {}
    for seed in SEEDS:
        drawn = season(seed, task.shape, task.priors)
        exposure = task.packed(history(drawn.study))
        design = replace(drawn.design, x=np.zeros((len(drawn.design.foundings), 0)))
        fit = fit_of(_truth(drawn), design, exposure, task.priors, seed)
        prior = log_priors(fit.posterior, fit.design, task.priors)
        found = {
            "log_prior": sum(float(prior[name].sum()) for name in prior),
            "log_likelihood": float(pointwise(fit).sum()),
        }
        draws = posterior_draws(fit.posterior, fit.design, task.priors, seed=seed, draws=1)
        told = outcomes_by_name(draws, task.shape.horizon)
        found |= {name: float(told[name][0]) for name in OUTCOMES}
        out |= {f"{name}, study {seed}": float(f"{v:.{DIGITS}g}") for name, v in found.items()}
    return out
