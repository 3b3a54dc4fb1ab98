"""What the answer leans on: priors, censoring, exclusions, parts of the model.

Comes in: draws, or a history read in another way (see `bounds`). Goes out: a table of how far
each number moves with each prior, and refits. Never: another answer on the page; these stand
beside it, see `cohort.comparison.thorough`.

Priors are weighed by power-scaling (Kallioinen, Paananen, Buerkner and Vehtari 2024, doi
10.1007/s11222-023-10366-5): each prior is made a little stronger and weaker by importance
weights, without a new fit. Only the priors at the top are scaled, not the standard normals that
carry genera, foundings and steps.
"""

from __future__ import annotations

import importlib
import warnings
from collections.abc import Mapping
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr
from scipy import stats

from cohort.model.design import ModelDesign
from cohort.model.families import BetweenGenera, CutNormal, HalfNormal
from cohort.model.gate import judge
from cohort.model.parameters import EFFECTS, TABLE
from cohort.model.priors import Priors
from cohort.model.sample import Fit
from cohort.warmth import thresholds

Floats = npt.NDArray[np.float64]
LIMIT: Final = 0.05
"""Change of the posterior per doubling of the prior from which a prior counts as ruling."""
EVERY: Final = "all priors"
DATA: Final = "the data"


def log_priors(posterior: xr.Dataset, design: ModelDesign, priors: Priors) -> xr.Dataset:
    """Log density of every top prior at each draw, named after what it is a prior of.

    The mean over genera is integrated out of the sampled model; what is scaled for it is the
    normal prior of the mean of the study's genera, given the spread between them.
    """
    out: dict[str, Any] = {}
    for name in EFFECTS:
        prior = priors[name]
        sd = posterior[f"{name}_sd"].to_numpy()
        pooled = name == "last_fight" and design.pooled_fight
        own = 0.0 * sd if pooled else sd
        spread = np.sqrt(prior.sd**2 + own**2 / len(design.genera))
        mean = posterior[f"{name}_mean"].to_numpy()
        out[name] = stats.norm.logpdf(mean, prior.mean, spread)
        out[name] += HalfNormal(prior.between).logpdf(sd)
    for name in TABLE:
        prior = priors.by_name.get(name)
        if prior is None or isinstance(prior, BetweenGenera) or name not in posterior:
            continue
        values = posterior[name].transpose("chain", "draw", ...).to_numpy()
        if isinstance(prior, CutNormal):
            each = prior.between(values, *thresholds(design.reference))
        else:
            each = prior.logpdf(values)
        out[name] = each.reshape(*values.shape[:2], -1).sum(axis=-1)
    coords = {d: posterior[d] for d in ("chain", "draw")}
    return xr.Dataset({k: (("chain", "draw"), v) for k, v in out.items()}, coords=coords)


BOTH: Final = "priors and data both matter and may disagree"
PRIORS_RULE: Final = "the priors rule"
DATA_RULE: Final = "the data rule"
NEITHER: Final = "neither moves it"
VERDICTS: Final = (PRIORS_RULE, BOTH, DATA_RULE, NEITHER)
"""What may move a number, by both distances held against `LIMIT`."""


def _verdict(prior: float, data: float) -> str:
    if prior >= LIMIT and data >= LIMIT:
        return BOTH
    if prior >= LIMIT:
        return PRIORS_RULE
    return DATA_RULE if data >= LIMIT else NEITHER


def prior_sensitivity(
    numbers: Mapping[str, Floats], log_prior: xr.Dataset, loglik: xr.DataArray
) -> pd.DataFrame:
    """How far each number moves when a prior, all priors or the data are scaled.

    Parameters
    ----------
    numbers : dict of arrays (chain, draw)
        Outcomes by name, for the same draws as the others.
    log_prior : Dataset
        See `log_priors`.
    loglik : DataArray
        Dimensions chain, draw, founding.

    Returns
    -------
    DataFrame
        One row per number: ``number``, a column per prior, `EVERY`, `DATA`, ``verdict``.
        Values are distances between the posteriors per log2 of the power; above 0.05 matters.
    """
    stats_of_draws: Any = importlib.import_module("arviz_stats")  # it has no types
    stacked = np.stack(list(numbers.values()), axis=-1)
    coords = {d: loglik[d] for d in ("chain", "draw")} | {"number": list(numbers)}
    tree = xr.DataTree.from_dict(
        {
            "posterior": xr.Dataset({"it": (("chain", "draw", "number"), stacked)}, coords=coords),
            "log_prior": log_prior,
            "log_likelihood": xr.Dataset({"founding_loglik": loglik}),
        }
    )
    columns: dict[str, list[float]] = {}

    def put(name: str, group: str, names: list[str] | None) -> None:
        with warnings.catch_warnings():
            # Pareto k of weights this close to even says nothing that a column could hold.
            warnings.filterwarnings("ignore", message="Estimated shape parameter of Pareto")
            moved: Any = stats_of_draws.psense(tree, group=group, group_var_names=names)
        columns[name] = moved["it"].to_numpy().tolist()

    for name in log_prior.data_vars:
        put(str(name), "prior", [str(name)])
    put(EVERY, "prior", None)
    put(DATA, "likelihood", None)
    table = pd.DataFrame({"number": list(numbers), **columns})
    table["verdict"] = [_verdict(p, d) for p, d in zip(columns[EVERY], columns[DATA], strict=True)]
    return table


def settled(fitted: Fit) -> bool:
    """Whether a refit's chains agree, by the thresholds of the page."""
    return judge(fitted.posterior, fitted.stats, {}).settled
