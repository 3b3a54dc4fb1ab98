"""The log posterior of a study, packed for the sampler, and names for its draws.

Comes in: a `ModelDesign`, an `Exposure` and `Priors`. Goes out: a `LogPosterior`: density with its
gradient, places to start from, draws under plain names. Never: sampling, a formula of the model.

Which parameter lies where is made from `cohort.model.parameters`.
"""

from __future__ import annotations

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
from cohort.model.conditional_mode import conditional_mode
from cohort.model.coordinates import Coordinates, coordinates, is_large, stretched
from cohort.model.curvature import by_curvature, score
from cohort.model.design import ModelDesign
from cohort.model.families import HalfNormal
from cohort.model.information import information
from cohort.model.parameters import BY_FOUNDING, EFFECTS
from cohort.model.places import PHASES, Where, family_of, named_dims, placed, places, table
from cohort.model.priors import Priors
from cohort.terms.levels import FIRST_WORKER, PARTS

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
HALF: Final = 0.6745
"""An SD as likely above as below it under its prior, in scales of its half-normal."""


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

    def rate(self, name: str) -> float:
        """Rate of an SD that is stretched; 0 of any other."""
        own = self.rows[self.rows[:, at.FAMILY] == at.STRETCHED]
        here = own[own[:, at.FIRST] == self.where[name].start]
        return float(here[0, at.RATE]) if len(here) else 0.0

    def turn(self, name: str) -> Floats | None:
        """Turn of the normals of this name, shape (own, own); None where they are not turned."""
        own, first = self.where[name], self.rows[:, at.FIRST]
        inside = (first >= own.start) & (first < own.stop) & (self.rows[:, at.LENGTH] > 0)
        turned = self.rows[inside & (self.rows[:, at.TURN] >= 0)]
        if not len(turned):
            return None
        out = np.eye(own.stop - own.start)
        for row in turned:
            start, count, begins = (int(row[i]) for i in (at.FIRST, at.LENGTH, at.TURN))
            here = slice(start - own.start, start - own.start + count)
            out[here, here] = self.packed[begins : begins + count * count].reshape(count, count)
        return out

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
            elif row[at.FAMILY] == at.STRETCHED:
                scale[own] = np.arcsinh(row[at.RATE] * row[at.B]) / row[at.RATE]
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
        named: dict[str, tuple[tuple[str, ...], Floats]] = {}
        for chain, own in enumerate(draws):  # one by one: all of a large study would be held twice
            values, effects = density.each(np.ascontiguousarray(own), self.packed)
            for name, (dims, array) in self._named(values[None], effects[None]).items():
                if name not in named:
                    named[name] = dims, np.empty((len(draws), *array.shape[1:]))
                named[name][1][chain] = array[0]
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
        for row in (*placed(self.design), *BY_FOUNDING):
            value = p[..., self.where[row.name]]
            if row.sd and family_of(row) == at.MULTIPLIED:  # with the sign of its SD
                sign = np.sign(p[..., self.where[row.sd]])
                value = (sign[..., PHASES] if row.dims == ("step",) else sign) * value
            if isinstance(row.prior, HalfNormal):
                value = np.abs(value)
            if row.enters(self.design) and value.shape[-1]:
                out[row.name] = ((*plain, *row.dims), value if row.dims else value[..., 0])
        return out


def packed_study(design: ModelDesign, exposure: Exposure) -> Floats:
    """Who, steps and packed tables of a study in one vector, as the kernel reads them."""
    who = np.stack([design.genus_code, design.size, design.seen], axis=1)
    steps = np.concatenate([design.steps1, design.steps2])
    return in_one(who, steps, exposure.records, exposure.rows, exposure.nodes)


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


def laid_out(
    design: ModelDesign, priors: Priors, chosen: Coordinates, study: Floats
) -> LogPosterior:
    """A posterior in these coordinates, whose score is still 0.

    Parameters
    ----------
    design : ModelDesign
    priors : Priors
    chosen : Coordinates
    study : float array
        Made by `packed_study`.
    """
    where = places(design)
    rows, genus, multiplied, slopes = table(priors, where, design, chosen)
    turns = np.concatenate([np.zeros(0), *(turn.ravel() for turn in chosen.turns.values())])
    head = _head(where, design)
    head[at.H_MOVES], head[at.H_ROWS], head[at.H_TURNS] = len(chosen.moves), len(rows), turns.size
    head[at.H_GENUS], head[at.H_MULTIPLIED], head[at.H_COEFFICIENTS] = genus, multiplied, slopes
    noncentred = np.zeros((2, int(head[at.H_WIDTH])))
    for name, amount in chosen.information.items():
        noncentred[0, where[name]] = amount
    by_level, level = _by_level(where, design)
    by_slope, number = _by_slope(where, design)
    head[at.H_BY_LEVEL], head[at.H_GROUPINGS] = len(by_level), len(level)
    head[at.H_BY_SLOPE], head[at.H_COLUMNS] = len(by_slope), len(number)
    moving = (by_level, by_slope, level, number)
    before = (head, rows, chosen.moves, noncentred, chosen.between.columns, chosen.between.share)
    parts = [np.ravel(part) for part in (*before, turns, *moving, study)]
    packed = np.concatenate(parts).astype(np.float64)
    packed[at.H_TOTAL] = packed.size
    begins = sum(part.size for part in parts[: len(before)])
    target = LogPosterior(design, where, packed)
    for first, turn in chosen.turns.items():
        own = (target.rows[:, at.FIRST] == first) & (target.rows[:, at.LENGTH] == len(turn))
        target.rows[own, at.TURN] = begins
        begins += turn.size
    return target


def _held_sds(target: LogPosterior) -> tuple[Floats, npt.NDArray[np.bool_], Floats]:
    """A place where SDs are about as large as priors have them, which are SDs, what they multiply.

    Returns
    -------
    float, bool and float arrays, shape (coordinates,)
        The last holds the SD that multiplies each coordinate; 0 where none does.
    """
    sds = target.sds()
    held = np.isin(np.arange(target.width), sds)
    start = target.away(np.where(held, HALF, 0.0))
    return start, held, np.where(sds >= 0, start[sds], 0.0)


def log_posterior(design: ModelDesign, exposure: Exposure, priors: Priors) -> LogPosterior:
    """The posterior of a study, laid out for the sampler."""
    study, where = packed_study(design, exposure), places(design)
    chosen = coordinates(where, information(design, exposure), design, priors)
    plain = laid_out(design, priors, replace(chosen, information={}), study)
    start, held, sd = _held_sds(plain)
    mode = conditional_mode(plain.log_density, start, held, where["frailty"])
    normals = mode.at
    if is_large(design):
        chosen, normals = by_curvature(chosen, where, plain.rows, mode, sd)
        chosen = stretched(chosen, priors)
    target = laid_out(design, priors, chosen, study)
    target.score[:] = score(normals, sd, target.information)
    return target
