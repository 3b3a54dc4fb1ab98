"""Arithmetic on looks sorted by founding and day, a column at a time.

What comes in: sorted arrays. What goes out: the place of the look before, and the queens put in
and taken out up to a day. No rule is in it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

_DAYS = np.int64(1 << 20)  # more days than any calendar here has
_SHIFT = np.int64(1 << 18)


def day_numbers(dates: pd.Series | np.ndarray) -> np.ndarray:
    """Dates as whole days since 1970 (int64); a blank date is a very low number."""
    numbers: np.ndarray = np.asarray(dates, dtype="datetime64[D]").astype(np.int64)
    return np.asarray(np.maximum(numbers, -_SHIFT + 1))


def run_starts(code: np.ndarray) -> np.ndarray:
    """For each row the place of the first row of its founding; `code` is sorted."""
    place = np.arange(len(code))
    first = np.ones(len(code), dtype=bool)
    first[1:] = code[1:] != code[:-1]
    return np.maximum.accumulate(np.where(first, place, 0)) if len(code) else place


def last_with(mask: np.ndarray, start: np.ndarray) -> np.ndarray:
    """For each row the place of the latest row up to it, of its founding, in `mask`; else -1."""
    if not len(mask):
        return np.zeros(0, dtype=np.int64)
    latest = np.maximum.accumulate(np.where(mask, np.arange(len(mask)), -1))
    return np.where(latest >= start, latest, -1)


def before_with(mask: np.ndarray, start: np.ndarray) -> np.ndarray:
    """As `last_with`, but strictly before the row."""
    if not len(mask):
        return np.zeros(0, dtype=np.int64)
    latest = np.concatenate([[-1], np.maximum.accumulate(np.where(mask, np.arange(len(mask)), -1))])
    latest = latest[:-1]
    return np.where(latest >= start, latest, -1)


@dataclass(frozen=True)
class Moves:
    """Queens put in and taken out, by founding and day.

    Parameters
    ----------
    keys : ndarray of int64, shape (n,)
        Founding and day in one sorted number.
    total : ndarray of int64, shape (n + 1,)
        Running sum of queens put in less queens taken out.
    """

    keys: np.ndarray
    total: np.ndarray

    def before(self, code: np.ndarray, day: np.ndarray) -> np.ndarray:
        """Net change strictly before a day: what a look on that day can show."""
        return self._net(code, np.searchsorted(self.keys, key(code, day), "left"))

    def through(self, code: np.ndarray, day: np.ndarray) -> np.ndarray:
        """Net change up to the end of a day (an event is after that day's look)."""
        return self._net(code, np.searchsorted(self.keys, key(code, day), "right"))

    def _net(self, code: np.ndarray, last: np.ndarray) -> np.ndarray:
        first = np.searchsorted(self.keys, key(code, np.full(len(code), -_SHIFT)), "left")
        return np.asarray(self.total[last] - self.total[first])


def key(code: np.ndarray, day: np.ndarray) -> np.ndarray:
    """Founding and day in one number that sorts by both."""
    return np.asarray(code.astype(np.int64) * _DAYS + day + _SHIFT)


def moves(events: pd.DataFrame) -> Moves:
    """Moves of the events queens-in and queens-out.

    Parameters
    ----------
    events : DataFrame
        With code (0 or more), date, event and number.
    """
    sign = events["event"].map({"queens-in": 1, "queens-out": -1}).fillna(0).to_numpy()
    number = events["number"].fillna(0).to_numpy(dtype=np.int64)
    keys = key(events["code"].to_numpy(), day_numbers(events["date"]))
    order = np.argsort(keys, kind="stable")
    steps = (sign * number).astype(np.int64)[order]
    return Moves(keys[order], np.concatenate([[0], np.cumsum(steps)]).astype(np.int64))


def stacked(parts: list[pd.DataFrame]) -> pd.DataFrame:
    """Tables one under another; empty ones are passed over, whose types would spoil the rest."""
    filled = [part for part in parts if len(part)]
    return pd.concat(filled, ignore_index=True) if filled else parts[0]
