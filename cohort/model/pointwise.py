"""The log-likelihood by founding and draw, the frailty integrated out; for leave-one-out.

Comes in: a `Fit`. Goes out: a DataArray (chain, draw, founding). Never: a leave-out of looks: the
founding is the unit.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import xarray as xr

from cohort.likelihood.study import marginal_loglik
from cohort.model.lived import lived_in_parts
from cohort.model.sample import Fit

DRAWS: Final = 1000
"""Draws for which each founding is weighed: thinned as evenly as can be, all chains alike.

How far a Pareto k may go before a founding counts as not reliable falls with them: .667 for 1,000
draws, .685 for 1,500 (1 - 1 / log10 S; Vehtari et al. 2024, JMLR 25(72)).
"""


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
    packed = fit.exposure
    tables = packed.records, packed.rows, packed.nodes
    count = len(fit.design.foundings)
    parts = [
        marginal_loglik(par, shared, *tables).reshape(chains, -1, count)
        for par, shared in lived_in_parts(fit, keep)
    ]
    return xr.DataArray(
        np.concatenate(parts, axis=1),
        dims=("chain", "draw", "founding"),
        coords={
            "chain": small["chain"],
            "draw": small["draw"],
            "founding": list(fit.design.foundings),
        },
    )
