"""Fit the founding model: compile, sample with nutpie, name what came out.

Comes in: a `History`. Goes out: a frozen `Fit` (draws as an xarray Dataset with named
dimensions). Never: outcomes, words, files.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import xarray as xr

from cohort.errors import StudyError
from cohort.exposure import Exposure, packed
from cohort.history import History
from cohort.model.geometry import unsigned
from cohort.model.lineup import Lineup, Variant, line_up
from cohort.model.priors import EFFECTS, Priors
from cohort.model.quick_compile import plain_copies
from cohort.shown import Facts, Shown, several

CHAINS: Final = 4
DRAWS: Final = 1500
TUNE: Final = 500
ACCEPT: Final = 0.9
ACCEPT_AGAIN: Final = 0.99
DEPTH: Final = 10

Said = Callable[[str], None]
"""A function that tells the person waiting what is being done."""


def silent(what: str) -> None:
    """Say nothing."""


@dataclass(frozen=True, repr=False)
class Fit(Shown):
    """Posterior of one study.

    Attributes
    ----------
    posterior : xarray Dataset
        Dimensions ``chain``, ``draw`` and names of genera, foundings, steps and phases.
        Per genus: `EFFECTS`; over genera ``<effect>_mean`` and ``<effect>_sd``.
    stats : xarray Dataset
        ``diverging``, ``energy``, ``depth``, ``n_steps`` per draw.
    lineup, exposure, priors : what was fitted
    seed : int
    accept : float
        Target acceptance of the run that is kept.
    """

    posterior: xr.Dataset
    stats: xr.Dataset
    lineup: Lineup
    exposure: Exposure
    priors: Priors
    seed: int
    accept: float

    def facts(self) -> tuple[str, Facts]:
        """Size of the fit and how its sampling went."""
        sizes = self.posterior.sizes
        return "Fit of the founding model", {
            "foundings": f"{len(self.lineup.foundings):,} of "
            f"{several(len(self.lineup.genera), 'kind')}",
            "draws": f"{sizes['chain']} chains of {sizes['draw']:,}",
            "steps gone astray": f"{int(self.stats['diverging'].sum())}",
            "seed": f"{self.seed}, target acceptance {self.accept}",
        }


def named(posterior: xr.Dataset) -> xr.Dataset:
    """The sampled variables under the names people use, one per effect.

    Parameters
    ----------
    posterior : Dataset
        With ``genus`` (effect, genus_name), ``genus_mean`` and ``genus_sd_signed`` (effect).
    """
    posterior = unsigned(posterior)
    out: dict[str, Any] = {}
    for name in EFFECTS:
        pick = {"effect": name}
        out[name] = posterior["genus"].sel(pick, drop=True).rename(genus_name="genus")
        out[f"{name}_mean"] = posterior["genus_mean"].sel(pick, drop=True)
        out[f"{name}_sd"] = posterior["genus_sd"].sel(pick, drop=True)
    for sampled, values in posterior.data_vars.items():
        name = str(sampled)
        if name not in {"genus", "genus_mean", "genus_sd"}:
            out[name] = values
    return xr.Dataset(out)


class Sampler:
    """A compiled model that can be run again, on the same study or another of its shape.

    Parameters
    ----------
    lineup : Lineup
    exposure : Exposure
    priors : Priors
    """

    def __init__(self, lineup: Lineup, exposure: Exposure, priors: Priors) -> None:
        import nutpie

        from cohort.model.graph import founding_model

        with plain_copies():
            self._compiled = nutpie.compile_pymc_model(founding_model(lineup, exposure, priors))
        self._lineup, self._exposure, self._priors = lineup, exposure, priors

    def swap(self, lineup: Lineup, exposure: Exposure) -> None:
        """Put another study of the same shape (foundings, genera, effects) into the model.

        Raises
        ------
        ValueError
            The shape differs, so the model would have to be compiled again.
        """
        from cohort.model.graph import data_of

        if self._lineup.shape != lineup.shape:
            raise ValueError("another shape: compile a Sampler of its own")
        self._compiled = self._compiled.with_data(**data_of(lineup, exposure))
        self._lineup, self._exposure = lineup, exposure

    def run(
        self,
        *,
        seed: int,
        draws: int | None = None,
        tune: int = TUNE,
        accept: float = ACCEPT,
        chains: int = CHAINS,
        depth: int = DEPTH,
    ) -> Fit:
        """Sample the posterior.

        Parameters
        ----------
        seed : int
        draws, tune : int
            Kept and warm-up draws per chain; by default 1500.
        accept : float
            Target acceptance.
        chains : int
        depth : int
            Doublings of a path at most; fewer bound the time of a fit that goes badly.
        """
        import nutpie

        tree = nutpie.sample(
            self._compiled,
            draws=draws or DRAWS,
            tune=tune,
            chains=chains,
            seed=seed,
            save_warmup=False,
            progress_bar=False,
            target_accept=accept,
            maxdepth=depth,
        )
        posterior = (
            tree["posterior"]
            .to_dataset()
            .assign_coords(
                founding=list(self._lineup.foundings), genus_name=list(self._lineup.genera)
            )
        )
        return Fit(
            named(posterior),
            tree["sample_stats"].to_dataset(),
            self._lineup,
            self._exposure,
            self._priors,
            seed,
            accept,
        )


def prepare(
    history: History, *, adjust: tuple[str, ...] = (), variant: Variant = ""
) -> tuple[Lineup, Exposure]:
    """Pack a history and line it up.

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
    return line_up(exposure, adjust=adjust).as_variant(variant), exposure


def fit(
    history: History,
    *,
    seed: int,
    priors: Priors | None = None,
    adjust: tuple[str, ...] = (),
    variant: Variant = "",
    draws: int | None = None,
    accept: float = ACCEPT,
    say: Said = silent,
) -> tuple[Fit, Sampler]:
    """The posterior of a history, and the sampler that made it (for another run).

    Parameters
    ----------
    history : History
    seed : int
    priors : Priors, optional
    adjust : tuple of str
        Columns to adjust the founding hazard for.
    variant : str
        See `cohort.model.lineup.VARIANTS`.
    draws : int, optional
        Kept draws per chain.
    accept : float
    say : callable
        Told what is being done.

    Raises
    ------
    StudyError
        Nothing to compare, or a covariate that cannot enter.
    """
    lineup, exposure = prepare(history, adjust=adjust, variant=variant)
    return sample(
        lineup, exposure, priors or Priors(), seed=seed, draws=draws, accept=accept, say=say
    )


def sample(
    lineup: Lineup,
    exposure: Exposure,
    priors: Priors,
    *,
    seed: int,
    draws: int | None = None,
    accept: float = ACCEPT,
    say: Said = silent,
) -> tuple[Fit, Sampler]:
    """The posterior of what `prepare` made, and its sampler; otherwise as `fit`."""
    say("Setting up the model (longer the first time)")
    sampler = Sampler(lineup, exposure, priors)
    say(f"Fitting {len(lineup.foundings)} foundings of {len(lineup.genera)} kinds")
    return sampler.run(seed=seed, draws=draws, accept=accept), sampler
