"""What a fate is drawn from: a hazard that steps, and who is mated.

In: levels, chances, a random generator.
Out: :class:`Clock`, and :func:`mating`.
Never: a founding's course; that is in `events`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cohort.simulate.truth import GenusTruth

__all__ = ["Clock", "mating"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Clock:
    """A piecewise constant hazard: cumulative hazard by day, and the day it reaches a total."""

    cuts: Floats
    rates: Floats
    sums: Floats

    @classmethod
    def of(cls, cuts: Sequence[float], log_level: float, steps: Sequence[float]) -> Clock:
        """Clock of a hazard from its cuts, the log of its level and log steps."""
        at = np.asarray(cuts, dtype=float)
        rates = np.exp(log_level + np.asarray(steps, dtype=float))
        return cls(at, rates, np.concatenate([[0.0], np.cumsum(rates[:-1] * np.diff(at))]))

    def total(self, day: Floats) -> Floats:
        """Hazard run up by a day."""
        i = np.searchsorted(self.cuts, day, side="right") - 1
        return np.asarray(self.sums[i] + self.rates[i] * (day - self.cuts[i]))

    def day(self, total: Floats) -> Floats:
        """Day on which so much hazard is run up."""
        i = np.searchsorted(self.sums, total, side="right") - 1
        return np.asarray(self.cuts[i] + (total - self.sums[i]) / self.rates[i])


def mating(
    n: int,
    size: int,
    truth: GenusTruth,
    rng: np.random.Generator,
    seen: Ints | None,
    shift: Floats | None,
) -> Bools:
    """Who is mated; queens seen mating stand in random places, for deaths do not spare them."""
    chance = np.full((n, size), truth.mated)
    if seen is not None:
        known = np.arange(size)[None, :] < np.asarray(seen)[:, None]
        chance = np.where(rng.permuted(known, axis=1), truth.mated_if_seen(), chance)
    if shift is not None:
        with np.errstate(divide="ignore"):  # a chance of 1 stays 1
            odds = chance / (1.0 - chance) * np.exp(np.asarray(shift))[:, None]
        chance = np.where(np.isinf(odds), 1.0, 1.0 - 1.0 / (1.0 + odds))
    return np.asarray(rng.random((n, size)) < chance)
