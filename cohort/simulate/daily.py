"""Foundings lived through in steps of half a day, queen by queen, under any rule of dying.

In: a plan (one row per founding), truths, a rule that adds to the log hazard of each queen.
Out: :class:`Lives`: the day each queen died, whether she was mated, the day of the first worker.
Never: a formula of the model. It shares none with :mod:`cohort.simulate.events` either: there the
time to the next death is drawn exactly, here every queen takes her chance in every step, so that a
rule may look at anything: who is mated, what day of the season it is, who stands on which shelf.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from cohort.simulate.events import Bools, Floats
from cohort.simulate.fates import Fates, first_brood
from cohort.simulate.truth import FOUNDING_CUTS, WORKER_CUTS, GenusTruth

__all__ = ["STEP", "Lives", "Moment", "Rule", "lived"]

#: Days of a step; within one, who dies has no bearing on who else does (a last fight aside).
STEP = 0.5


@dataclass(frozen=True)
class Moment:
    """How things stand at the beginning of a step.

    Parameters
    ----------
    plan : pandas.DataFrame
        The plan; its columns genus, size, start, keeper ... may be asked.
    day : float
        Days since day 0 of each founding.
    alive, mated : bool arrays (n, largest size)
        Queens; places beyond the size of a founding are False.
    hatched : array (n,)
        Day of the first worker, inf if there is none yet.
    """

    plan: pd.DataFrame
    day: float
    alive: Bools
    mated: Bools
    hatched: Floats

    @property
    def with_workers(self) -> Bools:
        """Whether each founding has workers, array (n,)."""
        return np.isfinite(self.hatched)

    @property
    def company(self) -> Bools:
        """Whether two or more queens live, array (n,)."""
        return np.asarray(self.alive.sum(axis=1) >= 2)


Rule = Callable[[Moment], Floats]
"""What is added to the log hazard: array (n,), or (n, largest size) where queens differ."""


@dataclass(frozen=True)
class Lives:
    """What befell every queen of a plan.

    Parameters
    ----------
    deaths : array (n, largest size)
        Day of death, in no order; inf if not dead by the last day, or where there is no queen.
    mated : bool array (n, largest size)
    first_worker : array (n,)
        inf if none came.
    fates : Fates
        The same as keepers' sheets are made of.
    """

    deaths: Floats
    mated: Bools
    first_worker: Floats
    fates: Fates


@dataclass(frozen=True)
class _Numbers:
    """A field of the truths, founding by founding."""

    of: Mapping[str, GenusTruth]
    genus: NDArray[np.object_]

    def __call__(self, name: str) -> Floats:
        by_genus = {genus: getattr(own, name) for genus, own in self.of.items()}
        return np.array([by_genus[genus] for genus in self.genus], dtype=float)


def nothing(now: Moment) -> Floats:
    """Add nothing: queens live as the model has it."""
    return np.zeros(len(now.plan))


def _piece(cuts: tuple[float, ...], day: Floats) -> NDArray[np.intp]:
    return np.maximum(np.searchsorted(cuts, day, side="right") - 1, 0)


def _due(numbers: _Numbers, mated: Bools, plan: pd.DataFrame, rng: np.random.Generator) -> Floats:
    """Day of the first worker of each founding that lives; inf if no queen is mated."""
    several = plan["size"].to_numpy() >= 2
    log_day = numbers("log_median_day") + np.where(several, numbers("multi_days"), 0.0)
    if "late_brood" in plan:
        log_day = log_day + plan["late_brood"].to_numpy()
    days = np.exp(log_day + numbers("within_days") * rng.standard_normal(len(plan)))
    return np.where(mated.any(axis=1), days, np.inf)


def lived(
    plan: pd.DataFrame,
    truths: Mapping[str, GenusTruth],
    until: float,
    rng: np.random.Generator,
    rule: Rule = nothing,
) -> Lives:
    """Return the lives of all queens of `plan`.

    Parameters
    ----------
    plan : pandas.DataFrame
        Columns genus and size; ``late_brood``, where there, is added to the log day of the first
        worker.
    truths : mapping of str to GenusTruth
        By genus. Queens seen mating are mated as often as others.
    until : float
        Last day, days since day 0.
    rng : numpy.random.Generator
        Source of all chance.
    rule : callable
        What is added to the log hazard of each queen.
    """
    n, size = len(plan), plan["size"].to_numpy()
    numbers = _Numbers(truths, plan["genus"].to_numpy(dtype=object))
    there = np.arange(size.max())[None, :] < size[:, None]
    mated = there & (rng.random(there.shape) < numbers("mated")[:, None])
    due = _due(numbers, mated, plan, rng)
    own = numbers("frailty") * rng.standard_normal(n)
    doublings = np.log2(np.maximum(size, 2) / 2)
    group = numbers("together") + numbers("doubling") * doublings
    rivalry = numbers("rivalry") + numbers("rivalry_doubling") * doublings
    fight = numbers("last_fight")
    lone = numbers("log_hazard"), numbers("log_hazard_workers")
    steps = _steps(truths, plan, "founding_steps"), _steps(truths, plan, "worker_steps")
    rows = np.arange(n)
    alive, deaths, hatched = there.copy(), np.full(there.shape, np.inf), np.full(n, np.inf)
    for day in np.arange(0.0, until, STEP):
        now = Moment(plan, float(day), alive, mated, hatched)
        with_workers, company = now.with_workers, now.company
        since = np.where(with_workers, day - np.where(with_workers, hatched, 0.0), 0.0)
        before = lone[0] + steps[0][rows, _piece(FOUNDING_CUTS, np.full(n, day))]
        after = lone[1] + steps[1][rows, _piece(WORKER_CUTS, since)]
        log_hazard = own + np.where(with_workers, after, before)
        log_hazard += np.where(company, np.where(with_workers, rivalry, group), 0.0)
        more = rule(now)
        both = log_hazard[:, None] + (more[:, None] if more.ndim == 1 else more)
        dying = alive & (rng.random(alive.shape) < -np.expm1(-STEP * np.exp(both)))
        last_two = with_workers & (alive.sum(axis=1) == 2) & (dying.sum(axis=1) == 1)
        dying |= (last_two & (rng.random(n) < fight))[:, None] & alive
        deaths = np.where(dying, day + STEP * rng.random(n)[:, None], deaths)
        alive = alive & ~dying
        hatched = np.where(
            (due < day + STEP) & alive.any(axis=1) & (hatched == np.inf), due, hatched
        )
    brood = np.ones(n, dtype=np.int64)
    for genus, own_truth in truths.items():
        for several in (1, 2):
            mine = np.flatnonzero((numbers.genus == genus) & (np.minimum(size, 2) == several))
            if mine.size:
                brood[mine] = first_brood(mine.size, several, own_truth, rng)
    none = np.full(n, np.inf), np.zeros(n, dtype=np.int64)
    return Lives(deaths, mated, hatched, Fates(deaths, hatched, *none, brood))


def _steps(truths: Mapping[str, GenusTruth], plan: pd.DataFrame, name: str) -> Floats:
    """Log levels of a hazard, array (n, pieces)."""
    table = {genus: getattr(own, name) for genus, own in truths.items()}
    return np.array([table[genus] for genus in plan["genus"]], dtype=float)
