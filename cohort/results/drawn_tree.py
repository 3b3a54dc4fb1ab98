"""The tree of draws that lies in ``draws.nc``.

Comes in: a fit, and what stands beside it. Goes out: an `xarray.DataTree`. Never: a file.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

from cohort.model.design import as_dataset

if TYPE_CHECKING:
    import xarray as xr

    from cohort.model.sample import Fit

LAYOUT: Final = 3
"""Of the tables and of ``draws.nc``; folders of another layout are refused."""


def tree_of(
    fit: Fit,
    log_likelihood: xr.DataArray | None,
    run: Mapping[str, Any],
    extra: Mapping[str, xr.Dataset] | None = None,
) -> xr.DataTree:
    """Draws as a DataTree with named dimensions, as ArviZ reads them.

    Parameters
    ----------
    fit : Fit
    log_likelihood : DataArray, optional
        Dimensions chain, draw, founding; the frailty integrated out.
    run : dict
        Becomes attributes, as JSON.
    extra : dict of Dataset
        Further groups.
    """
    import xarray as xr

    groups: dict[str, xr.Dataset] = {
        "posterior": fit.posterior,
        "sample_stats": fit.stats,
        "constant_data": as_dataset(fit.design),
    }
    if log_likelihood is not None:
        groups["log_likelihood"] = xr.Dataset({"founding_loglik": log_likelihood})
    groups |= dict(extra or {})
    tree = xr.DataTree.from_dict({name: _unstamped(data) for name, data in groups.items()})
    tree.attrs = {
        "version": LAYOUT,
        "priors": fit.priors.as_json(),
        "seed": fit.seed,
        "run": json.dumps(dict(run), default=str),
    }
    return tree


def _unstamped(data: xr.Dataset) -> xr.Dataset:
    """Without the sampler's time of making: the same seed and sheets give the same bytes."""
    out = data.copy(deep=False)
    out.attrs = {name: value for name, value in data.attrs.items() if name != "created_at"}
    return out
