"""Draws of the priors under the names of a posterior.

Comes in: a `ModelDesign` and `Priors`. Goes out: a Dataset of the same variables and dims as a
posterior of that design. Never: data.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import xarray as xr
from scipy import stats

from cohort.model.design import ModelDesign
from cohort.model.families import CutNormal
from cohort.model.parameters import BY_FOUNDING, COMMON, EFFECTS
from cohort.model.places import limits, named_dims
from cohort.model.priors import Priors, draw

DRAWS: Final = 1000


def named_prior(
    design: ModelDesign, priors: Priors, *, seed: int, draws: int = DRAWS
) -> xr.Dataset:
    """Draws of the priors alone, as one chain.

    Parameters
    ----------
    design : ModelDesign
    priors : Priors
    seed : int
    draws : int
    """
    rng = np.random.default_rng(seed)
    drawn = draw(
        priors, len(design.genera), draws, rng,
        pooled_fight=design.pooled_fight, variant=design.variant,
    )  # fmt: skip
    dims_of = {dim: len(names) for dim, names in named_dims(design).items()}
    out: dict[str, tuple[tuple[str, ...], Any]] = {}
    for e, name in enumerate(EFFECTS):
        out[name] = (("genus",), drawn["genus"][:, e])
        out[f"{name}_mean"] = ((), drawn["genus_mean"][:, e])
        out[f"{name}_sd"] = ((), drawn["genus_sd"][:, e])
    for row in (*COMMON, *BY_FOUNDING):
        if not row.enters(design):
            continue
        shape = (draws, *(dims_of[dim] for dim in row.dims if dim in dims_of))
        if row.name in drawn:
            values = drawn[row.name]
        elif isinstance(row.prior, CutNormal):
            values = _cut(priors[row.name], design, draws, rng)
        elif row.prior is not None:
            values = priors[row.name].draw(rng, shape)
        else:  # standard normals; of levels the effects they are multiplied into
            values = rng.normal(size=shape)
            if row.of:
                values = values * out[row.sd][1][:, None]
        out[row.name] = (row.dims, values)
    coords: dict[str, Any] = {"chain": [0], "draw": np.arange(draws), "genus": list(design.genera)}
    coords |= {"step": np.arange(drawn["walk"].shape[1]), "phase": ["before", "after"]}
    named = {name: (("chain", "draw", *dims), v[None]) for name, (dims, v) in out.items()}
    return xr.Dataset(named, coords=coords | named_dims(design))


def _cut(prior: CutNormal, design: ModelDesign, draws: int, rng: np.random.Generator) -> Any:
    ends = [(end - prior.mean) / prior.sd for end in limits(design)]
    return stats.truncnorm.rvs(*ends, prior.mean, prior.sd, size=draws, random_state=rng)
