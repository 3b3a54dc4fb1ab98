"""Shelves with a temperature of their own, on which brood grows by the hour.

In: how warm the shelves are, a truth's threshold, a random generator.
Out: the shelf log a keeper would write, and the day on which brood that needs so many days at the
mean temperature of the shelves is grown.
Never: a formula of degree-days. Each hour has its temperature, brood grows in it by what is above
the threshold, so that agreement with the model proves something.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["Shelves", "Weather"]


@dataclass(frozen=True)
class Shelves:
    """How warm the shelves of a season are.

    Parameters
    ----------
    means : tuple of float
        Mean temperature of each shelf over the season, degrees Celsius.
    swing : float
        Degrees between the mean of a day and its highest.
    season : float
        Degrees by which midsummer is warmer than the mean, and the turn of the year colder.
    wander : float
        Standard deviation of the mean of a day about the season, degrees.
    """

    means: tuple[float, ...] = (21.0, 26.0)
    swing: float = 3.0
    season: float = 1.5
    wander: float = 1.0

    @property
    def reference(self) -> float:
        """Mean of the shelves: days of the truth are days at this temperature."""
        return float(np.mean(self.means))

    def drawn(self, days: int, first: dt.date, rng: np.random.Generator) -> Weather:
        """Return the temperatures of `days` days from `first` on."""
        of_year = first.timetuple().tm_yday + np.arange(days)
        summer = self.season * np.cos(2 * np.pi * (of_year - 196) / 365.0)
        middle = (
            np.asarray(self.means)[:, None]
            + summer
            + self.wander * rng.standard_normal((len(self.means), days))
        )
        half = self.swing * rng.uniform(0.6, 1.4, middle.shape)
        return Weather(np.round(middle - half, 1), np.round(middle + half, 1), self.reference)


@dataclass(frozen=True)
class Weather:
    """Temperatures of a season: arrays of shelves by days, degrees Celsius."""

    low: Floats
    high: Floats
    reference: float

    def grown(self, need: Floats, shelf: Ints, start: Ints, threshold: float) -> Floats:
        """Return the day since the start of each founding on which its brood is grown.

        Parameters
        ----------
        need : array (n,)
            Days at the reference temperature; inf: never.
        shelf, start : int arrays (n,)
            Its shelf, and its day 0 in days of the season.
        threshold : float
            Degrees Celsius at and below which brood stands still.
        """
        turn = np.sin(2 * np.pi * (np.arange(24) + 0.5) / 24)
        middle, half = (self.low + self.high) / 2, (self.high - self.low) / 2
        hourly = middle[..., None] + half[..., None] * turn
        warm = np.maximum(0.0, hourly - threshold).reshape(len(self.low), -1)
        days = np.cumsum(warm / (self.reference - threshold) / 24, axis=1)
        out = np.full(len(need), np.inf)
        for i in np.flatnonzero(np.isfinite(need)):
            mine = days[shelf[i]]
            before = mine[24 * start[i] - 1] if start[i] else 0.0
            hour = int(np.searchsorted(mine, before + need[i]))
            if hour < len(mine):
                out[i] = (hour + 1) / 24 - start[i]
        return out

    def sheet(self, dates: NDArray[np.object_], names: list[str]) -> pd.DataFrame:
        """Return the shelf log, a row for every shelf and day."""
        rows = [
            pd.DataFrame({"shelf": name, "date": dates[: len(low)], "min_c": low, "max_c": high})
            for name, low, high in zip(names, self.low, self.high, strict=True)
        ]
        return pd.concat(rows, ignore_index=True)
