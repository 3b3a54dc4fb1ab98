"""Draws of the posterior (or of the priors) as the arrays the recursion takes.

Comes in: named draws, and how many genera. Goes out: `Draws`: every genus of the study, then one
genus not yet tried, per draw. Never: a transition, a file.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
import numpy.typing as npt
import xarray as xr

from cohort.base.display import Facts, Shown, several
from cohort.base.frames import compared_by_content
from cohort.likelihood import layout as at
from cohort.likelihood.predictor import parameters_by_founding
from cohort.model import priors as prior_table
from cohort.model.design import ModelDesign
from cohort.model.kernel_arrays import added_by_slopes, effects_of, shared_of, stacked
from cohort.model.priors import EFFECTS, Priors
from cohort.terms.levels import PARTS, SEASON

Floats = npt.NDArray[np.float64]
THINNED: Final = 1500
"""Draws that outcomes are computed from: thinned as evenly as can be, all chains alike."""
PRIOR_DRAWS: Final = 1500
"""Of the priors: as many, so that odds before and after the sheets are told as closely."""
ROWS: Final = 6
"""Rows of covariates that outcomes are averaged over, at most."""


@compared_by_content
@dataclass(frozen=True, repr=False, eq=False)
class Draws(Shown):
    """Parameters by draw, ready for the recursion.

    Attributes
    ----------
    genera : tuple of str
        Genera of the study; index -1 of ``params`` is a genus not yet tried.
    params : float array, shape (draws, genera + 1, EFFECTS)
    shared : float array, shape (draws, SHARED_WIDTH)
    chains : int
        The draws lie chain after chain.
    added : float array, shape (draws or 1, PARTS, rows)
        What each row of covariates adds to each part of a founding's parameters
        (`cohort.likelihood.layout`); one row of 0 without any.
    share : float array, shape (rows,)
        Share of each row among the analysed foundings.
    season : float array, shape (draws or 1, PARTS)
        What one season not yet seen adds, see `in_next_season`.
    winter : tuple of float, optional
        Winter rest of a new founding: day since day 0 on which it begins, and its days; that of the
        study (`cohort.model.design.ModelDesign`).
    """

    genera: tuple[str, ...]
    params: Floats
    shared: Floats
    chains: int
    added: Floats = field(default_factory=lambda: np.zeros((1, at.PARTS, 1)))
    share: Floats = field(default_factory=lambda: np.ones(1))
    season: Floats = field(default_factory=lambda: np.zeros((1, at.PARTS)))
    winter: tuple[float, float] | None = None

    def facts(self) -> tuple[str, Facts]:
        """How many draws, of which kinds."""
        return "Draws for outcomes of new foundings", {
            "draws": f"{several(len(self.params), 'draw')} of {several(self.chains, 'chain')}",
            "kinds": f"{len(self.genera)} of the study, and one not yet tried",
        } | (
            {"averaged over": several(len(self.share), "row") + " of covariates"}
            if len(self.share) > 1
            else {}
        )

    def by_draw(self) -> Floats:
        """What each row of covariates adds in every draw, shape (draws, PARTS, rows)."""
        return np.ascontiguousarray(
            np.broadcast_to(self.added, (len(self.params), *self.added.shape[1:]))
        )

    def in_next_season(self) -> Draws:
        """The same draws for foundings of a season not yet seen.

        To every draw comes one fresh effect of that season on survival before and with workers and
        on the day of the first worker, the same for both ways of founding: from the SD between
        seasons of that draw where several seasons were pooled, else from an SD drawn from its
        prior. Draws as they are speak of the season behind them (of the mean of several).
        """
        return replace(self, added=self.by_draw() + self.season[:, :, None])

    def new_foundings(self, queens: int) -> Floats:
        """What a new founding lives by, by draw and genus, covariates aside.

        Parameters
        ----------
        queens : int
            Queens at the start.

        Returns
        -------
        float array, shape (draws, genera + 1, FOUNDING_WIDTH)
            Columns as in `cohort.likelihood.layout`.
        """
        genera = self.params.shape[1]
        each, none = np.arange(genera), np.zeros(genera, np.int64)
        plain = np.zeros((len(self.shared), at.PARTS, genera))
        return parameters_by_founding(self.params, self.shared, each, none + queens, none, plain)

    def fertile_share(self, queens: int) -> Floats:
        """Chance that a new founding can have workers, over the rows of covariates.

        Returns
        -------
        float array, shape (draws, genera + 1)
        """
        rows, genera = len(self.share), self.params.shape[1]
        none = np.zeros(rows, np.int64)
        one = parameters_by_founding(
            self.params, self.shared, none, none + queens, none, self.by_draw()
        )[..., at.FERTILE]
        return np.repeat((one @ self.share)[:, None], genera, axis=1)


def _new_genus(
    mean: Floats, sd: Floats, count: int, priors: Priors, rng: np.random.Generator, active: Floats
) -> Floats:
    """One fresh set of genus effects per draw, given the mean of the study's genera.

    The mean over all genera, mu, is not sampled: given the mean of the study's ``count`` genera
    it is normal with the precision-weighted mean of its prior and that mean.
    """
    mu0, s0 = priors.column("mean"), priors.column("sd")
    between = sd * active
    noise = np.maximum(between**2 / count, 1e-12)
    precision = 1 / s0**2 + 1 / noise
    centre = (mu0 / s0**2 + mean / noise) / precision
    mu = centre + rng.normal(size=mean.shape) / np.sqrt(precision)
    fresh: Floats = mu + between * rng.normal(size=mean.shape)
    return fresh


def _assemble(
    genus: Floats,
    mean: Floats,
    sd: Floats,
    common: dict[str, Floats],
    design: ModelDesign,
    priors: Priors,
    chains: int,
    seed: int,
) -> Draws:
    rng = np.random.default_rng(seed)
    active = np.ones(len(EFFECTS))
    if design.pooled_fight:
        active[EFFECTS.index("last_fight")] = 0.0
    fresh = _new_genus(mean, sd, genus.shape[2], priors, rng, active)
    whole = np.concatenate([genus, fresh[:, :, None]], axis=2).transpose(0, 2, 1)
    params, shared = effects_of(whole, design), shared_of(common, design)
    rows, share = covariate_rows(design.x)
    return Draws(
        design.genera,
        np.ascontiguousarray(params),
        np.ascontiguousarray(shared),
        chains,
        added_by_slopes(common, design, rows, len(params)),
        share,
        _new_season(common, priors, len(params), np.random.default_rng([seed, 2])),
        design.winter,
    )


def _new_season(
    common: dict[str, Floats], priors: Priors, draws: int, rng: np.random.Generator
) -> Floats:
    """One fresh effect of a season per draw and part it moves, shape (draws, PARTS)."""
    out: Floats = np.zeros((draws, at.PARTS))
    for part in SEASON.moves:
        name = f"{SEASON.parameter(part)}_sd"
        sd = common[name] if name in common else priors[name].draw(rng, (draws,))
        out[:, list(PARTS).index(part)] = sd * rng.normal(size=draws)
    return out


def covariate_rows(x: Floats) -> tuple[Floats, Floats]:
    """At most `ROWS` rows of covariates that stand for all analysed foundings, and their shares.

    Parameters
    ----------
    x : float array, shape (foundings, covariates)

    Returns
    -------
    rows : float array, shape (rows, covariates)
        The different rows, or, where they are many, means of neighbours of equal number.
    share : float array, shape (rows,)
    """
    if x.size == 0:
        return np.zeros((1, x.shape[1])), np.ones(1)
    rows, counts = np.unique(x, axis=0, return_counts=True)
    if len(rows) <= ROWS:
        return rows, counts / counts.sum()
    parts = np.array_split(x[np.lexsort(x.T[::-1])], ROWS)
    sizes = np.array([len(part) for part in parts], float)
    return np.stack([part.mean(axis=0) for part in parts]), sizes / sizes.sum()


def thin(posterior: xr.Dataset, draws: int = THINNED) -> xr.Dataset:
    """Evenly thinned draws, the same number of every chain."""
    chains, length = posterior.sizes["chain"], posterior.sizes["draw"]
    keep = min(length, max(1, draws // chains))
    return posterior.isel(draw=np.linspace(0, length - 1, keep).round().astype(int))


def posterior_draws(
    posterior: xr.Dataset, design: ModelDesign, priors: Priors, *, seed: int, draws: int = THINNED
) -> Draws:
    """Thinned posterior draws for the recursion.

    Parameters
    ----------
    posterior : Dataset
        As in `cohort.model.sample.Fit`.
    design, priors : of the same fit
    seed : int
        For the genus not yet tried.
    draws : int
        How many to keep at most.
    """
    small = thin(posterior, draws)
    values = stacked(small)
    return _assemble(
        np.stack([values[n] for n in EFFECTS], axis=1),
        np.stack([values[f"{n}_mean"] for n in EFFECTS], axis=1),
        np.stack([values[f"{n}_sd"] for n in EFFECTS], axis=1),
        values,
        design,
        priors,
        small.sizes["chain"],
        seed,
    )


def prior_draws(
    design: ModelDesign, priors: Priors, *, seed: int, draws: int = PRIOR_DRAWS
) -> Draws:
    """What the priors alone say, as draws for the recursion."""
    rng = np.random.default_rng(seed)
    drawn = prior_table.draw(
        priors,
        len(design.genera),
        draws,
        rng,
        pooled_fight=design.pooled_fight,
        variant=design.variant,
        winter=design.winter is not None,
    )
    slopes = {
        f"slope_{part}": priors[f"slope_{part}"].draw(rng, (draws, len(design.adjusted(part))))
        for part in PARTS
    }
    return _assemble(
        drawn["genus"],
        drawn["genus_mean"],
        drawn["genus_sd"],
        drawn | slopes,
        design,
        priors,
        1,
        seed + 1,
    )
