"""The priors of the founding model once more, in numbers written by hand and scipy's densities.

Shares nothing with `cohort.model.parameters`, from which the density that is sampled and the PyMC
model are both made: without this, a wrong number there would be wrong everywhere alike. Change a
prior here and there.
"""

import math

import numpy as np
from scipy.stats import beta, halfnorm, lognorm, norm, truncnorm

MEAN = (math.log(0.004), 0.0, math.log(0.002), 0.5, -1.6, math.log(50.0))
"""Of the mean of each effect over genera: lone hazard, together, hazard with workers, rivalry, last
fight, first worker."""
MEAN_SD = (1.2, 1.2, 1.2, 1.5, 0.8, 0.35)
BETWEEN = (0.5, 0.7, 0.4, 1.0, 0.8, 0.3)
NORMAL = {
    "size_step": (0.0, 0.4),
    "size_step_rivalry": (0.0, 0.3),
    "multi_days": (-0.05, 0.25),
    "seen": (1.0, 0.7),
    "loading": (1.0, 0.5),
    "warm_days": (-0.08, 0.04),
    "winter": (-0.7, 1.0),
    "winter_company": (0.0, 0.7),
    "slope_before": (0.0, 0.5),
    "slope_after": (0.0, 0.5),
    "slope_first_worker": (0.0, 0.15),
    "slope_mated": (0.0, 0.7),
}
HALF = {
    "frailty_sd": 0.7,
    "keeper_before_sd": 0.5,
    "keeper_after_sd": 0.5,
    "keeper_first_worker_sd": 0.2,
    "flight_before_sd": 0.5,
    "flight_after_sd": 0.5,
    "kind_within_before_sd": 0.5,
    "kind_within_after_sd": 0.5,
    "season_before_sd": 0.5,
    "season_after_sd": 0.5,
    "season_first_worker_sd": 0.2,
    "walk_sd": 0.5,
}
LEVELS = [name for name in HALF if name not in ("frailty_sd", "walk_sd")]
RAW = ("walk", "frailty", *(f"{name.removesuffix('_sd')}_raw" for name in LEVELS))
THRESHOLD = (12.0, 3.0)
SHARE = (6.0, 1.5)
"""The two numbers of the beta prior of the share of mated queens."""
WITHIN = (-1.9, 0.6)
"""Mean and SD of the log of ``within_days``."""


def log_prior(point, names, genera, pooled, limits):
    """Log prior density of a point of the PyMC model, in its plain parameters.

    Parameters
    ----------
    point : dict of arrays
        Values by the names of its walked variables, as `scene_designs.in_plain_words` gives them.
    names : set of str
        Variables the model has.
    genera : int
    pooled : bool
        One share of last fights for all genera.
    limits : tuple of float
        Of the threshold of the degree-days.
    """
    spread = np.exp(point["genus_sd_log__"])
    active = spread * ([1, 1, 1, 1, 0, 1] if pooled else 1)
    wide = np.sqrt(np.square(MEAN_SD) + active**2 / genera)
    total = norm.logpdf(point["genus_mean"], MEAN, wide).sum()
    total += halfnorm.logpdf(spread, scale=BETWEEN).sum()
    total += norm.logpdf(point["genus_raw"]).sum()
    share = 1 / (1 + np.exp(-point["mated_logodds__"]))
    total += beta.logpdf(share, *SHARE)
    total += lognorm.logpdf(
        np.exp(point["within_days_log__"]), WITHIN[1], scale=math.exp(WITHIN[0])
    )
    for name, (mean, sd) in NORMAL.items():
        total += norm.logpdf(point[name], mean, sd).sum() if name in names else 0.0
    for name, scale in HALF.items():
        sample_nuts = f"{name}_log__"
        total += (
            halfnorm.logpdf(np.exp(point[sample_nuts]), scale=scale).sum()
            if sample_nuts in names
            else 0
        )
    for name in RAW:
        total += norm.logpdf(point[name]).sum() if name in names else 0.0
    if "warm_threshold_interval__" in names:
        (low, high), (mean, sd) = limits, THRESHOLD
        at = low + (high - low) / (1 + np.exp(-point["warm_threshold_interval__"]))
        total += truncnorm.logpdf(at, (low - mean) / sd, (high - mean) / sd, mean, sd)
    return float(total)
