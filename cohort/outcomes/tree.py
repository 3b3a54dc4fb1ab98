"""All there is of a comparison's draws, in the groups ArviZ knows, made when it is asked for.

Comes in: a `Fit` and its `History`, and the PyMC model where it is one of one's own. Goes out: a
DataTree. Never: a file (``draws.nc`` holds what cannot be made again from the sheets).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import xarray as xr

from cohort.history import History
from cohort.model.design import as_dataset
from cohort.model.kernel_arrays import by_founding, stacked
from cohort.model.lived import lived
from cohort.model.looks_of_founding import TALLIES, in_tallies
from cohort.model.pointwise import pointwise
from cohort.model.prior_draws import named_prior
from cohort.model.replicated import AT_ONCE, Seen, calendar
from cohort.model.sample import Fit
from cohort.model.sensitivity import log_priors
from cohort.outcomes.parameters import THINNED, posterior_draws, thin
from cohort.outcomes.quantities import NO_DAY, Outcomes, outcomes
from cohort.predict.posterior_predictive import Calendar, posterior_predictive

Floats = npt.NDArray[np.float64]
PRIOR_DRAWS: Final = 1000
PAIRED: Final = "queens_left"
"""The observed variable whose name the log-likelihood bears, so that ArviZ sets them side by side.

It is the log-likelihood of all that was seen of a founding, with the frailty averaged out: what is
left out is the founding."""


def whole_tree(
    fit: Fit, history: History, *, model: Any = None, attrs: Mapping[str, Any] | None = None
) -> xr.DataTree:
    """Every group of a comparison.

    Parameters
    ----------
    fit : Fit
    history : History
        Of the same study.
    model : FoundingModel, optional
        The model of one's own that was sampled: its priors are drawn by PyMC.
    attrs : mapping, optional
        Attributes of the tree.

    Returns
    -------
    DataTree
        ``posterior`` (of a model of one's own with the coordinates it was sampled by, so that
        PyMC's own functions take it), ``sample_stats``, ``constant_data``; ``observed_data``,
        ``posterior_predictive`` and ``prior_predictive``: the numbers of
        `cohort.model.looks_of_founding.TALLIES`, dim ``founding``, of foundings begun anew;
        ``log_likelihood``: one variable, see `PAIRED`; ``prior``, ``log_prior`` (by parameter, see
        `cohort.model.sensitivity.log_priors`, and of one's own variables); ``outcomes``: what
        becomes of new foundings, dims ``kind``, ``queens`` and where they have them ``day`` and
        ``reading``, for the thinned draws of the page.
    """
    plan, seen = calendar(history)
    names = list(fit.design.foundings)
    rng = np.random.default_rng([fit.seed, 7])
    posterior = fit.posterior
    if fit.coordinates is not None:
        posterior = posterior.merge(fit.coordinates)
    shape = (posterior.sizes["chain"], posterior.sizes["draw"])
    coords = {d: posterior[d] for d in ("chain", "draw")}
    anew = _replicated(*lived(fit, slice(None)), plan, rng)
    groups = {
        "posterior": posterior,
        "sample_stats": fit.stats,
        "constant_data": as_dataset(fit.design),
        "observed_data": _by_tally(in_tallies(plan, seen)[0], names, ()),
        "posterior_predictive": _by_tally(
            anew.reshape(*shape, *anew.shape[1:]), names, ("chain", "draw")
        ).assign_coords(coords),
        "log_likelihood": xr.Dataset(
            {PAIRED: pointwise(fit, draws=shape[0] * shape[1])},
            attrs={"of": "all that was seen of a founding, the frailty averaged out"},
        ),
        "log_prior": log_priors(fit.posterior, fit.design, fit.priors),
        "outcomes": _outcomes(fit, history),
    }
    if model is None:
        prior = named_prior(fit.design, fit.priors, seed=fit.seed, draws=PRIOR_DRAWS)
        before = _replicated(*by_founding(stacked(prior), fit.design), plan, rng)
    else:
        from cohort.model.own_prior import log_prior_of_own, prior_of

        prior, before = prior_of(model, PRIOR_DRAWS, fit.seed)
        groups["log_prior"] = groups["log_prior"].merge(log_prior_of_own(model, posterior))
    groups["prior"] = prior
    groups["prior_predictive"] = _by_tally(before[None], names, ("chain", "draw")).assign_coords(
        {d: prior[d] for d in ("chain", "draw")}
    )
    tree = xr.DataTree.from_dict(groups)
    tree.attrs = dict(attrs or {})
    return tree


def _replicated(pars: Floats, shareds: Floats, plan: Calendar, rng: np.random.Generator) -> Floats:
    """The tallies of every founding begun anew, some draws at a time."""
    size = max(1, AT_ONCE // max(1, len(plan.day)))
    parts = [
        in_tallies(plan, Seen(*posterior_predictive(pars[at : at + size], shareds[at : at + size],
                                                    plan, rng)))
        for at in range(0, len(pars), size)
    ]  # fmt: skip
    return np.concatenate(parts)


def _by_tally(values: Floats, foundings: list[str], plain: tuple[str, ...]) -> xr.Dataset:
    """A variable for each tally; counts as whole numbers."""
    whole = {name: np.float64 if name == "day_shown" else np.int64 for name in TALLIES}
    return xr.Dataset(
        {
            name: ((*plain, "founding"), values[..., i].astype(whole[name]))
            for i, name in enumerate(TALLIES)
        },
        coords={"founding": foundings},
    )


def _outcomes(fit: Fit, history: History) -> xr.Dataset:
    """What becomes of new foundings, in thinned draws."""
    small = thin(fit.posterior)
    chosen = history.foundings[history.foundings["compared"]]
    sizes = tuple(sorted({1, *chosen["size"].astype(int)}))
    drawn = posterior_draws(fit.posterior, fit.design, fit.priors, seed=fit.seed, draws=THINNED)
    post = outcomes(drawn, sizes, history.horizon)
    return in_dims(post).assign_coords({d: small[d] for d in ("chain", "draw")})


def in_dims(post: Outcomes) -> xr.Dataset:
    """Outcomes as variables with named dims, one per quantity; nan where a quantity has no number.

    Parameters
    ----------
    post : Outcomes

    Returns
    -------
    Dataset
        Dims ``chain``, ``draw``, ``kind``, ``queens`` and, where a quantity has them, ``day`` and
        ``reading``. Units stand with the quantities of `cohort.terms.questions`.
    """
    out: dict[str, xr.DataArray] = {}
    for quantity in dict.fromkeys(key.quantity for key in post.values):
        keys = [key for key in post.values if key.quantity == quantity]
        axes: dict[str, list[Any]] = {"queens": sorted({key.size for key in keys})}
        if any(key.day != NO_DAY for key in keys):
            axes["day"] = sorted({int(key.day) for key in keys})
        if any(key.reading for key in keys):
            axes["reading"] = list(dict.fromkeys(key.reading for key in keys))
        draws, kinds = post.values[keys[0]].shape
        values = np.full((draws, kinds, *(len(labels) for labels in axes.values())), np.nan)
        for key in keys:
            said: dict[str, Any] = {"queens": key.size, "day": key.day, "reading": key.reading}
            place: Any = (..., *(labels.index(said[axis]) for axis, labels in axes.items()))
            values[place] = post.values[key]
        shaped = values.reshape(post.chains, draws // post.chains, *values.shape[1:])
        out[quantity] = xr.DataArray(
            shaped,
            dims=("chain", "draw", "kind", *axes),
            coords={"kind": list(post.kinds), **axes},
            attrs={"question": keys[0].question},
        )
    return xr.Dataset(out)
