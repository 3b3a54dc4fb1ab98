"""Days as a shelf felt them: the clock on which the first worker of a logged founding runs.

Comes in: lowest and highest of each day. Goes out: a `WarmClock`, and `Warmth`: one clock for every
founding whose shelf has a complete daily log (`cohort.history.warmed` makes them). Never: a
threshold (that is estimated), a date on which something is due.

By this clock a day is as long as its degree-days above a threshold, measured in days at a
reference temperature: the mean of the logged shelves. So days on the clock and plain days mean
the same on a shelf at the reference, and foundings with and without a log share one mean.

The threshold lies between 4 C and 20 C, at least 3 C below the reference. Nearer to it a degree
more or less would multiply the days; a shelf log is too rough a measure for that.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import numpy.typing as npt

from cohort.warmth.thermal import single_sine

Floats = npt.NDArray[np.float64]
LOWEST: Final = 4.0
"""Lowest threshold considered, degrees Celsius."""
HIGHEST: Final = 20.0
"""Highest threshold considered; the published ones of two warm-country ants are 15.9 and 18.4."""
APART: Final = 3.0
"""Degrees that a threshold stays below the reference."""
ROOM: Final = 4.0
"""Degrees there must be between the lowest and the highest threshold considered."""
LEAST: Final = 3
"""Compared foundings with a complete log from which the comparison runs on degree-days."""
STANDSTILL: Final = 1e-4
"""Share of a day: the warmed day as long as nothing has been above the threshold."""


def thresholds(reference: float) -> tuple[float, float]:
    """Lowest and highest threshold considered with a reference, degrees Celsius."""
    return LOWEST, min(HIGHEST, reference - APART)


@dataclass(frozen=True)
class WarmClock:
    """Days of one founding as its shelf felt them: warmed days.

    At a constant temperature T and threshold L, e days are e (T - L) / (reference - L) warmed
    days. The threshold is not known: every value here is for any threshold, with its exact slope,
    so that a model may let the threshold and the days at the reference vary together.

    Attributes
    ----------
    low, high : float arrays, shape (days,)
        Lowest and highest of each day from day 0 on, degrees Celsius; a complete log.
    reference : float
        Temperature whose days are the unit, degrees Celsius.
    """

    low: Floats
    high: Floats
    reference: float

    def degree_days(self, day: npt.ArrayLike, threshold: float) -> tuple[Floats, Floats]:
        """Degree-days run up by days since day 0, and their slope in the threshold.

        Parameters
        ----------
        day : array_like
            0 or more. Within a day warmth runs evenly. Beyond the log it goes on as it was on the
            average of the log.
        threshold : float
            Degrees Celsius.
        """
        at, days = np.asarray(day, float), len(self.low)
        mean, half = (self.low + self.high) / 2, (self.high - self.low) / 2
        turn = np.clip((threshold - mean) / np.where(half > 0, half, 1.0), -1.0, 1.0)
        above = np.where(half > 0, np.arccos(turn) / np.pi, (mean > threshold).astype(float))
        far = max(2.0 * days, float(at.max(initial=0.0)))
        edges = np.append(np.arange(days + 1.0), far)

        def by_day(each: Floats) -> Floats:
            total = np.append(0.0, np.cumsum(each))
            out: Floats = np.interp(at, edges, np.append(total, total[-1] * far / days))
            return out

        return by_day(single_sine(self.low, self.high, threshold)), -by_day(above)

    def log_warmed(self, day: npt.ArrayLike, threshold: float) -> tuple[Floats, Floats]:
        """Log warmed day at days since day 0, and its slope in the threshold.

        Parameters
        ----------
        day : array_like
            Above 0, see `degree_days`.
        threshold : float
            Below the reference, degrees Celsius. Where nothing has been above it yet, the log
            is that of `STANDSTILL`.

        Raises
        ------
        ValueError
            The threshold is not below the reference.
        """
        if threshold >= self.reference:
            raise ValueError("the threshold must lie below the reference temperature")
        warm, slope = self.degree_days(day, threshold)
        unit = self.reference - threshold
        runs = warm > STANDSTILL * unit
        held = np.maximum(warm, STANDSTILL * unit)
        return np.log(held / unit), np.where(runs, slope / held + 1 / unit, 0.0)

    def log_pace(self, threshold: npt.ArrayLike) -> Floats:
        """Log of the mean warmed days per day of the whole log, by threshold.

        Parameters
        ----------
        threshold : array_like
            Below the reference, degrees Celsius.
        """
        at = np.asarray(threshold, float)
        each = [single_sine(self.low, self.high, float(one)).mean() for one in at.ravel()]
        unit = self.reference - at
        return np.log(np.maximum(np.reshape(each, at.shape) / unit, STANDSTILL))


@dataclass(frozen=True)
class Warmth:
    """Which foundings run on degree-days.

    Attributes
    ----------
    clocks : mapping of str to WarmClock
        By founding; empty when none does.
    reference : float
        Temperature whose days are the unit of every clock, degrees Celsius; nan without clocks.
    why : mapping of str to str
        By founding: why it runs on plain days; only those that do.
    """

    clocks: Mapping[str, WarmClock] = field(default_factory=dict)
    reference: float = math.nan
    why: Mapping[str, str] = field(default_factory=dict)
