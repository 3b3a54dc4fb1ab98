"""Shares by time where every event is only known to lie in a bracket ``(after, by]``.

What comes in: plain arrays of brackets. What goes out: `Masses`, where the chance lies and how
much. It assumes no shape of the curve, and it does not treat brackets as closed: with weekly looks
``(0, 7]`` and ``(7, 14]`` have nothing in common, whereas closed brackets would share day 7 and
let one lump of chance explain both.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from cohort.nonparametric.survival import step_at

Floats = NDArray[np.float64]

ROUNDS = 20_000


@dataclass(frozen=True)
class Masses:
    """The nonparametric maximum-likelihood estimate from brackets.

    Parameters
    ----------
    after, by : numpy.ndarray, shape (pieces,)
        Innermost brackets, the only places where chance can lie; how it lies within one the data
        do not say. ``after == by`` is an exact time.
    mass : numpy.ndarray, shape (..., pieces)
        Chance of each piece; leading axes are those of the weights.
    loglik : numpy.ndarray, shape (...)
        Log-likelihood reached.
    """

    after: Floats
    by: Floats
    mass: Floats
    loglik: Floats

    def at(self, times: ArrayLike) -> Floats:
        """Give the share without the event at `times`, all of a piece falling at its `by`."""
        seen = np.isfinite(self.by)
        left = 1.0 - np.cumsum(self.mass[..., seen], axis=-1)
        return step_at(self.by[seen], left, np.asarray(times, dtype=np.float64), 1.0)


def innermost(after: Floats, by: Floats) -> tuple[Floats, Floats]:
    """Give the innermost brackets: an `after` followed by a `by` with no end between them.

    At one and the same time an exact event opens first, then brackets close, then brackets open:
    that order is what makes them half-open.
    """
    opening = np.unique(np.column_stack([after, np.where(after == by, 0.0, 2.0)]), axis=0)
    closing = np.unique(by)
    ends = np.concatenate(
        [
            np.column_stack([opening, np.zeros(len(opening))]),
            np.column_stack([closing, np.ones(len(closing)), np.ones(len(closing))]),
        ]
    )
    ends = ends[np.lexsort((ends[:, 1], ends[:, 0]))]
    pair = np.flatnonzero((ends[:-1, 2] == 0) & (ends[1:, 2] == 1))
    return ends[pair, 0], ends[pair + 1, 0]


def holds(after: Floats, by: Floats, low: Floats, high: Floats) -> NDArray[np.bool_]:
    """Say which pieces ``(low, high]`` lie inside which brackets, shape (brackets, pieces)."""
    exact = after == by
    inside = (after[:, None] <= low) & (high <= by[:, None])
    point = (low == high) & (after[:, None] == low) & ~exact[:, None]
    return np.asarray(inside & ~point, dtype=bool)


def turnbull(
    after: ArrayLike,
    by: ArrayLike,
    weights: ArrayLike | None = None,
    *,
    tolerance: float = 1e-9,
    begin: Floats | None = None,
) -> Masses:
    """Give the nonparametric maximum-likelihood estimate from half-open brackets.

    Parameters
    ----------
    after, by : array_like, shape (n,)
        The event fell in ``(after, by]``. ``by = inf``: not seen; ``after = by``: exactly then;
        ``after = -inf``: at any time up to `by`.
    weights : array_like, shape (n,) or (resamples, n), optional
        Weight of each bracket. A matrix gives every resample at once.
    tolerance : float
        Stop when the slope towards no piece exceeds its bound by more than this share.
    begin : numpy.ndarray, shape (pieces,), optional
        Masses to begin from, all above 0.

    Raises
    ------
    ValueError
        If a bracket ends before it begins, or the estimate has not settled.

    Notes
    -----
    Turnbull (1976), doi:10.1111/j.2517-6161.1976.tb01597.x; speeded up by squared extrapolation,
    Varadhan and Roland (2008), doi:10.1111/j.1467-9469.2007.00585.x.
    """
    a, b = np.asarray(after, dtype=np.float64), np.asarray(by, dtype=np.float64)
    if (b < a).any():
        at = int(np.argmax(b < a))
        raise ValueError(f"bracket {at}: it ends at {b[at]:g}, before it begins at {a[at]:g}.")
    w = np.ones(len(a)) if weights is None else np.asarray(weights, dtype=np.float64)
    low, high = innermost(a, b)
    table = holds(a, b, low, high).astype(np.float64)
    shape = (*w.shape[:-1], len(low))
    rows = w.reshape(-1, len(a))
    start = np.full(len(low), 1.0 / len(low)) if begin is None else begin / begin.sum()
    mass = _settle(table, rows, np.tile(start, (len(rows), 1)), tolerance)
    loglik = _loglik(table, rows, mass)
    return Masses(low, high, mass.reshape(shape), loglik.reshape(shape[:-1]))


def _loglik(table: Floats, rows: Floats, mass: Floats) -> Floats:
    """Log-likelihood of each row of masses."""
    chance = mass @ table.T
    return np.asarray((rows * np.log(np.where(rows > 0, chance, 1.0))).sum(axis=1))


def _slopes(table: Floats, rows: Floats, mass: Floats) -> Floats:
    """Slope towards each piece over the total weight: 1 where mass lies, at most 1 elsewhere."""
    chance = mass @ table.T
    share = np.divide(rows, chance, out=np.zeros_like(rows), where=rows > 0)
    return np.asarray((share @ table) / rows.sum(axis=1, keepdims=True))


def _settle(table: Floats, rows: Floats, mass: Floats, tolerance: float) -> Floats:
    """Climb until no piece asks for more; rows that have settled leave the work."""
    out = mass.copy()
    busy = np.arange(len(rows))
    for _ in range(ROUNDS):
        slope = _slopes(table, rows[busy], out[busy])
        unsettled = slope.max(axis=1) > 1.0 + tolerance
        if not unsettled.any():
            return out
        busy, slope = busy[unsettled], slope[unsettled]
        out[busy] = _leap(table, rows[busy], out[busy], slope)
    raise ValueError(f"{len(busy)} estimates from brackets have not settled in {ROUNDS} rounds.")


def _leap(table: Floats, rows: Floats, mass: Floats, slope: Floats) -> Floats:
    """Take two self-consistent steps, then one squared leap where that climbs higher."""
    once = mass * slope
    twice = once * _slopes(table, rows, once)
    first = once - mass
    bend = twice - once - first
    size = np.sqrt((bend**2).sum(axis=1, keepdims=True))
    length = np.sqrt((first**2).sum(axis=1, keepdims=True))
    alpha = -np.maximum(np.divide(length, size, out=np.ones_like(size), where=size > 0), 1.0)
    far = mass - 2 * alpha * first + alpha**2 * bend
    # A piece is never driven to 0 outright, or it could not come back.
    far = np.maximum(far, twice * 1e-2)
    far /= far.sum(axis=1, keepdims=True)
    better = _loglik(table, rows, far) > _loglik(table, rows, twice)
    return np.where(better[:, None], far, twice)
