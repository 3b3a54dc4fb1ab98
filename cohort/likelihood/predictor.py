"""The predictor: what one founding lives by, from its genus, its size and itself.

Comes in: effects of a genus, what all foundings share, what sets this founding apart. Goes out:
`Founding`, the numbers its likelihood and its future are computed from, and the gradient back.
Never: a hazard by piece, a transition, a prior.

This is the only place where the formulas stand. The density that is sampled, the likelihood by
founding, new foundings, forecasts of open ones and replicates all come here; only the simulator
has formulas of its own, because it is the proof.

For a founding of k queens, with company meaning two queens or more:

* lone queen before workers: log hazard = genus + before;
* in company before workers: log ratio = together + size_step x log2(k / 2);
* lone queen with workers: log hazard = genus + after;
* in company with workers: log ratio = rivalry + size_step_rivalry x log2(k / 2);
* first worker: mean log day = genus + later, and multi_days more where k is 2 or more;
* fertile: chance that one queen at least is mated; ``mated`` is added to the logit of each one.

Under the variant `lasting` the ratio of the founding phase stays with the last queen: it is part of
the lone hazard, and company adds nothing to it.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from numba import njit

from cohort.likelihood import BORROWS
from cohort.likelihood.layout import (
    E_HAZARD1,
    E_HAZARD2,
    E_LAST_FIGHT,
    E_LOG_DAY,
    E_RIVALRY,
    E_TOGETHER,
    FERTILE,
    FOUNDING_WIDTH,
    HAZARD1,
    HAZARD2,
    LAST_FIGHT,
    LOG_DAY,
    P_AFTER,
    P_BEFORE,
    P_FIRST_WORKER,
    P_MATED,
    RIVALRY,
    S_LASTING,
    S_MATED,
    S_MULTI_DAYS,
    S_SEEN,
    S_SIZE_STEP,
    S_SIZE_STEP_RIVALRY,
    S_THRESHOLD,
    THRESHOLD,
    TOGETHER,
)
from cohort.likelihood.threads import in_parallel
from cohort.likelihood.transition_probabilities import power

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


class Genus(NamedTuple):
    """Effects of one genus; of the logits only the chance they stand for."""

    founding_hazard: float
    together: float
    worker_hazard: float
    rivalry: float
    last_fight: float
    first_worker: float


class Common(NamedTuple):
    """What foundings of every genus share."""

    size_step: float
    size_step_rivalry: float
    multi_days: float
    mated: float
    seen: float
    lasting: float


class Own(NamedTuple):
    """What sets one founding apart: queens at the start, doublings beyond two, queens seen mating.

    What its keeper, season, covariates ... add: ``before`` to the log hazard before workers,
    ``after`` to that with workers, ``later`` to the log day of the first, ``mated`` to the logit of
    being mated.
    """

    queens: float
    doublings: float
    seen: float
    before: float
    after: float
    later: float
    mated: float


class Founding(NamedTuple):
    """What one founding lives by.

    Log hazards of a lone queen before and after the first worker (days 21-42, first ten days), log
    ratios while two or more live, chance that a loss from two takes both, mean log day of the first
    worker, chance that there can be one.
    """

    lone_before: float
    ratio_before: float
    lone_after: float
    ratio_after: float
    last_fight: float
    log_day: float
    fertile: float


@njit(**BORROWS)
def doublings_of(queens):  # type: ignore[no-untyped-def]  # compiled by numba
    """Doublings of a group beyond two queens; 0 for singles."""
    return math.log2(queens / 2.0) if queens > 2 else 0.0


@njit(**BORROWS)
def fertile_chance(mated, seen_adds, others, seen):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chance that one queen at least is mated, with its gradient in ``mated`` and ``seen_adds``.

    ``others`` queens are mated with chance ``mated``, ``seen`` with that shifted on the logit.
    """
    none = power(1.0 - mated, others)
    in_mated = others * power(1.0 - mated, others - 1)
    if seen == 0:
        return 1.0 - none, in_mated, 0.0
    odds = math.exp(seen_adds)
    below = 1.0 - mated + mated * odds
    surer = mated * odds / below
    rest = power(1.0 - surer, seen)
    steep = seen * none * power(1.0 - surer, seen - 1)
    in_mated = in_mated * rest + steep * odds / (below * below)
    return 1.0 - none * rest, in_mated, steep * surer * (1.0 - surer)


@njit(**BORROWS)
def mated_chance(mated, shift):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chance of being mated with its logit shifted, and its gradient in both."""
    if shift == 0.0:
        return mated, 1.0, mated * (1.0 - mated)
    odds = math.exp(shift)
    below = 1.0 - mated + mated * odds
    moved = mated * odds / below
    return moved, odds / (below * below), moved * (1.0 - moved)


@njit(**BORROWS)
def _fertile(common, own):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chance that one queen is mated; derivatives in that share, matings seen and shift."""
    seen = int(own.seen)
    mated, in_share, in_shift = mated_chance(common.mated, own.mated)
    chance, slope, in_seen = fertile_chance(mated, common.seen, int(own.queens) - seen, seen)
    return chance, slope * in_share, in_seen, slope * in_shift


@njit(**BORROWS)
def founding_parameters(genus, common, own):  # type: ignore[no-untyped-def]  # compiled by numba
    """What a founding lives by: `Founding` from `Genus`, `Common` and `Own`."""
    ratio, later = 0.0, own.later
    if own.queens >= 2.0:
        ratio = genus.together + common.size_step * own.doublings
        later += common.multi_days
    return Founding(
        genus.founding_hazard + own.before + common.lasting * ratio,
        (1.0 - common.lasting) * ratio,
        genus.worker_hazard + own.after,
        genus.rivalry + common.size_step_rivalry * own.doublings,
        genus.last_fight,
        genus.first_worker + later,
        _fertile(common, own)[0],
    )


@njit(**BORROWS)
def founding_gradient(gradient, common, own):  # type: ignore[no-untyped-def]  # compiled by numba
    """Carry gradient in what a founding lives by back to what that was made of.

    Parameters
    ----------
    gradient : Founding
        Gradient of some number in each field.
    common : Common
    own : Own

    Returns
    -------
    Genus, Common, Own
        Gradient of that number in each of their fields; 0 in what is data.
    """
    in_ratio, in_step, in_multi = 0.0, 0.0, 0.0
    if own.queens >= 2.0:
        in_ratio = (1.0 - common.lasting) * gradient.ratio_before
        in_ratio += common.lasting * gradient.lone_before
        in_step = in_ratio * own.doublings
        in_multi = gradient.log_day
    _, in_mated, in_seen, in_shift = _fertile(common, own)
    return (
        Genus(
            gradient.lone_before,
            in_ratio,
            gradient.lone_after,
            gradient.ratio_after,
            gradient.last_fight,
            gradient.log_day,
        ),
        Common(
            in_step,
            gradient.ratio_after * own.doublings,
            in_multi,
            gradient.fertile * in_mated,
            gradient.fertile * in_seen,
            0.0,
        ),
        Own(
            0.0,
            0.0,
            0.0,
            gradient.lone_before,
            gradient.lone_after,
            gradient.log_day,
            gradient.fertile * in_shift,
        ),
    )


@njit(**BORROWS)
def genus_of(effects):  # type: ignore[no-untyped-def]  # compiled by numba
    """`Genus` from an array in the order of the effects, the fifth of them a chance."""
    return Genus(
        effects[E_HAZARD1],
        effects[E_TOGETHER],
        effects[E_HAZARD2],
        effects[E_RIVALRY],
        effects[E_LAST_FIGHT],
        effects[E_LOG_DAY],
    )


@njit(**BORROWS)
def common_of(shared):  # type: ignore[no-untyped-def]  # compiled by numba
    """`Common` from the array of what all foundings share, see `layout`."""
    return Common(
        shared[S_SIZE_STEP],
        shared[S_SIZE_STEP_RIVALRY],
        shared[S_MULTI_DAYS],
        shared[S_MATED],
        shared[S_SEEN],
        shared[S_LASTING],
    )


@njit(**BORROWS)
def gather_common(gradient, shared_gradient):  # type: ignore[no-untyped-def]  # compiled by numba
    """Add gradient in `Common` where `common_of` reads it; its switches have none."""
    shared_gradient[S_SIZE_STEP] += gradient.size_step
    shared_gradient[S_SIZE_STEP_RIVALRY] += gradient.size_step_rivalry
    shared_gradient[S_MULTI_DAYS] += gradient.multi_days
    shared_gradient[S_MATED] += gradient.mated
    shared_gradient[S_SEEN] += gradient.seen


@njit(**BORROWS)
def own_of(queens, doublings, seen, added, f):  # type: ignore[no-untyped-def]  # compiled by numba
    """`Own` of a founding; column f of ``added``, (PARTS, n), is what is added to its parts."""
    return Own(
        queens,
        doublings,
        seen,
        added[P_BEFORE, f],
        added[P_AFTER, f],
        added[P_FIRST_WORKER, f],
        added[P_MATED, f],
    )


@njit(**BORROWS)
def new_founding(genus, shared, queens, added, r):  # type: ignore[no-untyped-def]  # compiled by numba
    """`Founding` of a new founding of so many queens, none of them seen mating.

    ``genus`` and ``shared`` are arrays; of ``added`` column r counts, see `own_of`.
    """
    own = own_of(float(queens), doublings_of(queens), 0.0, added, r)
    return founding_parameters(genus_of(genus), common_of(shared), own)


@njit(**BORROWS)
def put_founding(founding, shared, row):  # type: ignore[no-untyped-def]  # compiled by numba
    """Write a `Founding` into a row of the kernel's parameters; its frailty is left alone."""
    row[HAZARD1] = founding.lone_before
    row[TOGETHER] = founding.ratio_before
    row[HAZARD2] = founding.lone_after
    row[RIVALRY] = founding.ratio_after
    row[LAST_FIGHT] = founding.last_fight
    row[LOG_DAY] = founding.log_day
    row[FERTILE] = founding.fertile
    row[THRESHOLD] = shared[S_THRESHOLD]


@njit(**BORROWS)
def gradient_of_founding(row):  # type: ignore[no-untyped-def]  # compiled by numba
    """Read what `put_founding` writes: here gradient in each of its fields."""
    return Founding(
        row[HAZARD1],
        row[TOGETHER],
        row[HAZARD2],
        row[RIVALRY],
        row[LAST_FIGHT],
        row[LOG_DAY],
        row[FERTILE],
    )


@njit(cache=True, error_model="numpy", nogil=True)
def _fill(first, last, effects, shareds, genus, queens, seen, added, out):  # type: ignore[no-untyped-def]  # compiled by numba
    """`parameters_by_founding` for draws ``first`` up to ``last``."""
    for f in range(genus.size):
        doublings = doublings_of(queens[f])
        for d in range(first, last):
            own = own_of(float(queens[f]), doublings, float(seen[f]), added[d], f)
            effect, shared = genus_of(effects[d, genus[f]]), shareds[d]
            put_founding(founding_parameters(effect, common_of(shared), own), shared, out[d, f])


def parameters_by_founding(
    effects: Floats,
    shared: Floats,
    genus: Ints,
    queens: Ints,
    seen: Ints,
    added: Floats,
) -> Floats:
    """The kernel's parameters of every founding in every draw, frailty 0.

    Parameters
    ----------
    effects : float array, shape (draws, genera, EFFECTS)
        By genus, the share of losses that take both as a chance.
    shared : float array, shape (draws, SHARED_WIDTH)
    genus : int array, shape (foundings,)
        Index into the genera; -1 is the last one.
    queens, seen : int arrays, shape (foundings,)
        Queens at the start, and how many of them were seen mating.
    added : float array, shape (draws, PARTS, foundings)
        What is added to each part of each founding's parameters, see `layout`.

    Returns
    -------
    float array, shape (draws, foundings, FOUNDING_WIDTH)
    """
    out: Floats = np.zeros((len(shared), genus.size, FOUNDING_WIDTH))
    whole = [np.ascontiguousarray(index, np.int64) for index in (genus, queens, seen)]
    given = [np.ascontiguousarray(array, np.float64) for array in (effects, shared, added)]
    in_parallel(_fill, len(shared), *given[:2], *whole, given[2], out)
    return out
