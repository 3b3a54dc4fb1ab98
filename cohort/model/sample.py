"""Fit the founding model: sample its density, name what came out.

Comes in: a `History`. Goes out: a frozen `Fit` (draws as an xarray Dataset with named
dimensions). Never: outcomes, words, files.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Any, Final, Protocol

import xarray as xr

from cohort.base import doors
from cohort.base.display import Facts, Shown, several
from cohort.base.errors import StudyError
from cohort.base.frames import compared_by_content
from cohort.history import History
from cohort.history.warmed import as_compared
from cohort.likelihood.density import density_c
from cohort.likelihood.exposure import Exposure, packed
from cohort.model.coordinates import is_large
from cohort.model.design import ModelDesign, Variant, model_design
from cohort.model.log_posterior import log_posterior
from cohort.model.nuts import sample_nuts
from cohort.model.priors import Priors
from cohort.study import Study
from cohort.terms.adjusting import Adjust

CHAINS: Final = 4
DRAWS: Final = 1500
DRAWS_MANY: Final = 1000
VERY_MANY: Final = 5000
DRAWS_VERY_MANY: Final = 900
TUNE: Final = 300
TUNE_MANY: Final = 200
ACCEPT: Final = 0.9
ACCEPT_AGAIN: Final = 0.99
DEPTH: Final = 10

Said = Callable[[str], None]
"""A function that tells the person waiting what is being done; how far it is goes past it, by
`cohort.base.telling`."""


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
        Target acceptance of the run that is kept; nan of draws that came from elsewhere.
    own : tuple of str
        One's own variables in the posterior, beside those of the model.
    moved : DataArray or None
        What one's own effects make of the parameters of each founding (dims ``chain``, ``draw``,
        ``founding``, ``moved``): differences in the columns of `cohort.likelihood.by_founding` that
        ``moved`` names.
    coordinates : Dataset or None
        The variables a PyMC model was sampled by that have no name of their own in a posterior.

    Examples
    --------
    >>> import cohort
    >>> few = cohort.read_study("data/demo").only(genus=["Lasius", "Messor"])
    >>> post = cohort.fit(few, seed=1, draws=50).posterior
    >>> post["together"].dims
    ('chain', 'draw', 'genus')
    >>> [str(genus) for genus in post["genus"].values]
    ['Lasius', 'Messor']
    """

    posterior: xr.Dataset
    stats: xr.Dataset
    design: ModelDesign
    exposure: Exposure
    priors: Priors
    seed: int
    accept: float
    own: tuple[str, ...] = ()
    moved: xr.DataArray | None = None
    coordinates: xr.Dataset | None = None

    @classmethod
    def from_draws(
        cls,
        study: Study | History,
        draws: Any,
        *,
        priors: Priors | None = None,
        adjust: Adjust | Iterable[str] | None = None,
        seed: int = 0,
    ) -> Fit:
        """One's own draws as a fit, for `cohort.compare`.

        Parameters
        ----------
        study : Study or History
            The study they are of.
        draws : DataTree, Dataset or DataFrame
            Named as in a posterior of the founding model, dims ``chain`` and ``draw`` first. A tree
            holds them as ``posterior``, and may hold ``sample_stats``. A frame has a row per draw,
            columns ``chain`` and ``draw`` (without them: one chain), and for what has dims a column
            per place: ``together[Lasius]``, ``walk[3]``, ``walk_sd[before]``. Other variables are
            kept as one's own.
        priors : Priors, optional
            Behind the draws: how far they rule an answer is told by these.
        adjust : dict, iterable of str or Adjust, optional
            As in `cohort.fit`.
        seed : int
            For the genus not yet tried.

        Returns
        -------
        Fit
            Without the sampler's record where the draws have none.

        Raises
        ------
        StudyError
            A variable of the model is missing, has another shape than the study has foundings,
            genera ..., or holds a number that is none.

        Examples
        --------
        >>> import cohort
        >>> few = cohort.read_study("data/demo").only(genus=["Lasius", "Messor"])
        >>> draws = cohort.fit(few, seed=1, draws=50).posterior  # or of a sampler of your own
        >>> cohort.Fit.from_draws(few, draws.assign(altitude=0.1 * draws["mated"])).own
        ('altitude',)
        """
        past, agreed = as_compared(study, adjust)
        design, exposure = prepare(past, adjust=agreed)
        made: Fit = doors.call(
            "fit_of", draws, design, exposure, priors or Priors(), seed,
            room="cohort.model.own_draws",
        )  # fmt: skip
        return made

    def facts(self) -> tuple[str, Facts]:
        """Size of the fit and how its sampling went."""
        sizes = self.posterior.sizes
        return "Fit of the founding model", {
            "foundings": f"{len(self.design.foundings):,} of "
            f"{several(len(self.design.genera), 'kind')}",
            "draws": f"{sizes['chain']} chains of {sizes['draw']:,}",
            "steps gone astray": f"{int(self.stats['diverging'].sum())}"
            if "diverging" in self.stats
            else "not known",
            "seed": f"{self.seed}, target acceptance {self.accept}",
        }


def joined(first: Fit, more: Fit) -> Fit:
    """Two fits of one study as one with the chains of both.

    Chains are independent of each other however each was adapted, so those of a second run may
    stand beside those of the first, if they are of one length and take steps to one acceptance.

    Parameters
    ----------
    first, more : Fit
        Of the same design, priors and draws per chain; another seed.
    """

    def beside(one: Any, other: Any) -> Any:
        if one is None or other is None:
            return None
        both = xr.concat([one, other], dim="chain", join="override", coords="minimal",
                         compat="override", data_vars="all")  # fmt: skip
        return both.assign_coords(chain=range(both.sizes["chain"]))

    moved = None
    if first.moved is not None and more.moved is not None:
        moved = beside(first.moved.to_dataset(name="moved"), more.moved.to_dataset(name="moved"))
        moved = moved["moved"]
    return replace(
        first,
        posterior=beside(first.posterior, more.posterior),
        stats=beside(first.stats, more.stats),
        moved=moved,
        coordinates=beside(first.coordinates, more.coordinates),
    )


class Sampler(Protocol):
    """Draws the posterior of a design, as `sample` does."""

    def __call__(
        self,
        design: ModelDesign,
        exposure: Exposure,
        priors: Priors,
        *,
        seed: int,
        draws: int | None = None,
        accept: float | None = None,
    ) -> Fit:
        """See `sample`."""
        ...


def usual_draws(design: ModelDesign) -> int:
    """Kept draws of each chain where no number is asked for.

    Large studies are sampled in coordinates that mix better, and each of their draws costs more.
    """
    if not is_large(design):
        return DRAWS
    return DRAWS_MANY if len(design.foundings) < VERY_MANY else DRAWS_VERY_MANY


def sample(
    design: ModelDesign,
    exposure: Exposure,
    priors: Priors,
    *,
    seed: int,
    draws: int | None = None,
    tune: int | None = None,
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
        Kept and warm-up draws per chain; by default see `usual_draws`, and 300, of large studies
        200.
    accept : float, optional
        Target acceptance; by default 0.9.
    chains : int
    depth : int
        Doublings of a path at most; fewer bound the time of a fit that goes badly.
    """
    target = log_posterior(design, exposure, priors)
    accept = accept or ACCEPT
    q, stats = sample_nuts(
        density_c,
        target.packed,
        target.width,
        target.start,
        seed=seed,
        draws=draws or usual_draws(design),
        tune=tune or (TUNE_MANY if is_large(design) else TUNE),
        accept=accept,
        chains=chains,
        depth=depth,
        split=is_large(design),
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


def fitting(design: ModelDesign) -> str:
    """What the person waiting is told while a design is fitted."""
    return f"Fitting {len(design.foundings)} foundings of {len(design.genera)} kinds"
