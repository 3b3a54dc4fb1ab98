"""Product-limit curves with late entry, for one weighting of the rows or for many at once.

What comes in: plain arrays of entry, exit and event. What goes out: `Survival`. It knows nothing
of foundings, and assumes that each event is dated exactly: brackets are the affair of
`cohort.nonparametric.brackets`.

A row is at risk at time t when ``entry < t <= exit``: just before t, so that a row that leaves at
t is still counted there, and one that enters at t is not.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Survival:
    """A product-limit curve.

    Parameters
    ----------
    day : numpy.ndarray, shape (times,)
        Distinct times at which something was lost.
    estimate : numpy.ndarray, shape (..., times)
        Share not lost up to and with `day`; leading axes are those of the weights.
    se : numpy.ndarray, shape (..., times)
        Greenwood's standard error; means something only where the rows are independent.
    at_risk, lost : numpy.ndarray, shape (..., times)
        Weight at risk just before `day`, and weight lost on it.
    """

    day: Floats
    estimate: Floats
    se: Floats
    at_risk: Floats
    lost: Floats

    def at(self, times: ArrayLike) -> Floats:
        """Give the estimate at any times, shape (..., len(times))."""
        return step_at(self.day, self.estimate, np.asarray(times, dtype=np.float64), 1.0)


def step_at(day: Floats, values: Floats, times: Floats, before: float) -> Floats:
    """Read a right-continuous step curve at `times`; `before` is its value before the first step.

    Parameters
    ----------
    day : numpy.ndarray, shape (steps,)
        Times of the steps, ascending.
    values : numpy.ndarray, shape (..., steps)
        Value from each step on.
    times : numpy.ndarray, shape (n,)
        Where to read.
    before : float
        Value before the first step.
    """
    opening = np.full((*values.shape[:-1], 1), before)
    full = np.concatenate([opening, values], axis=-1)
    return np.asarray(full[..., np.searchsorted(day, times, side="right")], dtype=np.float64)


def share_kept(at_risk: Floats, lost: Floats) -> Floats:
    """Give the running product of ``1 - lost / at_risk`` along the last axis; 0/0 counts as 0."""
    fall = np.divide(lost, at_risk, out=np.zeros_like(lost), where=at_risk > 0)
    return np.asarray(np.cumprod(1.0 - fall, axis=-1), dtype=np.float64)


def greenwood(estimate: Floats, at_risk: Floats, lost: Floats) -> Floats:
    """Give Greenwood's standard error of a product-limit curve; nan once nobody is left."""
    below = at_risk * (at_risk - lost)
    term = np.divide(lost, below, out=np.full_like(lost, np.nan), where=below > 0)
    term = np.where(lost > 0, term, 0.0)
    return np.asarray(estimate * np.sqrt(np.cumsum(term, axis=-1)), dtype=np.float64)


def checked(entry: ArrayLike | None, end: ArrayLike) -> tuple[Floats, Floats]:
    """Give entry and exit as floats.

    Raises
    ------
    ValueError
        If a row does not leave after it entered.
    """
    out = np.asarray(end, dtype=np.float64)
    into = np.full_like(out, -np.inf) if entry is None else np.asarray(entry, dtype=np.float64)
    if not (into < out).all():
        at = int(np.argmin(into < out))
        raise ValueError(
            f"row {at}: exit {out[at]:g} is not after entry {into[at]:g}. Leave out rows that "
            "were never at risk."
        )
    return into, out


def weighted(weights: ArrayLike | None, table: NDArray[Any]) -> Floats:
    """Sum a table (rows, columns) over its rows with weights (..., rows), by default 1 each."""
    if weights is None:
        return np.asarray(table.sum(axis=0), dtype=np.float64)
    return np.asarray(np.asarray(weights, dtype=np.float64) @ table, dtype=np.float64)


def product_limit(
    entry: ArrayLike | None, exit: ArrayLike, event: ArrayLike, weights: ArrayLike | None = None
) -> Survival:
    """Give the product-limit curve of rows that enter late and leave with or without an event.

    Parameters
    ----------
    entry : array_like, shape (n,), or None
        Time each row comes under observation; None: from the beginning.
    exit : array_like, shape (n,)
        Time of the event or of the last sight.
    event : array_like of bool, shape (n,)
        Whether the exit is an event.
    weights : array_like, shape (n,) or (resamples, n), optional
        Weight of each row. A matrix of multinomial counts gives every resample at once.

    Raises
    ------
    ValueError
        If a row does not leave after it entered.

    Notes
    -----
    Kaplan and Meier (1958), doi:10.1080/01621459.1958.10501452; late entry as in Lynden-Bell
    (1971), doi:10.1093/mnras/155.1.95.
    """
    into, out = checked(entry, exit)
    happened = np.asarray(event, dtype=bool)
    day = np.unique(out[happened])
    present = (into[:, None] < day) & (day <= out[:, None])
    here = happened[:, None] & (out[:, None] == day)
    at_risk = weighted(weights, present.astype(np.float64))
    lost = weighted(weights, here.astype(np.float64))
    estimate = share_kept(at_risk, lost)
    return Survival(day, estimate, greenwood(estimate, at_risk, lost), at_risk, lost)


def restricted_mean(
    entry: ArrayLike | None, exit: ArrayLike, event: ArrayLike, until: float
) -> tuple[float, float]:
    """Give the mean time up to `until` (area under the curve) and its standard error.

    Parameters
    ----------
    entry, exit, event : array_like, shape (n,)
        As in `product_limit`.
    until : float
        Time at which the area stops.

    Notes
    -----
    The standard error sums the squared area to the right of each event, weighted as in
    Greenwood's formula. (The variance that lifelines returns beside its restricted mean is that of
    one life cut off at `until`, not that of the mean.)
    """
    curve = product_limit(entry, exit, event)
    use = curve.day < until
    edges = np.concatenate([[0.0], curve.day[use], [until]])
    heights = np.concatenate([[1.0], curve.estimate[use]])
    areas = np.diff(edges) * heights
    right = areas[1:][::-1].cumsum()[::-1]
    at_risk, lost = curve.at_risk[use], curve.lost[use]
    below = at_risk * (at_risk - lost)
    # When the last one is lost the curve stays at 0: nothing to its right, nothing to add.
    term = np.divide(right**2 * lost, below, out=np.zeros_like(lost), where=below > 0)
    return float(areas.sum()), float(np.sqrt(term.sum()))
