"""Leave-one-out by founding, and the named variants of the model held against one another.

Comes in: a `Fit` (or a `History` to fit). Goes out: tables: how well each founding is foretold by
the others, and how the variants of section "Sensitivity" compare. Never: a choice of model; the
page keeps the model that was agreed beforehand.

Pareto-smoothed importance sampling, Vehtari, Gelman and Gabry 2017, doi
10.1007/s11222-016-9696-4. The founding is what is left out, its frailty integrated out, never a
look. Where the Pareto shape k of a founding is above the limit, that founding alone moves the
posterior so much that its value is a guess.
"""

from __future__ import annotations

import importlib
import math
import warnings
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from cohort.history import History
from cohort.model.asked import fit
from cohort.model.design import VARIANTS
from cohort.model.gate import judge
from cohort.model.pointwise import pointwise
from cohort.model.priors import Priors
from cohort.model.sample import Fit, Said, silent
from cohort.terms.adjusting import Adjust

Floats = npt.NDArray[np.float64]
DRAWS: Final = 1000
"""Draws per chain of a variant: enough for a difference, fewer than the page takes."""


@dataclass(frozen=True)
class LeftOut:
    """Leave-one-out of one fit.

    Attributes
    ----------
    elpd, se : float
        Expected log predictive density summed over foundings, and its standard error.
    parameters : float
        Effective number of parameters.
    limit : float
        Pareto k above which a value cannot be relied on, for this number of draws.
    foundings : DataFrame
        ``founding``, ``elpd``, ``pareto_k``, ``reliable``.
    """

    elpd: float
    se: float
    parameters: float
    limit: float
    foundings: pd.DataFrame

    @property
    def worst(self) -> float:
        """The largest Pareto k."""
        return float(self.foundings["pareto_k"].max())


def _efficiency(values: Floats) -> float:
    """Independent draws per draw, over foundings on average; ``values`` (chain, draw, founding)."""
    array_stats: Any = importlib.import_module("arviz_stats.base").array_stats  # it has no types
    moving = values[:, :, np.ptp(values, axis=(0, 1)) > 0]
    if not moving.shape[2]:
        return 1.0
    ess = array_stats.ess(moving, chain_axis=0, draw_axis=1, method="mean")
    return float(min(1.0, np.mean(ess) / (values.shape[0] * values.shape[1])))


def leave_one_out(loglik: xr.DataArray) -> LeftOut:
    """Leave-one-out of a pointwise log-likelihood.

    Parameters
    ----------
    loglik : DataArray
        Dimensions chain, draw, founding, as `cohort.model.pointwise.pointwise` gives it.
    """
    stats: Any = importlib.import_module("arviz_stats")  # it has no types
    ordered = loglik.transpose("chain", "draw", "founding")
    tree = xr.DataTree.from_dict(
        {
            "posterior": xr.Dataset({"total": ordered.sum("founding")}),
            "log_likelihood": xr.Dataset({"founding_loglik": ordered}),
        }
    )
    with warnings.catch_warnings():
        # A high k is told in the table, founding by founding.
        warnings.filterwarnings("ignore", message="Estimated shape parameter of Pareto")
        found = stats.loo(tree, pointwise=True, reff=_efficiency(ordered.to_numpy()))
    k = found.pareto_k.to_numpy()
    table = pd.DataFrame(
        {
            "founding": [str(f) for f in ordered["founding"].to_numpy()],
            "elpd": found.elpd_i.to_numpy(),
            "pareto_k": k,
            "reliable": k <= found.good_k,
        }
    )
    return LeftOut(float(found.elpd), float(found.se), float(found.p), float(found.good_k), table)


def row_of(name: str, fitted: Fit, here: LeftOut, base: LeftOut) -> dict[str, Any]:
    """Row of a variant's fit in the table of `compare_variants`; `base` is of the page's model."""
    apart = here.foundings["elpd"].to_numpy() - base.foundings["elpd"].to_numpy()
    diagnosis = judge(fitted.posterior, fitted.stats, {})
    return {
        "variant": name or "as agreed",
        "meaning": VARIANTS[name],  # type: ignore[index] # - a key of VARIANTS, walked by name
        "elpd": here.elpd,
        "difference": float(apart.sum()),
        "se": math.sqrt(len(apart)) * float(apart.std(ddof=1)) if name else 0.0,
        "parameters": here.parameters,
        "worst_k": here.worst,
        "unreliable": int((~here.foundings["reliable"]).sum()),
        "settled": diagnosis.settled,
        "divergences": diagnosis.divergences,
    }


def variant_row(
    history: History,
    name: str,
    seed: int,
    *,
    adjust: Adjust | Iterable[str],
    priors: Priors,
    draws: int,
    reference: LeftOut,
) -> dict[str, Any]:
    """A variant fitted: its row in the table of `compare_variants`."""
    fitted = fit(history, seed=seed, priors=priors, adjust=adjust, variant=name, draws=draws)  # type: ignore[arg-type] # - a key of VARIANTS
    return row_of(name, fitted, leave_one_out(pointwise(fitted)), reference)


def compare_variants(
    history: History,
    seed: int,
    *,
    adjust: Adjust | Iterable[str] = (),
    base: Fit | None = None,
    draws: int = DRAWS,
    variants: tuple[str, ...] = tuple(VARIANTS),
    say: Said = silent,
) -> pd.DataFrame:
    """Every named variant fitted to the same study, and how much worse it foretells.

    Parameters
    ----------
    history : History
    seed : int
    adjust : Adjust or iterable of str
        As in the comparison.
    base : Fit, optional
        The model of the page, if it is fitted already; the others then take its priors.
    draws : int
        Kept draws per chain of each variant.
    variants : tuple of str
        Names of `VARIANTS`; the model of the page comes first whether it is named or not.
    say : callable
        Told what is being done.

    Returns
    -------
    DataFrame
        ``variant``, ``meaning``, ``elpd``, ``difference`` (below 0: foretells worse than the model
        of the page), ``se`` of the difference, paired by founding, ``parameters`` (effective),
        ``worst_k``, ``unreliable`` (foundings with k above the limit), ``settled``,
        ``divergences``. A difference of less than about two standard errors, or of less than
        four, tells nothing (Sivula, Magnusson and Vehtari 2020, arXiv 2008.10296).
    """
    rows = []
    if base is None:
        base = fit(history, seed=seed, adjust=adjust, draws=draws)
    priors = base.priors
    reference = leave_one_out(pointwise(base))
    rows.append(row_of("", base, reference, reference))
    for name in variants:
        if name == "":
            continue
        say(f"Fitting the variant '{name}': {VARIANTS[name]}")  # type: ignore[index] # - as above
        rows.append(
            variant_row(
                history, name, seed, adjust=adjust, priors=priors, draws=draws, reference=reference
            )
        )
    return pd.DataFrame(rows)
