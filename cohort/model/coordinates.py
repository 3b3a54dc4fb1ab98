"""A study laid out for the sampler: what `transitions.density` reads, and names for what it walks.

Comes in: a `Lineup`, an `Exposure` and `Priors`. Goes out: a `Landscape`: density with slopes,
places to start from, draws under plain names. Never: sampling, a formula of the model.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import xarray as xr

from cohort.exposure import Exposure
from cohort.model.contrasts import contrasts
from cohort.model.lineup import Lineup
from cohort.model.priors import EFFECTS, Priors
from cohort.model.pull import pull
from cohort.model.told import told
from cohort.transitions import density
from cohort.transitions import places as at
from cohort.transitions.assembly import in_one
from cohort.transitions.by_address import value_and_slopes
from cohort.transitions.layout import N1, N2
from cohort.warm_clock import thresholds

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
LEVEL_NAMES: Final = ("keeper", "flight", "kind_within")
SWITCH: Final = {
    "lasting": at.LASTING,
    "no frailty": at.NO_FRAILTY,
    "no fertile fraction": at.ALL_FERTILE,
    "no rivalry": at.NO_RIVALRY,
    "last fight takes one": at.LEAVES_ONE,
    "free loading": at.FREE_LOADING,
}
"""Switch of the density behind each variant; "one genus" is a matter of the lineup."""
HALF: Final = 0.6745
"""An SD as likely above as below it under its prior, in scales of its half-normal."""
UNSEEN: Final = 20.0
"""Degrees Celsius that stand for the mean of logged shelves where none is: never read."""


def level_sizes(lineup: Lineup) -> tuple[int, int, int]:
    """Levels of keeper, flight and species within genera; 0 where one is not in the model."""
    return len(lineup.keepers), len(lineup.flights), len(lineup.kinds_within)


def prior_places(priors: Priors, starts: Ints) -> tuple[Floats, Floats]:
    """Middle and spread of every prior, at the places of what they are priors of.

    Two arrays of shape (coordinates,); the two numbers of the beta prior lie at `places.MATED`.
    """
    centre, scale = np.zeros(starts[-1]), np.ones(starts[-1])
    centre[at.MULTI_DAYS], scale[at.MULTI_DAYS] = priors.multi_days
    centre[at.WITHIN_DAYS], scale[at.WITHIN_DAYS] = priors.within_days
    centre[at.MATED], scale[at.MATED] = priors.mated
    centre[at.SEEN], scale[at.SEEN] = priors.seen
    centre[at.LOADING], scale[at.LOADING] = priors.loading
    centre[at.WARM_THRESHOLD], scale[at.WARM_THRESHOLD] = priors.warm_threshold
    centre[at.WARM_DAYS], scale[at.WARM_DAYS] = priors.warm_days
    scale[at.SIZE_STEP] = priors.size_step_sd
    scale[at.FRAILTY_SD] = priors.frailty
    scale[at.LEVEL_SD : at.WALK_SD] = priors.keeper
    scale[at.WALK_SD : at.WALK] = priors.walk
    scale[at.GENUS_SD : at.GENUS_MEAN] = priors.column("between")
    centre[at.GENUS_MEAN : at.GENUS] = priors.column("mean")
    scale[at.GENUS_MEAN : at.GENUS] = priors.column("sd")
    scale[starts[at.B_COVARIATE] :] = priors.covariate
    return centre, scale


def _switches(lineup: Lineup) -> Floats:
    out = np.zeros(at.SWITCHES)
    out[at.POOLED_FIGHT] = lineup.pooled_fight
    if lineup.variant in SWITCH:
        out[SWITCH[lineup.variant]] = 1.0
    return out


@dataclass(frozen=True)
class Landscape:
    """The posterior of one study in the coordinates of the sampler.

    Attributes
    ----------
    lineup : Lineup
    starts : int array
        First place of each block, see `cohort.transitions.places.blocks`.
    laid : float array
        All that `cohort.transitions.density.log_density` reads.
    """

    lineup: Lineup
    starts: Ints
    laid: Floats

    @property
    def width(self) -> int:
        """Number of coordinates."""
        return int(self.starts[-1])

    def part(self, which: int) -> Floats:
        """A part with a number for each coordinate, see `cohort.transitions.places.TOLD`."""
        first = at.HEAD + which * self.width
        return self.laid[first : first + self.width]

    def log_density(self, q: Floats) -> tuple[float, Floats]:
        """Log density up to a constant, and its slopes, at a vector q of shape (coordinates,)."""
        return value_and_slopes(density.density_c, q, self.laid)

    def start(self, seed: int) -> Floats:
        """A place to start from, shape (coordinates,).

        Each coordinate lies within one SD of the middle of its prior, the two logits within 1; an
        eased one within 1 of where the data pull it given its SD.
        """
        return self.away(np.random.default_rng(seed).uniform(-1.0, 1.0, self.width))

    def away(self, jitter: Floats) -> Floats:
        """A place so many SDs from the middle of every prior; the two logits by so much."""
        centre, scale = self.part(at.CENTRE), self.part(at.SCALE)
        out = centre + scale * jitter
        share = centre[at.MATED] / (centre[at.MATED] + scale[at.MATED])
        out[at.MATED] = np.log(share / (1.0 - share)) + jitter[at.MATED]
        out[at.WARM_THRESHOLD] = jitter[at.WARM_THRESHOLD]
        return out

    def named(self, draws: Floats) -> xr.Dataset:
        """Draws under the names people use.

        Parameters
        ----------
        draws : float array, shape (chains, draws, coordinates)

        Returns
        -------
        Dataset
            Dimensions ``chain``, ``draw``, and ``genus``, ``founding``, ``step``, ``phase`` and the
            levels. SDs are positive, standard normals carry their signs.
        """
        flat = np.ascontiguousarray(draws.reshape(-1, self.width))
        values, effects = density.each(flat, self.laid)
        effects = effects.reshape(*draws.shape[:2], len(EFFECTS), -1)
        named = self._named(values.reshape(draws.shape), effects)
        return xr.Dataset(named, coords=self._coords(draws.shape))

    def _coords(self, shape: tuple[int, ...]) -> dict[str, Any]:
        lineup = self.lineup
        coords: dict[str, Any] = {"chain": np.arange(shape[0]), "draw": np.arange(shape[1])}
        coords |= {"genus": list(lineup.genera), "founding": list(lineup.foundings)}
        coords |= {"step": np.arange(at.STEPS), "phase": ["before", "after"]}
        levels = (lineup.keepers, lineup.flights, lineup.kinds_within)
        coords |= {n: list(names) for n, names in zip(LEVEL_NAMES, levels, strict=True) if names}
        return coords | ({"covariate": list(lineup.covariates)} if lineup.covariates else {})

    def _named(self, p: Floats, effects: Floats) -> dict[str, tuple[tuple[str, ...], Floats]]:
        lineup, starts = self.lineup, self.starts
        out: dict[str, tuple[tuple[str, ...], Floats]] = {}

        def put(name: str, where: int | slice, *dims: str) -> None:
            out[name] = (("chain", "draw", *dims), p[..., where])

        for e, name in enumerate(EFFECTS):
            out[name] = (("chain", "draw", "genus"), effects[:, :, e])
            put(f"{name}_mean", at.GENUS_MEAN + e)
            out[f"{name}_sd"] = (("chain", "draw"), np.abs(p[..., at.GENUS_SD + e]))
        for name, place in (
            ("size_step", at.SIZE_STEP),
            ("multi_days", at.MULTI_DAYS),
            ("within_days", at.WITHIN_DAYS),
            ("mated", at.MATED),
        ):
            put(name, place)
        for name, place, asked in (
            ("seen", at.SEEN, lineup.seen.any()),
            ("loading", at.LOADING, lineup.variant == "free loading"),
            ("warm_threshold", at.WARM_THRESHOLD, lineup.logged.any()),
            ("warm_days", at.WARM_DAYS, lineup.warm.any()),
        ):
            if asked:
                put(name, place)
        sd = p[..., at.WALK_SD : at.WALK]
        sign = np.sign(sd)[..., np.repeat([0, 1], [N1 - 1, N2 - 1])]
        out["walk_sd"] = (("chain", "draw", "phase"), np.abs(sd))
        out["walk"] = (("chain", "draw", "step"), sign * p[..., at.WALK : at.GENUS_SD])
        sigma = p[..., at.FRAILTY_SD]
        z = p[..., starts[at.B_FOUNDING] : starts[at.B_LEVEL]]
        out["frailty_sd"] = (("chain", "draw"), np.abs(sigma))
        out["frailty"] = (("chain", "draw", "founding"), np.sign(sigma)[..., None] * z)
        for i, (name, size) in enumerate(zip(LEVEL_NAMES, level_sizes(lineup), strict=True)):
            if size:
                first = starts[at.B_LEVEL + i]
                put(f"{name}_effect", slice(first, first + size), name)
                out[f"{name}_sd"] = (("chain", "draw"), np.abs(p[..., at.LEVEL_SD + i]))
        if lineup.covariates:
            put("covariate_slope", slice(starts[at.B_COVARIATE], None), "covariate")
        return out


def sd_places(starts: Ints) -> Ints:
    """Place of the SD that multiplies each coordinate; -1 where none does."""
    out = np.full(int(starts[-1]), -1, np.int64)
    out[at.WALK : at.GENUS_SD] = np.repeat([at.WALK_SD, at.WALK_SD + 1], [N1 - 1, N2 - 1])
    contrasts_each = (starts[at.B_FOUNDING] - at.GENUS) // len(EFFECTS)
    sds = np.arange(at.GENUS_SD, at.GENUS_MEAN)
    out[at.GENUS : starts[at.B_FOUNDING]] = np.repeat(sds, contrasts_each)
    out[starts[at.B_FOUNDING] : starts[at.B_LEVEL]] = at.FRAILTY_SD
    for kind in range(at.LEVELS):
        out[starts[at.B_LEVEL + kind] : starts[at.B_LEVEL + kind + 1]] = at.LEVEL_SD + kind
    return out


def _pulled(land: Landscape) -> Landscape:
    """The same posterior in coordinates that know where the data pull."""
    land = replace(land, laid=land.laid.copy())
    places = sd_places(land.starts)
    held = np.isin(np.arange(land.width), places)
    start = land.away(np.where(held, HALF, 0.0))
    sd = np.where(places >= 0, start[places], 0.0)
    land.part(at.PULL)[:] = pull(land.log_density, start, held, sd, land.part(at.TOLD))
    return land


def packed_study(lineup: Lineup, exposure: Exposure) -> Floats:
    """Who, steps and packed tables of a study in one vector, as the kernel reads them."""
    who = np.stack([lineup.genus, lineup.size, lineup.seen], axis=1)
    steps = np.concatenate([lineup.steps1, lineup.steps2])
    return in_one(who, steps, exposure.records, exposure.rows, exposure.nodes)


def landscape(lineup: Lineup, exposure: Exposure, priors: Priors) -> Landscape:
    """The posterior of a study, laid out for the sampler."""
    foundings, levels = len(lineup.foundings), level_sizes(lineup)
    sizes = (len(lineup.genera), foundings, levels, len(lineup.covariates))
    starts = at.blocks(*sizes)
    part = told(lineup, exposure)
    eased = np.zeros(starts[-1])
    eased[at.WALK : at.GENUS_SD] = part.step
    between = contrasts(part.genus, priors.column("sd"))
    blocks = (between.information, part.founding, part.keeper, part.flight, part.kind_within)
    eased[at.GENUS : starts[at.B_COVARIATE]] = np.concatenate([np.ravel(b) for b in blocks])
    index = np.zeros((at.LEVELS, foundings))
    for i, of in enumerate((lineup.keeper, lineup.flight, lineup.kind_within)):
        index[i] = of if levels[i] else 0
    x = lineup.x if lineup.covariates else np.zeros(0)
    warm = lineup.warm if lineup.warm.any() else np.zeros(0)
    limits = thresholds(lineup.reference if lineup.logged.any() else UNSEEN)
    centre, scale = prior_places(priors, starts)
    study = packed_study(lineup, exposure)
    pooling = (between.columns, between.share)
    parts = (eased, np.zeros(starts[-1]), centre, scale, *pooling, index, x, warm, study)
    head = [starts[-1], *sizes[:2], *levels, sizes[3], warm.size]
    numbers = [head, _switches(lineup), part.lean, limits, *(np.ravel(p) for p in parts)]
    laid = np.concatenate([[0.0], *numbers]).astype(np.float64)
    laid[at.H_TOTAL] = laid.size
    return _pulled(Landscape(lineup, starts, laid))
