"""Degree-days of a day from its lowest and highest, and thermal constants.

Comes in: readings in degrees. Goes out: degree-days, days of a development. Never: a study, a date.

How much sooner workers come for a degree: the published rate of *Solenopsis invicta*, -0.052707 +
0.0028802 T per day (Porter 1988, as given by Jarosik et al. 2011), falls to 0 at 18.3 C, so the log
of the days changes by -1 / (T - 18.3) per degree: -0.149 at 25 C, -0.103 at 28 C. The two sets
of constants of *Linepithema humile* give -0.099 and -0.132 at 26 C. A species of cooler summers
starts from a lower threshold and changes less (10 C: -0.067 at 25 C), and the mean of a lowest
and a highest reading is a rough measure, which flattens a slope. `LOG_DAYS_PER_DEGREE` covers
these: centre -0.08, and 0 and -0.16 both two SDs away.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
LOG_DAYS_PER_DEGREE: Final = (-0.08, 0.04)
"""Normal prior of the change of the log day of the first worker per degree Celsius."""


def _above(mean: Floats, half: Floats, limit: float) -> Floats:
    """Area of one day's sine above a limit, in degree-days."""
    low, high = mean - half, mean + half
    wave = np.where(half > 0, half, 1.0)
    t = np.arcsin(np.clip((limit - mean) / wave, -1.0, 1.0))
    part = ((mean - limit) * (np.pi / 2 - t) + wave * np.cos(t)) / np.pi
    area: Floats = np.where(low >= limit, mean - limit, np.where(high <= limit, 0.0, part))
    return area


def single_sine(
    low: npt.ArrayLike, high: npt.ArrayLike, lower: float, upper: float = math.inf
) -> Floats:
    """Degree-days of each day, its temperature taken for one turn of a sine.

    Parameters
    ----------
    low, high : array_like
        Lowest and highest temperature of the day, any one unit.
    lower, upper : float
        Thresholds in the same unit. Warmth above ``upper`` counts as if it were ``upper``
        (horizontal cut-off).

    Notes
    -----
    Baskerville and Emin 1969, doi 10.2307/1933912.
    """
    a, b = np.asarray(low, float), np.asarray(high, float)
    mean, half = (a + b) / 2, (b - a) / 2
    days = _above(mean, half, lower)
    return days - _above(mean, half, upper) if math.isfinite(upper) else days


def averaging(low: npt.ArrayLike, high: npt.ArrayLike, lower: float) -> Floats:
    """Degree-days of each day: the mean of lowest and highest, above the threshold.

    Days that are partly above the threshold, and on average below it, count nothing; `single_sine`
    counts their warm hours.
    """
    mean = (np.asarray(low, float) + np.asarray(high, float)) / 2
    days: Floats = np.maximum(0.0, mean - lower)
    return days


@dataclass(frozen=True)
class ThermalConstant:
    """How much warmth a development needs.

    Attributes
    ----------
    threshold : float
        Temperature at and below which it stands still, degrees Celsius.
    degree_days : float
        Degree-days above the threshold that it takes.
    """

    threshold: float
    degree_days: float

    @classmethod
    def from_rate(cls, at_zero: float, per_degree: float) -> ThermalConstant:
        """From a straight line of the daily rate: ``at_zero + per_degree * T``.

        Raises
        ------
        ValueError
            The rate does not rise with warmth.
        """
        if per_degree <= 0:
            raise ValueError("the daily rate must rise with temperature")
        return cls(-at_zero / per_degree, 1 / per_degree)

    def days(self, temperature: float) -> float:
        """Days it takes at a constant temperature; inf at the threshold and below."""
        above = temperature - self.threshold
        return self.degree_days / above if above > 0 else math.inf

    def log_days_per_degree(self, temperature: float) -> float:
        """Change of the log of those days per degree, at a constant temperature."""
        above = temperature - self.threshold
        return -1 / above if above > 0 else -math.inf
