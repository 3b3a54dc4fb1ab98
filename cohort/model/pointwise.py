"""The log-likelihood by founding and draw, the frailty integrated out; for leave-one-out.

Comes in: a `Fit`. Goes out: a DataArray (chain, draw, founding). Never: a leave-out of looks: the
founding is the unit.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt
import xarray as xr

from cohort.model.lineup import Lineup
from cohort.model.sample import Fit
from cohort.transitions import layout as at
from cohort.transitions.study import marginal_loglik

Floats = npt.NDArray[np.float64]
DRAWS: Final = 1000
"""Draws for which each founding is weighed: thinned as evenly as can be, all chains alike.

How far a Pareto k may go before a founding counts as not reliable falls with them: .667 for 1,000
draws, .685 for 1,500 (1 - 1 / log10 S; Vehtari et al. 2024, JMLR 25(72)).
"""


def parameters(posterior: xr.Dataset, lineup: Lineup) -> tuple[Floats, Floats]:
    """The kernel's parameter arrays for every draw, from named draws.

    Parameters
    ----------
    posterior : Dataset
        Named draws, dimensions chain and draw.
    lineup : Lineup

    Returns
    -------
    par : float array, shape (draws, foundings, FOUNDING_WIDTH)
    shared : float array, shape (draws, SHARED_WIDTH)
    """

    def values(name: str) -> Floats:
        array = posterior[name].transpose("chain", "draw", ...).to_numpy()
        return array.reshape(-1, *array.shape[2:])

    draws = posterior.sizes["chain"] * posterior.sizes["draw"]
    multi, doublings, g = lineup.multi, lineup.doublings, lineup.genus
    par = np.zeros((draws, len(lineup.foundings), at.FOUNDING_WIDTH))
    together = (values("together")[:, g] + values("size_step")[:, None] * doublings) * multi
    level = values("founding_hazard")[:, g] + _shifts(values, posterior, lineup)
    if lineup.variant == "lasting":
        level, together = level + together, np.zeros_like(together)
    par[..., at.HAZARD1], par[..., at.TOGETHER] = level, together
    par[..., at.HAZARD2] = values("worker_hazard")[:, g]
    if lineup.variant != "no rivalry":
        par[..., at.RIVALRY] = values("rivalry")[:, g]
    if lineup.variant != "last fight takes one":
        par[..., at.BOTH] = 1 / (1 + np.exp(-values("last_fight")[:, g]))
    par[..., at.LOG_DAY] = values("first_worker")[:, g] + values("multi_days")[:, None] * multi
    if lineup.warm.any():
        par[..., at.LOG_DAY] += values("warm_days")[:, None] * lineup.warm
    if lineup.logged.any():
        par[..., at.THRESHOLD] = values("warm_threshold")[:, None]
    par[..., at.FERTILE] = _fertile(values, lineup)
    if "frailty" in posterior:
        par[..., at.FRAILTY] = values("frailty")
    shared = np.zeros((draws, at.SHARED_WIDTH))
    sds = values("walk_sd")
    walk = values("walk") * np.repeat(sds, [at.N1 - 1, at.N2 - 1], axis=1)
    shared[:, at.STEPS1 : at.STEPS1 + at.N1] = walk @ lineup.steps1.T
    shared[:, at.STEPS2 : at.STEPS2 + at.N2] = walk @ lineup.steps2.T
    shared[:, at.TAU] = values("within_days")
    shared[:, at.SIGMA] = 0.0 if lineup.variant == "no frailty" else values("frailty_sd")
    shared[:, at.LOADING] = values("loading") if lineup.variant == "free loading" else 1.0
    return par, shared


def _shifts(values, posterior: xr.Dataset, lineup: Lineup) -> Floats:  # type: ignore[no-untyped-def]  # a local reader of draws
    """Keeper, flight and covariate shifts of the log founding hazard."""
    shift = np.zeros((posterior.sizes["chain"] * posterior.sizes["draw"], len(lineup.foundings)))
    if lineup.keepers:
        shift += values("keeper_effect")[:, lineup.keeper]
    if lineup.flights:
        shift += values("flight_effect")[:, lineup.flight]
    if lineup.kinds_within:
        shift += values("kind_within_effect")[:, lineup.kind_within]
    if lineup.covariates:
        shift += values("covariate_slope") @ lineup.x.T
    return shift


def _fertile(values, lineup: Lineup) -> Floats:  # type: ignore[no-untyped-def]  # a local reader of draws
    """Chance that each founding can have workers at all, by draw."""
    p = values("mated")[:, None]
    if lineup.variant == "no fertile fraction":
        return np.ones((len(p), len(lineup.foundings)))
    if not lineup.seen.any():
        out: Floats = 1 - (1 - p) ** lineup.size
        return out
    odds = p / (1 - p) * np.exp(values("seen")[:, None])
    seen: Floats = 1 - (1 - p) ** (lineup.size - lineup.seen) * (1 / (1 + odds)) ** lineup.seen
    return seen


def pointwise(fit: Fit, draws: int = DRAWS) -> xr.DataArray:
    """Log-likelihood of each founding in thinned draws.

    Parameters
    ----------
    fit : Fit
    draws : int
        How many draws to weigh at most.

    Returns
    -------
    DataArray
        Dimensions chain, draw (the draw numbers kept), founding.
    """
    chains, length = fit.posterior.sizes["chain"], fit.posterior.sizes["draw"]
    keep = np.linspace(0, length - 1, min(length, draws // chains)).round().astype(int)
    small = fit.posterior.isel(draw=keep)
    par, shared = parameters(small, fit.lineup)
    packed = fit.exposure
    values = marginal_loglik(par, shared, packed.records, packed.rows, packed.nodes)
    return xr.DataArray(
        values.reshape(chains, len(keep), -1),
        dims=("chain", "draw", "founding"),
        coords={
            "chain": small["chain"],
            "draw": small["draw"],
            "founding": list(fit.lineup.foundings),
        },
    )
