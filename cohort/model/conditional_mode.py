"""The mode of a posterior given its SDs, and how curved it is there.

Comes in: a log density with its gradient, and which of its coordinates are held, or belong to one
founding alone. Goes out: a `Mode`. Never: an estimate that is reported. These numbers only choose
coordinates for the sampler (`cohort.model.curvature`), and rough ones do.

Newton's method, with second derivatives from differences of gradients. Given all else foundings
are independent of each other, so one difference gives the curvature in every frailty, and what they
do to the rest is taken out exactly (the Schur complement): a step takes as many gradients as there
are coordinates of other kinds, however many foundings. A search that ends early, or finds no
density where it begins, leaves rougher numbers: sampling is then slower, and as true.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Density = Callable[[Floats], tuple[float, Floats]]
STEPS: Final = 15
"""Steps of the search at most: seven are needed by 1,200 foundings, five by 10,000."""
ENOUGH: Final = 0.001
"""Ends the search: a step that promises to gain no more log density than this."""
APART: Final = 1e-5
"""How far apart two gradients are taken for a second derivative."""
LEAST: Final = 0.5
"""Least curvature that is believed: along each coordinate a prior has about 1."""
HALVED: Final = 20
"""How often a step that gains nothing is halved."""


@dataclass(frozen=True)
class Mode:
    """A mode given the SDs.

    Attributes
    ----------
    at : float array, shape (coordinates,)
    free : int array
        Coordinates neither held nor of one founding alone.
    covariance : float array, shape (free, free)
        Of the normal distribution as curved as the posterior there, that of single foundings taken
        out.
    single : float array, shape (foundings,)
        Curvature in the coordinate of each founding.
    """

    at: Floats
    free: Ints
    covariance: Floats
    single: Floats

    def told(self, own: slice) -> Floats:
        """Information of the data on some coordinates, each standard normal beforehand."""
        here = np.searchsorted(self.free, np.arange(own.start, own.stop))
        told: Floats = np.linalg.inv(self.covariance[np.ix_(here, here)]) - np.eye(len(here))
        return told


def _curvature(
    downhill: Density, q: Floats, gradient: Floats, free: Ints, single: Ints
) -> tuple[Floats, Floats, Floats]:
    """Second derivatives: of what is free, of that with each founding, of each founding."""

    def moved(where: Ints | np.int64) -> Floats:
        near = q.copy()
        near[where] += APART
        change: Floats = (downhill(near)[1] - gradient) / APART
        return change

    alone = np.maximum(moved(single)[single], LEAST) if len(single) else np.zeros(0)
    rows = [moved(place) for place in free]
    whole = np.array([row[free] for row in rows]).reshape(len(free), len(free))
    across = np.array([row[single] for row in rows]).reshape(len(free), len(single))
    return 0.5 * (whole + whole.T), across, alone


def conditional_mode(log_density: Density, start: Floats, held: Bools, single: slice) -> Mode:
    """The mode given what is held.

    Parameters
    ----------
    log_density : callable
        Log density and gradient at a vector.
    start : float array, shape (coordinates,)
        Where the search begins; what is held stays there.
    held : bool array, shape (coordinates,)
        SDs that multiply something.
    single : slice
        Coordinates of one founding each.
    """

    def downhill(q: Floats) -> tuple[float, Floats]:
        value, gradient = log_density(q)
        return -value, -gradient

    others = ~held
    others[single] = False
    free, each = np.flatnonzero(others), np.arange(single.start, single.stop)
    q = start.copy()
    value, gradient = downhill(q)
    covariance, alone = np.eye(len(free)), np.ones(len(each))
    for _ in range(STEPS if np.isfinite(value) else 0):
        whole, across, alone = _curvature(downhill, q, gradient, free, each)
        scaled = across / alone
        values, columns = np.linalg.eigh(whole - scaled @ across.T)
        covariance = (columns / np.maximum(np.abs(values), LEAST)) @ columns.T
        step = np.zeros(q.size)
        step[free] = -covariance @ (gradient[free] - scaled @ gradient[each])
        step[each] = -(gradient[each] + across.T @ step[free]) / alone
        gain = float(-gradient @ step)
        q, value, gradient = _gone(downhill, q, value, gradient, step)
        if gain < ENOUGH:
            break
    return Mode(q, free, covariance, alone)


def _gone(
    downhill: Density, q: Floats, value: float, gradient: Floats, step: Floats
) -> tuple[Floats, float, Floats]:
    """Where a step leads, or half of it ... if that is no lower; else where it began."""
    for halved in range(HALVED):
        there = q + step / 2.0**halved
        lower, slope = downhill(there)
        if np.isfinite(lower) and lower <= value:
            return there, lower, slope
    return q, value, gradient
