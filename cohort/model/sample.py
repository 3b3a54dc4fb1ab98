"""Fit the founding model: sample its density, name what came out.

Comes in: a `History`. Goes out: a frozen `Fit` (draws as an xarray Dataset with named
dimensions). Never: outcomes, words, files.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Final

import xarray as xr

from cohort.base.display import Facts, Shown, several
from cohort.base.errors import StudyError
from cohort.base.frames import compared_by_content
from cohort.history import History
from cohort.history.warmed import as_compared
from cohort.likelihood.density import density_c
from cohort.likelihood.exposure import Exposure, packed
from cohort.model.design import ModelDesign, Variant, model_design
from cohort.model.log_posterior import log_posterior
from cohort.model.nuts import sample_nuts
from cohort.model.priors import Priors
from cohort.study import Study
from cohort.terms.adjusting import Adjust

CHAINS: Final = 4
DRAWS: Final = 1500
TUNE: Final = 300
ACCEPT: Final = 0.9
MANY: Final = 200
"""Foundings from which on larger steps are taken: with so many the posterior is rounder."""
ACCEPT_MANY: Final = 0.8
ACCEPT_AGAIN: Final = 0.99
DEPTH: Final = 10

Said = Callable[[str], None]
"""A function that tells the person waiting what is being done."""


def silent(what: str) -> None:
    """Say nothing."""


@compared_by_content
@dataclass(frozen=True, repr=False, eq=False)
class Fit(Shown):
    """Posterior of one study.

    Attributes
    ----------
    posterior : xarray Dataset
        Dimensions ``chain``, ``draw`` and names of genera, foundings, steps and phases.
        Per genus: `EFFECTS`; over genera ``<effect>_mean`` and ``<effect>_sd``.
    stats : xarray Dataset
        ``diverging``, ``energy``, ``depth``, ``n_steps`` per draw.
    design, exposure, priors : what was fitted
    seed : int
    accept : float
        Target acceptance of the run that is kept.
    """

    posterior: xr.Dataset
    stats: xr.Dataset
    design: ModelDesign
    exposure: Exposure
    priors: Priors
    seed: int
    accept: float

    def facts(self) -> tuple[str, Facts]:
        """Size of the fit and how its sampling went."""
        sizes = self.posterior.sizes
        return "Fit of the founding model", {
            "foundings": f"{len(self.design.foundings):,} of "
            f"{several(len(self.design.genera), 'kind')}",
            "draws": f"{sizes['chain']} chains of {sizes['draw']:,}",
            "steps gone astray": f"{int(self.stats['diverging'].sum())}",
            "seed": f"{self.seed}, target acceptance {self.accept}",
        }


def sample(
    design: ModelDesign,
    exposure: Exposure,
    priors: Priors,
    *,
    seed: int,
    draws: int | None = None,
    tune: int = TUNE,
    accept: float | None = None,
    chains: int = CHAINS,
    depth: int = DEPTH,
) -> Fit:
    """Sample the posterior of what `prepare` made.

    Parameters
    ----------
    design : ModelDesign
    exposure : Exposure
        Of the same foundings.
    priors : Priors
    seed : int
    draws, tune : int
        Kept and warm-up draws per chain; by default 1500 and 300.
    accept : float, optional
        Target acceptance; by default 0.9, and 0.8 from `MANY` foundings on.
    chains : int
    depth : int
        Doublings of a path at most; fewer bound the time of a fit that goes badly.
    """
    target = log_posterior(design, exposure, priors)
    accept = accept or (ACCEPT if len(design.foundings) < MANY else ACCEPT_MANY)
    q, stats = sample_nuts(
        density_c,
        target.packed,
        target.width,
        target.start,
        seed=seed,
        draws=draws or DRAWS,
        tune=tune,
        accept=accept,
        chains=chains,
        depth=depth,
    )
    return Fit(target.named(q), stats, design, exposure, priors, seed, accept)


def prepare(
    history: History, *, adjust: Adjust | Iterable[str] = (), variant: Variant = ""
) -> tuple[ModelDesign, Exposure]:
    """Pack a history and make its design.

    Raises
    ------
    StudyError
        No founding is compared, or one way of founding is missing.
    """
    exposure = packed(history)
    ways = set(exposure.foundings["arm"])
    if not len(exposure.foundings):
        raise StudyError("No founding enters the comparison: every one is left out.")
    if ways != {"single", "multi"}:
        have = "with one queen" if ways == {"single"} else "with several queens"
        raise StudyError(f"All foundings here started {have}: there is nothing to compare with.")
    return model_design(exposure, adjust=adjust).as_variant(variant), exposure


def fit(
    history: History | Study,
    *,
    seed: int,
    priors: Priors | None = None,
    adjust: Adjust | Iterable[str] | None = None,
    variant: Variant = "",
    draws: int | None = None,
    accept: float | None = None,
    say: Said = silent,
) -> Fit:
    """The posterior of a study, or of a history.

    Parameters
    ----------
    history : History or Study
        Of a study the history that is compared, warmth included (`Study.history`).
    seed : int
    priors : Priors, optional
    adjust : Adjust or iterable of str, optional
        Columns to adjust for, by what they may move; a plain list moves the survival before and
        with workers. Left out, what the settings of the study say; of a history nothing.
    variant : str
        See `cohort.model.design.VARIANTS`.
    draws : int, optional
        Kept draws per chain; by default 1500.
    accept : float, optional
        Target acceptance, see `sample`.
    say : callable
        Told what is being done.

    Raises
    ------
    StudyError
        Nothing to compare, or a covariate that cannot enter.
    """
    past, agreed = as_compared(history, adjust)
    design, exposure = prepare(past, adjust=agreed, variant=variant)
    say(fitting(design))
    return sample(design, exposure, priors or Priors(), seed=seed, draws=draws, accept=accept)


def fitting(design: ModelDesign) -> str:
    """What the person waiting is told while a design is fitted."""
    return f"Fitting {len(design.foundings)} foundings of {len(design.genera)} kinds"
