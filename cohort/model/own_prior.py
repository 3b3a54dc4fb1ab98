"""What the priors of a PyMC model say, drawn and weighed by PyMC.

Comes in: a `FoundingModel`, draws. Goes out: prior draws with replicated looks, log priors of
one's own variables. Never: a posterior.
"""

from __future__ import annotations

import logging
import warnings
from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
import numpy.typing as npt
import pymc as pm
import xarray as xr

from cohort.model.graph import MOVED, OBSERVED, FoundingModel

Floats = npt.NDArray[np.float64]


@contextmanager
def _quiet() -> Iterator[None]:
    """Without the list of variables that PyMC logs when it draws, and numba's word on it."""
    log = logging.getLogger("pymc")
    before = log.level
    log.setLevel(logging.ERROR)
    try:
        with warnings.catch_warnings():
            # replicates are drawn by a function of ours, which is compiled already
            warnings.filterwarnings("ignore", message="Numba will use object mode")
            yield
    finally:
        log.setLevel(before)


def prior_of(model: FoundingModel, draws: int, seed: int) -> tuple[xr.Dataset, Floats]:
    """Draws of all variables by the priors alone, and the looks of foundings that live by them.

    Parameters
    ----------
    model : FoundingModel
    draws : int
    seed : int

    Returns
    -------
    Dataset, and float array of shape (draws, foundings, len(TALLIES))
    """
    with _quiet():
        tree = pm.sample_prior_predictive(draws, model=model, random_seed=seed)
    prior = tree["prior"].to_dataset()
    looks = tree["prior_predictive"][OBSERVED].transpose("chain", "draw", ...).to_numpy()[0]
    return prior.drop_vars([MOVED] if MOVED in prior else []), looks


def log_prior_of_own(model: FoundingModel, posterior: xr.Dataset) -> xr.Dataset:
    """Log density of one's own variables at each draw, summed over their dims.

    Parameters
    ----------
    model : FoundingModel
    posterior : Dataset
        With the coordinates the model was sampled by.
    """
    own = [rv.name for rv in model.free_RVs if rv.name in model.about.own]
    if not own:
        return xr.Dataset()
    tree = xr.DataTree.from_dict({"posterior": posterior})
    with _quiet():
        found = pm.compute_log_prior(
            tree, var_names=own, model=model, extend_inferencedata=False, progressbar=False
        )
    each = found.to_dataset() if isinstance(found, xr.DataTree) else found
    return each.map(lambda one: one.sum([d for d in one.dims if d not in ("chain", "draw")]))
