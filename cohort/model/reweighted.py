"""Draws of a posterior weighted as if its priors had another strength.

Comes in: draws and the priors they rest on. Goes out: `Weights`, and how far they can be relied
on. Never: a fit, a number of the page.

A prior at strength a is its density to the power a (Kallioinen, Paananen, Buerkner and Vehtari
2024, doi 10.1007/s11222-023-10366-5). Weights are scaled density over plain density; their tail is
smoothed (Vehtari, Simpson, Gelman, Yao and Gabry 2024, JMLR 25, 72). Where its Pareto shape k is
above `GOOD_K` they say nothing reliable.

Only the priors at the top are scaled, not the standard normals that carry genera, foundings and
steps. The mean over all genera is integrated out of the sampled model. So what is weighed is the
density of the mean of the study's genera made anew from the scaled prior; the power of the old one
would belong to another prior.
"""

from __future__ import annotations

import importlib
import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import xarray as xr

from cohort.model.design import ModelDesign
from cohort.model.priors import Priors
from cohort.model.sensitivity import log_priors

Floats = npt.NDArray[np.float64]
POWERS: Final[Mapping[str, float]] = MappingProxyType({"half": 0.5, "double": 2.0})
"""Strengths asked for, by the name of their column."""
GOOD_K: Final = 0.7
"""Pareto k up to which the weights are relied on."""


@dataclass(frozen=True)
class Weights:
    """Importance weights of draws under other priors.

    Attributes
    ----------
    each : float array, shape (draws,)
        They sum to 1; draws lie chain after chain.
    pareto_k : float
        Shape of their tail; -inf where it has none.
    """

    each: Floats
    pareto_k: float

    @property
    def reliable(self) -> bool:
        """Whether the tail is light enough."""
        return self.pareto_k <= GOOD_K

    @property
    def effective(self) -> float:
        """Draws of equal weight that would tell as much (Kish)."""
        return float(1.0 / (self.each**2).sum())


def smoothed(log_ratio: Floats) -> Weights:
    """Pareto-smoothed importance weights.

    Parameters
    ----------
    log_ratio : float array, shape (draws,)
        Log density wanted less log density drawn from, up to a constant.
    """
    array_stats: Any = importlib.import_module("arviz_stats.base").array_stats  # it has no types
    try:  # its argument is a log-likelihood to be left out: the negative of the log ratio
        logs, k = array_stats.psislw(-log_ratio)
    except ValueError:  # all values of the tail are the same: there is none to be smoothed
        logs, k = log_ratio, -math.inf
    each: Floats = np.exp(np.asarray(logs) - np.max(logs))
    return Weights(each / each.sum(), float(k))


def weights(draws: xr.Dataset, design: ModelDesign, priors: Priors, power: float) -> Weights:
    """Weights of posterior draws for every prior at another strength.

    Parameters
    ----------
    draws : Dataset
        Dimensions chain and draw; those the outcomes were computed from.
    design, priors : of the same fit
    power : float
        1 is the strength of the fit.
    """
    wanted = log_priors(draws, design, priors.at_strength(power))
    apart = wanted - log_priors(draws, design, priors)
    total = apart.to_array().sum("variable").transpose("chain", "draw")
    return smoothed(total.to_numpy().ravel())
