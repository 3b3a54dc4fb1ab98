"""Foundings lived through event by event, with a truth that is known.

In: a :class:`~cohort.simulate.truth.GenusTruth`, a size, a random generator.
Out: :class:`Paths` (who died when, when workers came).
Never: uses a transition formula or any part of the likelihood. Each fate is drawn from the
hazards alone (an exponential threshold carried through the cumulative hazard, which is exact
for piecewise constant hazards), so that agreement with the model proves something.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cohort.simulate.chance import Clock, mating
from cohort.simulate.truth import FOUNDING_CUTS, WORKER_CUTS, GenusTruth
from cohort.terms.questions import ALIKE, MATED_FIRST

__all__ = ["Paths", "run"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Paths:
    """What befell n foundings of one size, each begun by k queens.

    Parameters
    ----------
    deaths : array (n, k)
        Days of death since day 0, ascending in each row; inf if not dead by `horizon`.
    first_worker : array (n,)
        Day of the first worker; inf if none by `horizon`.
    mated : bool array (n, k)
        Whether the queen was mated, columns as in `deaths`: the dead in the order they died,
        then the survivors, then those taken out.
    taken_at : array (n,)
        Day on which queens were taken out alive; inf if none were.
    taken : int array (n,)
        Number taken out on that day.
    horizon : float
        Last day simulated.
    """

    deaths: Floats
    first_worker: Floats
    mated: Bools
    taken_at: Floats
    taken: Ints
    horizon: float

    @property
    def size(self) -> int:
        """Queens at the start."""
        return int(self.deaths.shape[1])

    def alive(self, day: float | Floats) -> Ints:
        """Return the queens alive and still in the container on `day` (number, or array (n,))."""
        when = np.broadcast_to(np.asarray(day, dtype=float), self.first_worker.shape)
        out = np.where(self.taken_at <= when, self.taken, 0)
        dead = (self.deaths <= when[:, None]).sum(axis=1)
        return np.asarray(self.size - dead - out, dtype=np.int64)

    def mated_alive(self, day: float, reading: str = ALIKE) -> Ints:
        """Return the mated queens alive and still in the container on `day`.

        Parameters
        ----------
        day : float
            Days since day 0.
        reading : str
            Who dies first: with `alike` as they were drawn; with `seen` the unmated queens of a
            container take its first deaths, with `mated-first` the mated ones do.

        Raises
        ------
        ValueError
            Queens were taken out, and it is asked who dies first: nobody says which were taken.
        """
        mated = self.mated
        if reading != ALIKE:
            if (self.taken > 0).any():
                raise ValueError("who dies first is told of foundings that kept all their queens")
            mated = np.sort(mated, axis=1)  # the unmated in the columns of the first deaths
            mated = mated[:, ::-1] if reading == MATED_FIRST else mated
        column = np.arange(self.size)[None, :]
        gone = np.where(self.taken_at <= day, self.taken, 0)[:, None]
        here = (self.deaths > day) & (column < self.size - gone)
        return np.asarray((here & mated).sum(axis=1), dtype=np.int64)


class _Run:
    """The moving state of `run`: one entry per founding."""

    def __init__(self, n: int, size: int, truth: GenusTruth, log_scale: tuple[Floats, Floats]):
        self.size, self.truth = size, truth
        self.before = Clock.of(FOUNDING_CUTS, truth.log_hazard, truth.founding_steps)
        self.after = Clock.of(WORKER_CUTS, truth.log_hazard_workers, truth.worker_steps)
        self.scale = tuple(np.exp(x) for x in log_scale)
        self.time = np.zeros(n)
        self.alive = np.full(n, size, dtype=np.int64)
        self.dead = np.zeros(n, dtype=np.int64)
        self.deaths = np.full((n, size), np.inf)
        self.hatched = np.full(n, np.inf)
        self.cold = np.zeros(n, dtype=bool)
        self.rested = np.zeros(n)  # days of winter rest so far, those of a rest once it is over
        self.rested_at_hatch = np.zeros(n)
        self.since = np.zeros(n)  # day on which winter rest last began or ended

    def next_death(self, i: Ints, rng: np.random.Generator) -> Floats:
        """Day of the next death of foundings `i` if nothing else comes first."""
        with_workers = np.isfinite(self.hatched[i])
        several = self.alive[i] >= 2
        threshold = rng.standard_exponential(i.size) / self.alive[i]
        day = np.empty(i.size)
        for phase, clock in ((False, self.before), (True, self.after)):
            here = with_workers == phase
            who = i[here]
            own = self.truth
            ratio = own.log_rivalry(self.size) if phase else own.log_ratio(self.size)
            hazard = self.scale[int(phase)][who] * np.where(several[here], math.exp(ratio), 1.0)
            hatched = self.hatched[who] - self.rested_at_hatch[who]
            origin = hatched if phase else np.zeros(who.size)
            past = clock.total(self.time[who] - self.rested[who] - origin)
            felt = origin + clock.day(past + threshold[here] / hazard)
            day[here] = felt + self.rested[who]
        return np.where(self.cold[i], self.in_cold(i, threshold, several), day)

    def in_cold(self, i: Ints, threshold: Floats, several: Bools) -> Floats:
        """Day of the next death in winter rest, if it goes on."""
        own, workers = self.truth, np.isfinite(self.hatched[i])
        level = np.where(workers, own.log_hazard_workers, own.log_hazard) + own.winter
        scale = np.where(workers, self.scale[1][i], self.scale[0][i])
        hazard = scale * np.exp(level + np.where(several, own.winter_company, 0.0))
        return np.asarray(self.time[i] + threshold / hazard)

    def turn(self, i: Ints, day: Floats) -> None:
        """Winter rest begins or ends in foundings `i`."""
        out = self.cold[i]
        self.rested[i[out]] += day[out] - self.since[i[out]]
        self.since[i], self.cold[i] = day, ~out

    def die(self, i: Ints, day: Floats, rng: np.random.Generator) -> None:
        """One queen dies in each founding of `i`; the last two together with chance theta."""
        fight = np.isfinite(self.hatched[i]) & (self.alive[i] == 2) & ~self.cold[i]
        both = fight & (rng.random(i.size) < self.truth.last_fight)
        self.deaths[i, self.dead[i]] = day
        self.deaths[i[both], self.dead[i[both]] + 1] = day[both]
        lost = 1 + both.astype(np.int64)
        self.dead[i] += lost
        self.alive[i] -= lost


def run(
    n: int,
    size: int,
    truth: GenusTruth,
    rng: np.random.Generator,
    horizon: float = 180.0,
    *,
    seen: Ints | None = None,
    shift: Floats | None = None,
    shift_after: Floats | None = None,
    shift_day: Floats | None = None,
    shift_mated: Floats | None = None,
    z: Floats | None = None,
    taken_at: Floats | None = None,
    taken: Ints | None = None,
    grown: Callable[[Floats], Floats] | None = None,
    winter: Floats | None = None,
) -> Paths:
    """Return the fates of `n` foundings begun by `size` queens each.

    While two or more queens live, each dies at the lone hazard times exp(ratio); a queen that
    is alone falls back to the lone hazard. With workers, a share `last_fight` of the losses
    from two take both. The first worker comes at its log-normal time if any of the starting
    queens was mated and at least one queen, whichever, then lives: brood of a dead mated queen
    is taken to be reared by the others.

    Parameters
    ----------
    n, size : int
        Foundings, and queens in each at the start.
    truth : GenusTruth
        The parameters.
    rng : numpy.random.Generator
        Source of all chance.
    horizon : float
        Last day, days since day 0.
    seen : int array (n,), optional
        Queens seen mating, 0..size.
    shift, shift_after : arrays (n,), optional
        Added to the log hazard before and with workers (keeper, flight, season, covariates).
    shift_day : array (n,), optional
        Added to the log day of the first worker.
    shift_mated : array (n,), optional
        Added to the logit of being mated, of queens seen mating too.
    z : array (n,), optional
        Standard normal frailties; drawn if not given.
    taken_at, taken : arrays (n,), optional
        Day on which queens are taken out alive, and how many are wanted; one queen at least
        is left, so that nothing is taken from a lone queen.
    grown : callable, optional
        Makes the days of the first workers, array (n,), of the days at the reference temperature
        that they need; by default they are the same.
    winter : array (n, 2 x rests), optional
        Days on which winter rest begins and ends, in turn and ascending; inf for none. In it the
        clock of the first worker stands still, and so do the pieces of the hazards; hazards are
        those of the cold, and the last two queens do not die together.

    Raises
    ------
    ValueError
        If `n` or `size` is below 1.
    """
    if n < 1 or size < 1:
        raise ValueError(f"need at least one founding of at least one queen, got {n} of {size}")
    own = truth.frailty * (rng.standard_normal(n) if z is None else np.asarray(z, dtype=float))
    before, after, later = (
        np.zeros(n) if s is None else np.asarray(s, dtype=float)
        for s in (shift, shift_after, shift_day)
    )
    state = _Run(n, size, truth, (own + before, own + after))
    mated = mating(n, size, truth, rng, seen, shift_mated)
    median = truth.log_median_day + (truth.multi_days if size >= 2 else 0.0)
    due = np.exp(median + later + truth.within_days * rng.standard_normal(n))
    due[~mated.any(axis=1)] = np.inf
    due = due if grown is None else grown(due)
    out_at = np.full(n, np.inf) if taken_at is None else np.array(taken_at, dtype=float)
    wanted = np.zeros(n, dtype=np.int64) if taken is None else np.asarray(taken, dtype=np.int64)
    out_at[wanted <= 0] = np.inf
    gone, gone_at = np.zeros(n, dtype=np.int64), np.full(n, np.inf)

    borders = np.full((n, 1), np.inf) if winter is None else np.asarray(winter, dtype=float)
    borders, passed = np.column_stack([borders, np.full(n, np.inf)]), np.zeros(n, dtype=np.int64)
    live = np.arange(n)
    while live.size:
        death = state.next_death(live, rng)
        waits = np.isinf(state.hatched[live]) & ~state.cold[live]
        hatch = np.where(waits, due[live] + state.rested[live], np.inf)
        border = borders[live, passed[live]]
        first = np.minimum(np.minimum(death, hatch), np.minimum(out_at[live], border))
        kind = np.where(first > horizon, 0, np.where(death == first, 1, 2))
        kind = np.where((kind == 2) & (hatch != first), 3, kind)
        kind = np.where((kind == 3) & (out_at[live] != first), 4, kind)
        state.time[live] = first
        dying, hatching, leaving, turning = (live[kind == j] for j in (1, 2, 3, 4))
        state.die(dying, first[kind == 1], rng)
        state.hatched[hatching] = first[kind == 2]
        state.rested_at_hatch[hatching] = state.rested[hatching]
        state.turn(turning, first[kind == 4])
        passed[turning] += 1
        gone[leaving] = np.minimum(wanted[leaving], state.alive[leaving] - 1)
        state.alive[leaving] -= gone[leaving]
        gone_at[leaving], out_at[leaving] = out_at[leaving], np.inf
        live = live[(kind > 0) & (state.alive[live] > 0)]
    return Paths(
        deaths=state.deaths,
        first_worker=state.hatched,
        mated=mated,
        taken_at=np.where(gone > 0, gone_at, np.inf),
        taken=gone,
        horizon=float(horizon),
    )
