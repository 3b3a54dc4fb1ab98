"""The small model of the first brood: priors, density with its gradient, sampling, named draws.

Comes in: counts of workers, genera, sizes and days as arrays. Goes out: draws of the log mean per
genus. Never: a history, a table.

The count is negative binomial. Its log mean is, per genus, a level, a log ratio where the
founding started with several queens (and a step per doubling beyond two), and a derivative for the
day of the count, which may lie 20 to 45 days after the first worker. Genus effects are the mean of
the study's genera plus deviations that sum to zero, as in the founding model.

The posterior is sampled from a compiled density of our own, as the founding model is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import xarray as xr
from numba import carray, njit  # type: ignore[attr-defined]  # carray is untyped
from scipy import stats

from cohort.likelihood import ONCE
from cohort.likelihood.callbacks import handed
from cohort.model.nuts import sample_nuts

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
CENTRE: Final = 30.0
"""Days since the first worker that the mean speaks of."""
TUNE: Final = 600
DRAWS: Final = 1000
CHAINS: Final = 4
PRIOR_DRAWS: Final = 4000
PRIORS: Final = 10
"""Numbers of `BroodPriors.flat`."""
HEAD: Final = 3
"""Numbers before the priors in what `uncentred` makes."""


@dataclass(frozen=True)
class BroodPriors:
    """Priors of the first brood.

    Attributes
    ----------
    mean : tuple of float
        Normal prior of the log mean of a single founding over genera: about ten workers.
    ratio : tuple of float
        Normal prior of the log ratio several against one: groups start with up to three times
        the workers (Tschinkel and Howard 1983,
        Behav Ecol Sociobiol 12:103).
    between : tuple of float
        Half-normal scales of the SD between genera, of the level and of the ratio. Guesses.
    day : tuple of float
        Normal prior of the growth per day near day 30: from none to a doubling in 17 days. A
        guess; no growth curve of a first brood is used.
    size_step : float
        Change of the log ratio per doubling beyond two queens: Normal(0, this).
    dispersion : float
        Half-normal scale of 1 / sqrt(dispersion), the coefficient of variation beyond Poisson.
    """

    mean: tuple[float, float] = (math.log(10.0), 0.7)
    ratio: tuple[float, float] = (0.3, 0.5)
    between: tuple[float, float] = (0.5, 0.3)
    day: tuple[float, float] = (0.02, 0.02)
    size_step: float = 0.2
    dispersion: float = 1.0

    def flat(self) -> Floats:
        """All ten numbers, in the order the compiled function reads them."""
        return np.array(
            [*self.mean, *self.ratio, *self.between, *self.day, self.size_step, self.dispersion]
        )

    def at_strength(self, power: float) -> BroodPriors:
        """Every prior with its density raised to a power."""
        by = 1.0 / math.sqrt(power)
        return BroodPriors(
            (self.mean[0], self.mean[1] * by),
            (self.ratio[0], self.ratio[1] * by),
            (self.between[0] * by, self.between[1] * by),
            (self.day[0], self.day[1] * by),
            self.size_step * by,
            self.dispersion * by,
        )


@dataclass(frozen=True)
class BroodData:
    """Counts of first broods, one entry per founding.

    Attributes
    ----------
    genera : tuple of str
        Every genus of the comparison, those without a count too.
    genus_code, size, workers : int arrays
        The first an index into ``genera``.
    since : float array
        Days from the look that first showed workers to the count.
    sizes : tuple of int
        Founding sizes of the comparison, 1 first.
    apart : int
        Foundings with workers set apart because foreign brood was put in before the count.
    """

    genera: tuple[str, ...]
    genus_code: Ints
    size: Ints
    workers: Ints
    since: Floats
    sizes: tuple[int, ...]
    apart: int


# where each parameter lies: standard normals, but for the logs of the three scales
U_MEAN, U_RATIO, T_MEAN, T_RATIO, U_DAY, U_SIZE, T_DISPERSION, FIRST_Z = range(8)


@njit(cache=True, error_model="numpy")
def _centre(
    u: float, t: float, mean: float, sd: float, scale: float, genera: int
) -> tuple[float, float, float, float]:
    """Centre of the study's genera, SD between them, and gradient of the centre in u and t."""
    between = scale * math.exp(t)
    spread = math.sqrt(sd * sd + between * between / genera)
    return mean + spread * u, between, spread, u * between * between / genera / spread


@njit(cache=True, error_model="numpy")
def _counts_logp(total: float, n: float, log_mu: float, x2: float) -> tuple[float, float, float]:
    """Negative binomial log chance of n counts of one mean, but for log y! and `_rising`.

    They enter by their number and their ``total`` alone. With it the gradient in log mu and x2.
    ``x2`` is 1 / dispersion; written so that nothing cancels as it goes to 0 (Poisson).
    """
    mu = math.exp(log_mu)
    v = mu * x2
    value = total * log_mu
    slope = -total * mu / (1.0 + v)
    if v < 1e-4:
        value -= n * mu * (1.0 - v / 2.0 + v * v / 3.0) + total * math.log1p(v)
        slope += n * mu * mu * (0.5 - 2.0 * v / 3.0 + 0.75 * v * v)
    else:
        log1 = math.log1p(v)
        value -= (total + n / x2) * log1
        slope += n * (log1 - v / (1.0 + v)) / (x2 * x2)
    return value, (total - n * mu) / (1.0 + v), slope


@njit(cache=True, error_model="numpy")
def _rising(above: Floats, x2: float) -> tuple[float, float]:
    """Sum over counts y of log (1 + x2)(1 + 2 x2) ... (1 + (y - 1) x2), and its derivative in x2.

    Nothing in it hangs on the mean of a count, so all counts share it: ``above`` says how many of
    them are above j.
    """
    value = 0.0
    slope = 0.0
    for j in range(1, above.size):
        value += above[j] * math.log1p(j * x2)
        slope += above[j] * j / (1.0 + j * x2)
    return value, slope


@njit(cache=True, error_model="numpy")
def _off(values: Floats, first: int, count: int) -> Floats:
    """What each of some values lies above their mean."""
    mean = 0.0
    for i in range(count):
        mean += values[first + i] / count
    out = np.empty(count)
    for i in range(count):
        out[i] = values[first + i] - mean
    return out


@njit(**ONCE)
def brood_logp(q: Floats, packed: Floats) -> tuple[float, Floats]:
    """Log posterior density (up to a constant) and its gradient.

    Parameters
    ----------
    q : float array, shape (7 + 2 genera,)
        Standardised parameters in the order of the module's constants, then the standardised
        deviations of the level and of the ratio.
    packed : float array
        See `uncentred`.
    """
    genera, most = int(packed[1]), int(packed[2])
    priors = packed[HEAD : HEAD + PRIORS]
    above = packed[HEAD + PRIORS : HEAD + PRIORS + most]
    table = packed[HEAD + PRIORS + most :].reshape((5, -1))
    genus, doublings, since, workers, counts = table[0], table[1], table[2], table[3], table[4]
    gradient = np.empty(q.size)
    value = 0.0
    for i in range(q.size):
        gradient[i] = -q[i]
        value -= 0.5 * q[i] * q[i]
    for t in (T_MEAN, T_RATIO, T_DISPERSION):
        square = math.exp(2.0 * min(q[t], 20.0))
        value += 0.5 * q[t] * q[t] - 0.5 * square + q[t]
        gradient[t] = 1.0 - square
    level, sd_m, spread_m, level_t = _centre(
        q[U_MEAN], q[T_MEAN], priors[0], priors[1], priors[4], genera
    )
    ratio, sd_r, spread_r, ratio_t = _centre(
        q[U_RATIO], q[T_RATIO], priors[2], priors[3], priors[5], genera
    )
    off_m, off_r = _off(q, FIRST_Z, genera), _off(q, FIRST_Z + genera, genera)
    day = priors[6] + priors[7] * q[U_DAY]
    x = priors[9] * math.exp(q[T_DISPERSION])
    in_m, in_r = np.zeros(genera), np.zeros(genera)
    in_day = 0.0
    in_size = 0.0
    rising, in_x2 = _rising(above, x * x)
    value += rising
    for i in range(workers.size):
        g = int(genus[i])
        eta = level + sd_m * off_m[g] + day * (since[i] - CENTRE)
        if doublings[i] >= 0.0:
            eta += ratio + sd_r * off_r[g] + priors[8] * q[U_SIZE] * doublings[i]
        p, slope, slope2 = _counts_logp(workers[i], counts[i], min(eta, 30.0), x * x)
        value += p
        in_m[g] += slope
        in_day += slope * (since[i] - CENTRE)
        in_x2 += slope2
        if doublings[i] >= 0.0:
            in_r[g] += slope
            in_size += slope * doublings[i]
    d_m, d_r = _off(in_m, 0, genera), _off(in_r, 0, genera)
    for g in range(genera):
        gradient[U_MEAN] += spread_m * in_m[g]
        gradient[U_RATIO] += spread_r * in_r[g]
        gradient[T_MEAN] += level_t * in_m[g] + sd_m * in_m[g] * off_m[g]
        gradient[T_RATIO] += ratio_t * in_r[g] + sd_r * in_r[g] * off_r[g]
        gradient[FIRST_Z + g] += sd_m * d_m[g]
        gradient[FIRST_Z + genera + g] += sd_r * d_r[g]
    gradient[U_DAY] += priors[7] * in_day
    gradient[U_SIZE] += priors[8] * in_size
    gradient[T_DISPERSION] += 2.0 * x * x * in_x2
    return value, gradient


def _doublings(size: Ints) -> Floats:
    return np.where(size >= 2, np.log2(np.maximum(size, 2) / 2.0), -1.0)


def uncentred(data: BroodData, priors: BroodPriors) -> Floats:
    """All that `brood_logp` reads.

    Its own length, genera, the largest count; priors; how many counts are above 0, 1, ...; and a
    row each of genus, doublings (-1 for a single founding, else log2(size / 2)), days, all workers
    and number of foundings, a column for those of one genus, size and day.
    """
    means = np.stack([data.genus_code, _doublings(data.size), data.since], axis=1).astype(float)
    apart, which = np.unique(means, axis=0, return_inverse=True)
    which = which.reshape(-1)  # numpy 2.0 gives it a second axis
    workers = np.bincount(which, data.workers, len(apart))
    rows = (*apart.T, workers, np.bincount(which, minlength=len(apart)))
    most = int(data.workers.max(initial=0))
    above = (data.workers[:, None] > np.arange(most)).sum(axis=0)
    head = np.array([0.0, len(data.genera), most])
    packed = np.concatenate([head, priors.flat(), above, *(np.asarray(row, float) for row in rows)])
    packed[0] = packed.size
    return packed


def brood_c(width, q_, gradient_, value_, packed_):  # type: ignore[no-untyped-def]  # compiled by numba
    """The density as the sampler calls it, see `cohort.likelihood.callbacks.DENSITY`."""
    total = int(carray(packed_, (1,), np.float64)[0])
    value, gradient = brood_logp(carray(q_, (width,)), carray(packed_, (total,), np.float64))
    return handed(width, value, gradient, gradient_, value_)


def sample(
    data: BroodData, priors: BroodPriors, seed: int, draws: int, accept: float
) -> tuple[Floats, xr.Dataset]:
    """Standardised draws, shape (chains, draws, parameters), and the sampler's record."""
    width = FIRST_Z + 2 * len(data.genera)

    def start(own: int) -> Floats:
        return np.random.default_rng(own).uniform(-2.0, 2.0, width)

    packed = uncentred(data, priors)
    return sample_nuts(
        brood_c, packed, width, start, seed=seed, draws=draws, tune=TUNE, accept=accept,
        chains=CHAINS,
    )  # fmt: skip


@dataclass(frozen=True)
class BroodDraws:
    """Draws under their own names, one row per draw.

    Attributes
    ----------
    level, ratio : float arrays, shape (draws, genera + 1)
        Log mean of a single founding on day 30 and log ratio of pairs, per genus; the last
        column is a genus not yet tried.
    size_step, day, dispersion : float arrays, shape (draws,)
    """

    level: Floats
    ratio: Floats
    size_step: Floats
    day: Floats
    dispersion: Floats

    def workers(self, size: int) -> Floats:
        """Mean number of workers about 30 days after the first, shape (draws, genera + 1)."""
        out: Floats = np.exp(self.level + (self.log_ratio(size) if size >= 2 else 0.0))
        return out

    def log_ratio(self, size: int) -> Floats:
        """Log ratio of groups of that size against one queen, shape (draws, genera + 1)."""
        out: Floats = self.ratio + self.size_step[:, None] * math.log2(size / 2.0)
        return out


def _effect(
    u: Floats,
    t: Floats,
    z: Floats,
    prior: tuple[float, float],
    scale: float,
    rng: np.random.Generator,
) -> Floats:
    """One effect per genus and for a genus not yet tried, from standardised draws."""
    (mean, sd), genera = prior, z.shape[1]
    between = scale * np.exp(t)
    noise = np.maximum(between**2 / genera, 1e-12)
    centre = mean + np.sqrt(sd**2 + noise) * u
    known = centre[:, None] + between[:, None] * (z - z.mean(axis=1, keepdims=True))
    precision = 1 / sd**2 + 1 / noise
    overall = (mean / sd**2 + centre / noise) / precision
    overall = overall + rng.normal(size=len(u)) / np.sqrt(precision)
    fresh = overall + between * rng.normal(size=len(u))
    return np.concatenate([known, fresh[:, None]], axis=1)


def named_draws(q: Floats, priors: BroodPriors, seed: int) -> BroodDraws:
    """Draws of `brood_logp` under names; ``q`` has shape (draws, parameters)."""
    rng = np.random.default_rng(seed)
    genera = (q.shape[1] - FIRST_Z) // 2
    z = q[:, FIRST_Z:]
    between = priors.between
    return BroodDraws(
        _effect(q[:, U_MEAN], q[:, T_MEAN], z[:, :genera], priors.mean, between[0], rng),
        _effect(q[:, U_RATIO], q[:, T_RATIO], z[:, genera:], priors.ratio, between[1], rng),
        priors.size_step * q[:, U_SIZE],
        priors.day[0] + priors.day[1] * q[:, U_DAY],
        priors.dispersion * np.exp(q[:, T_DISPERSION]),
    )


def log_prior(q: Floats, drawn_by: BroodPriors, priors: BroodPriors) -> Floats:
    """Log density of the top priors at draws of a fit with, it may be, others; up to a constant.

    Parameters
    ----------
    q : float array, shape (draws, parameters)
        Standardised by ``drawn_by``.
    drawn_by, priors : BroodPriors
        Of the fit, and those to be weighed.
    """
    genera = (q.shape[1] - FIRST_Z) // 2
    out = np.zeros(len(q))
    effects = (
        (U_MEAN, T_MEAN, drawn_by.mean, priors.mean, 0),
        (U_RATIO, T_RATIO, drawn_by.ratio, priors.ratio, 1),
    )
    for u, t, (old_mean, old_sd), (mean, sd), i in effects:
        between = drawn_by.between[i] * np.exp(q[:, t])
        centre = old_mean + np.sqrt(old_sd**2 + between**2 / genera) * q[:, u]
        out += stats.norm.logpdf(centre, mean, np.sqrt(sd**2 + between**2 / genera))
        out += stats.halfnorm.logpdf(between, scale=priors.between[i])
    named = named_draws(q, drawn_by, 0)
    out += stats.norm.logpdf(named.day, *priors.day)
    out += stats.norm.logpdf(named.size_step, 0.0, priors.size_step)
    out += stats.halfnorm.logpdf(named.dispersion, scale=priors.dispersion)
    return out


def prior_draws(
    genera: int, priors: BroodPriors, seed: int, draws: int = PRIOR_DRAWS
) -> BroodDraws:
    """What the priors alone say of the first brood."""
    rng = np.random.default_rng(seed)
    q = rng.normal(size=(draws, FIRST_Z + 2 * genera))
    for t in (T_MEAN, T_RATIO, T_DISPERSION):
        q[:, t] = np.log(np.abs(q[:, t]))
    return named_draws(q, priors, seed + 1)
