"""The log posterior of a study, packed for the sampler, and names for its draws.

Comes in: a `ModelDesign`, an `Exposure` and `Priors`. Goes out: a `LogPosterior`: density with its
gradient, places to start from, draws under plain names. Never: sampling, a formula of the model.

Which parameter lies where is made from `cohort.model.parameters`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import xarray as xr

from cohort.likelihood import density
from cohort.likelihood import packing as at
from cohort.likelihood.assembly import in_one
from cohort.likelihood.callbacks import value_and_gradient
from cohort.likelihood.exposure import Exposure
from cohort.likelihood.genera import noncentring
from cohort.model.conditional_mode import score
from cohort.model.contrasts import contrasts
from cohort.model.design import ModelDesign
from cohort.model.families import CutNormal, HalfNormal
from cohort.model.information import Information, information
from cohort.model.parameters import BY_FOUNDING, BY_GENUS, COMMON, EFFECTS, Parameter
from cohort.model.priors import Priors
from cohort.terms.levels import FIRST_WORKER, PARTS
from cohort.warmth import thresholds

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Where = Mapping[str, slice]
MOVES: Final = (
    ("together_mean", "size_step"),
    ("founding_hazard_mean", "together_mean"),
    ("worker_hazard_mean", "rivalry_mean"),
    ("first_worker_mean", "multi_days"),
)
"""Means whose coordinate is shifted by another one, as `cohort.model.information` lists them."""
HALF: Final = 0.6745
"""An SD as likely above as below it under its prior, in scales of its half-normal."""
UNSEEN: Final = 20.0
"""Degrees Celsius that stand for the mean of logged shelves where none is: never read."""
PHASES: Final = np.repeat([0, 1], [at.STEPS1, at.STEPS - at.STEPS1])
"""Phase of each step of the random walks."""


def places(design: ModelDesign) -> Where:
    """Where each parameter lies in the vector that is sampled.

    The same for every study up to the contrasts between genera (``<effect>``) and winter: what a
    study does not speak of (warmth, SDs of keepers) stays there at its prior and is never named.
    Only what `leaves` has no place in a study that knows nothing of it.

    Returns
    -------
    dict of slice
        By name; effects of genera as ``<effect>``, ``<effect>_mean`` and ``<effect>_sd``.
    """
    widths = {row.name: 1 for row in _placed(design)}
    widths |= {"walk_sd": 2, "walk": at.STEPS}
    widths |= {f"{name}_sd": 1 for name in EFFECTS} | {f"{name}_mean": 1 for name in EFFECTS}
    widths |= dict.fromkeys(EFFECTS, len(design.genera) - 1)
    widths |= {row.name: len(_named_along(row, design)) for row in BY_FOUNDING}
    ends = np.cumsum(list(widths.values()))
    return {
        name: slice(int(end) - width, int(end))
        for (name, width), end in zip(widths.items(), ends, strict=True)
    }


def _placed(design: ModelDesign) -> tuple[Parameter, ...]:
    """Parameters that genera share, those left out that have no place in a study like this."""
    return tuple(row for row in COMMON if row.enters(design) or not row.leaves)


def _named_along(row: Parameter, design: ModelDesign) -> tuple[str, ...]:
    """Names along the dim of a parameter of `BY_FOUNDING`: foundings, levels or covariates."""
    if row.of:
        return design.levels[row.of].names if row.of in design.levels else ()
    if row.part:
        return tuple(design.covariates[i] for i in design.adjusted(row.part))
    return design.foundings


def _family(row: Parameter) -> int:
    """Family of a row that an SD multiplies: levels are sampled as effects, the rest as normals."""
    return at.LEVEL if row.of else at.MULTIPLIED


def _simple(row: Parameter, name: str, prior: Any, where: Where, design: ModelDesign) -> Floats:
    out = np.zeros(at.ROW)
    out[[at.SD, at.MEAN]] = -1.0
    out[at.ACTIVE], out[at.SHARED] = 1.0, row.shared
    out[at.FAMILY], out[at.A], out[at.B] = prior.family, prior.a, prior.b
    out[at.FIRST], out[at.LENGTH] = _span(where[name])
    fixed_at = row.fixed_at(design.variant)
    out[at.FIXED], out[at.VALUE] = fixed_at is not None, fixed_at or 0.0
    if isinstance(prior, CutNormal):
        out[at.LOW], out[at.HIGH] = limits(design)
    return out


def _span(where: slice) -> tuple[int, int]:
    return where.start, where.stop - where.start


def _multiplied(row: Parameter, where: Where) -> list[Floats]:
    """A row for each SD: the steps of the two random walks have one each."""
    first, length = _span(where[row.name])
    sds = range(where[row.sd].start, where[row.sd].stop)
    parts = [length] if len(sds) == 1 else [at.STEPS1, length - at.STEPS1]
    out = []
    for sd, part in zip(sds, parts, strict=True):
        one = np.zeros(at.ROW)
        one[[at.MEAN, at.SHARED]] = -1.0
        one[at.FAMILY], one[at.ACTIVE], one[at.SD] = _family(row), 1.0, sd
        one[at.FIRST], one[at.LENGTH] = first, part
        first += part
        out.append(one)
    return out


def table(priors: Priors, where: Where, design: ModelDesign) -> tuple[Floats, int, int, int]:
    """The table of parameters as the compiled code reads it, and where its parts begin.

    Returns
    -------
    float array, shape (rows, ROW), and three row numbers
        First row of the effects of genera, of what an SD multiplies, of the coefficients of
        covariates.
    """
    simple = [_simple(r, r.name, priors[r.name], where, design) for r in _placed(design) if r.prior]
    genus = []
    for row in BY_GENUS:
        prior, sd = priors[row.name], f"{row.name}_sd"
        spread = HalfNormal(prior.between)
        simple.append(_simple(Parameter(sd, spread), sd, spread, where, design))
        one = _simple(row, row.name, prior, where, design)
        one[at.SD], one[at.MEAN] = where[sd].start, where[f"{row.name}_mean"].start
        one[at.ACTIVE] = not (row.name == "last_fight" and design.pooled_fight)
        genus.append(one)
    # the rows whose coordinate is a logit come last, so that sums keep their order
    simple.sort(key=lambda one: max(one[at.FAMILY], at.LOG_NORMAL))
    every = (*COMMON, *BY_FOUNDING)
    multiplied = [one for row in every if row.prior is None for one in _multiplied(row, where)]
    slopes = [_simple(r, r.name, priors[r.name], where, design) for r in BY_FOUNDING if r.prior]
    rows = np.stack([*simple, *genus, *multiplied, *slopes])
    first = len(simple)
    return rows, first, first + len(genus), len(rows) - len(slopes)


def limits(design: ModelDesign) -> tuple[float, float]:
    """Lowest and highest threshold of the degree-days."""
    return thresholds(design.reference if design.logged.any() else UNSEEN)


@dataclass(frozen=True)
class LogPosterior:
    """The posterior of one study in the coordinates of the sampler.

    Attributes
    ----------
    design : ModelDesign
    where : mapping of slice
        Place of each parameter, see `places`.
    packed : float array
        All that `cohort.likelihood.density.log_density` reads.
    """

    design: ModelDesign
    where: Where
    packed: Floats

    @property
    def width(self) -> int:
        """Number of coordinates."""
        return int(self.packed[at.H_WIDTH])

    @property
    def rows(self) -> Floats:
        """The table of parameters, shape (rows, ROW); a view."""
        count = int(self.packed[at.H_ROWS])
        return self.packed[at.HEAD : at.HEAD + count * at.ROW].reshape(count, at.ROW)

    @property
    def information(self) -> Floats:
        """Information of the data on each coordinate, see `likelihood.noncentred`; a view."""
        return np.asarray(noncentring(self.packed)[0])

    @property
    def score(self) -> Floats:
        """Score of the data at nought for each coordinate; a view."""
        return np.asarray(noncentring(self.packed)[1])

    def log_density(self, q: Floats) -> tuple[float, Floats]:
        """Log density up to a constant, and its gradient, at a vector q of shape (coordinates,)."""
        return value_and_gradient(density.density_c, q, self.packed)

    def start(self, seed: int) -> Floats:
        """A place to start from, shape (coordinates,).

        Each coordinate lies within one SD of the middle of its prior, the two logits within 1; an
        non-centred one within 1 of its conditional mode given its SD.
        """
        return self.away(np.random.default_rng(seed).uniform(-1.0, 1.0, self.width))

    def middle(self) -> tuple[Floats, Floats]:
        """Middle and spread of the prior of each coordinate, shapes (coordinates,)."""
        centre, scale = np.zeros(self.width), np.ones(self.width)
        for row in self.rows:
            own = slice(int(row[at.FIRST]), int(row[at.FIRST] + row[at.LENGTH]))
            if row[at.FAMILY] in (at.NORMAL, at.LOG_NORMAL):
                centre[own], scale[own] = row[at.A], row[at.B]
            elif row[at.FAMILY] == at.LOGIT_BETA:
                share = row[at.A] / (row[at.A] + row[at.B])
                centre[own] = np.log(share / (1.0 - share))
            elif row[at.FAMILY] == at.GENUS:
                centre[int(row[at.MEAN])], scale[int(row[at.MEAN])] = row[at.A], row[at.B]
        return centre, scale

    def away(self, jitter: Floats) -> Floats:
        """A place so many SDs from the middle of every prior; the two logits by so much."""
        centre, scale = self.middle()
        return centre + scale * jitter

    def sds(self) -> Ints:
        """Place of the SD that multiplies each coordinate; -1 where none does."""
        out = np.full(self.width, -1, np.int64)
        for row in self.rows:
            if row[at.SD] >= 0:
                first = int(row[at.FIRST])
                out[first : first + int(row[at.LENGTH])] = int(row[at.SD])
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
        values, effects = density.each(flat, self.packed)
        effects = effects.reshape(*draws.shape[:2], len(EFFECTS), -1)
        named = self._named(values.reshape(draws.shape), effects)
        return xr.Dataset(named, coords=self._coords(draws.shape))

    def _coords(self, shape: tuple[int, ...]) -> dict[str, Any]:
        design = self.design
        coords: dict[str, Any] = {"chain": np.arange(shape[0]), "draw": np.arange(shape[1])}
        coords |= {"genus": list(design.genera)}
        coords |= {"step": np.arange(at.STEPS), "phase": ["before", "after"]}
        return coords | named_dims(design)

    def _named(self, p: Floats, effects: Floats) -> dict[str, tuple[tuple[str, ...], Floats]]:
        plain = ("chain", "draw")
        out: dict[str, tuple[tuple[str, ...], Floats]] = {}
        for e, name in enumerate(EFFECTS):
            out[name] = ((*plain, "genus"), effects[:, :, e])
            out[f"{name}_mean"] = (plain, p[..., self.where[f"{name}_mean"].start])
            out[f"{name}_sd"] = (plain, np.abs(p[..., self.where[f"{name}_sd"].start]))
        for row in (*_placed(self.design), *BY_FOUNDING):
            value = p[..., self.where[row.name]]
            if row.sd and _family(row) == at.MULTIPLIED:  # with the sign of its SD
                sign = np.sign(p[..., self.where[row.sd]])
                value = (sign[..., PHASES] if row.dims == ("step",) else sign) * value
            if isinstance(row.prior, HalfNormal):
                value = np.abs(value)
            if row.enters(self.design) and value.shape[-1]:
                out[row.name] = ((*plain, *row.dims), value if row.dims else value[..., 0])
        return out


def _scored(target: LogPosterior) -> LogPosterior:
    """The same posterior with the score in its coordinates."""
    target = replace(target, packed=target.packed.copy())
    sds = target.sds()
    fixed_at = np.isin(np.arange(target.width), sds)
    start = target.away(np.where(fixed_at, HALF, 0.0))
    sd = np.where(sds >= 0, start[sds], 0.0)
    target.score[:] = score(target.log_density, start, fixed_at, sd, target.information)
    return target


def packed_study(design: ModelDesign, exposure: Exposure) -> Floats:
    """Who, steps and packed tables of a study in one vector, as the kernel reads them."""
    who = np.stack([design.genus_code, design.size, design.seen], axis=1)
    steps = np.concatenate([design.steps1, design.steps2])
    return in_one(who, steps, exposure.records, exposure.rows, exposure.nodes)


def named_dims(design: ModelDesign) -> dict[str, list[str]]:
    """Foundings, levels and covariates by the dim along which their parameters lie."""
    named = {row.dims[0]: list(_named_along(row, design)) for row in BY_FOUNDING}
    return {dim: names for dim, names in named.items() if names or dim == "founding"}


def _by_level(where: Where, design: ModelDesign) -> tuple[Floats, Floats]:
    """Table of effects by level, and the level of each founding; see `likelihood.moved`."""
    kinds = list(design.levels)
    rows = [
        (where[row.name].start, kinds.index(row.of), list(PARTS).index(row.part))
        for row in BY_FOUNDING
        if row.of in design.levels
    ]
    level = np.array([own.index for own in design.levels.values()], np.float64)
    return np.array(rows, np.float64), level


def _by_slope(where: Where, design: ModelDesign) -> tuple[Floats, Floats]:
    """Table of effects by coefficient, and the numbers of each founding; see `likelihood.moved`."""
    rows = [
        (where[f"slope_{part}"].start + i, column, p)
        for p, part in enumerate(PARTS)
        for i, column in enumerate(design.adjusted(part))
    ]
    number = list(design.x.T) if design.covariates else []
    if design.warm.any():
        rows.append((where["warm_days"].start, len(number), list(PARTS).index(FIRST_WORKER)))
        number.append(design.warm)
    return np.array(rows, np.float64), np.array(number, np.float64)


def _head(where: Where, design: ModelDesign) -> Floats:
    """The head of the vector, rows of its tables aside; see `cohort.likelihood.packing`."""
    head = np.zeros(at.HEAD)
    head[at.H_WIDTH] = max(own.stop for own in where.values())
    head[at.H_GENERA], head[at.H_FOUNDINGS] = len(design.genera), len(design.foundings)
    head[at.H_LASTING] = design.variant == "lasting"
    for place, name in (
        (at.AT_WALK, "walk"),
        (at.AT_WALK_SD, "walk_sd"),
        (at.AT_FRAILTY, "frailty"),
    ):
        head[place] = where[name].start
    return head


def uncentred(
    design: ModelDesign, priors: Priors, part: Information, study: Floats
) -> LogPosterior:
    """A posterior whose coordinates have the information of the data, but no score yet.

    Parameters
    ----------
    design : ModelDesign
    priors : Priors
    part : Information
        Information on each effect.
    study : float array
        Made by `packed_study`.
    """
    where = places(design)
    rows, genus, multiplied, slopes = table(priors, where, design)
    moves = [
        (where[target].start, where[source].start, amount)
        for (target, source), amount in zip(MOVES, part.lean, strict=True)
    ]
    between = contrasts(part.genus, priors.column("sd"))
    head = _head(where, design)
    head[at.H_MOVES], head[at.H_ROWS] = len(moves), len(rows)
    head[at.H_GENUS], head[at.H_MULTIPLIED], head[at.H_COEFFICIENTS] = genus, multiplied, slopes
    information_of = {"walk": part.step} | dict(zip(EFFECTS, between.information, strict=True))
    information_of |= {"frailty": part.founding} | dict(part.levels)
    noncentred = np.zeros((2, int(head[at.H_WIDTH])))
    for name, amount in information_of.items():
        noncentred[0, where[name]] = amount
    by_level, level = _by_level(where, design)
    by_slope, number = _by_slope(where, design)
    head[at.H_BY_LEVEL], head[at.H_GROUPINGS] = len(by_level), len(level)
    head[at.H_BY_SLOPE], head[at.H_COLUMNS] = len(by_slope), len(number)
    moving = (by_level, by_slope, level, number)
    parts = (head, rows, moves, noncentred, between.columns, between.share, *moving, study)
    packed = np.concatenate([np.ravel(part) for part in parts]).astype(np.float64)
    packed[at.H_TOTAL] = packed.size
    return LogPosterior(design, where, packed)


def log_posterior(design: ModelDesign, exposure: Exposure, priors: Priors) -> LogPosterior:
    """The posterior of a study, laid out for the sampler."""
    study = packed_study(design, exposure)
    return _scored(uncentred(design, priors, information(design, exposure), study))
