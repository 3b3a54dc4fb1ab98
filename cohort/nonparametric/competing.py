"""Which of several things came first, and in which state foundings are, by time.

What comes in: plain arrays of entry, exit and cause, or of moves between states. What goes out:
shares by time, for one weighting of the rows or for many at once. Ties are taken as they are:
nothing is shifted at random to part them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from cohort.nonparametric.survival import checked, share_kept, step_at, weighted

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Incidence:
    """Cumulative incidence of competing events.

    Parameters
    ----------
    day : numpy.ndarray, shape (times,)
        Distinct times of any event.
    causes : tuple of int
        The causes, ascending.
    estimate : numpy.ndarray, shape (..., causes, times)
        Share to which each cause has come first, up to and with `day`.
    free : numpy.ndarray, shape (..., times)
        Share to which nothing has come yet.
    at_risk : numpy.ndarray, shape (..., times)
        Weight at risk just before `day`.
    """

    day: Floats
    causes: tuple[int, ...]
    estimate: Floats
    free: Floats
    at_risk: Floats

    def at(self, times: ArrayLike) -> Floats:
        """Give the incidences at any times, shape (..., causes, len(times))."""
        return step_at(self.day, self.estimate, np.asarray(times, dtype=np.float64), 0.0)


def cumulative_incidence(
    entry: ArrayLike | None,
    exit: ArrayLike,
    cause: ArrayLike,
    weights: ArrayLike | None = None,
    *,
    causes: tuple[int, ...] | None = None,
) -> Incidence:
    """Give the share of rows to which each of several causes has come first.

    Parameters
    ----------
    entry : array_like, shape (n,), or None
        Time each row comes under observation; None: from the beginning.
    exit : array_like, shape (n,)
        Time of the first event or of the last sight.
    cause : array_like of int, shape (n,)
        0 for no event, else the number of the cause.
    weights : array_like, shape (n,) or (resamples, n), optional
        Weight of each row. A matrix gives every resample at once.
    causes : tuple of int, optional
        Causes to tell of; by default those that occur.

    Raises
    ------
    ValueError
        If a row does not leave after it entered.

    Notes
    -----
    Aalen and Johansen (1978), www.jstor.org/stable/4615704.
    """
    into, out = checked(entry, exit)
    which = np.asarray(cause, dtype=np.int64)
    named = tuple(np.unique(which[which > 0]).tolist()) if causes is None else causes
    day = np.unique(out[which > 0])
    present = (into[:, None] < day) & (day <= out[:, None])
    here = out[:, None] == day
    at_risk = weighted(weights, present.astype(np.float64))
    events = [weighted(weights, (here & (which == k)[:, None]).astype(np.float64)) for k in named]
    every = weighted(weights, (here & (which > 0)[:, None]).astype(np.float64))
    free = share_kept(at_risk, every)
    before = np.concatenate([np.ones((*free.shape[:-1], 1)), free[..., :-1]], axis=-1)
    shares = [
        np.cumsum(before * np.divide(n, at_risk, out=np.zeros_like(n), where=at_risk > 0), axis=-1)
        for n in events
    ]
    stacked = np.stack(shares, axis=-2) if shares else np.zeros((*free.shape[:-1], 0, len(day)))
    return Incidence(day, named, stacked, free, at_risk)


@dataclass(frozen=True)
class Occupation:
    """Share of rows in each state by time.

    Parameters
    ----------
    day : numpy.ndarray, shape (times,)
        Distinct times of a move.
    estimate : numpy.ndarray, shape (..., states, times)
        Share in each state from `day` on.
    at_risk : numpy.ndarray, shape (..., times)
        Weight under observation just before `day`, in states that can still be left.
    """

    day: Floats
    estimate: Floats
    at_risk: Floats


def occupation(
    row: ArrayLike,
    entry: ArrayLike,
    exit: ArrayLike,
    state: ArrayLike,
    to: ArrayLike,
    start: ArrayLike,
    weights: ArrayLike | None = None,
) -> Occupation:
    """Give the share of rows in each state by time, from stays and moves.

    Parameters
    ----------
    row : array_like of int, shape (stays,)
        Row each stay belongs to.
    entry, exit : array_like, shape (stays,)
        The stay lasts over ``(entry, exit]``.
    state, to : array_like of int, shape (stays,)
        State of the stay, and state moved to at `exit` (the same state: no move).
    start : array_like, shape (states,)
        Share in each state at time 0.
    weights : array_like, shape (rows,) or (resamples, rows), optional
        Weight of each row.

    Notes
    -----
    Aalen and Johansen (1978), www.jstor.org/stable/4615704.
    """
    into, out = checked(entry, exit)
    owner = np.asarray(row, dtype=np.int64)
    source, target = np.asarray(state, dtype=np.int64), np.asarray(to, dtype=np.int64)
    own = None if weights is None else np.asarray(weights, dtype=np.float64)[..., owner]
    day = np.unique(out[source != target])
    present = (into[:, None] < day) & (day <= out[:, None])
    here = out[:, None] == day
    first = np.asarray(start, dtype=np.float64)
    states = range(len(first))
    held = {s: weighted(own, (present & (source == s)[:, None]).astype(np.float64)) for s in states}
    shape = held[0].shape[:-1]
    share = np.broadcast_to(first, (*shape, len(first))).copy()
    moves = {
        (s, t): weighted(own, (here & ((source == s) & (target == t))[:, None]).astype(np.float64))
        for s, t in sorted(set(zip(source.tolist(), target.tolist(), strict=True)))
        if s != t
    }
    told = np.empty((*shape, len(first), len(day)))
    for j in range(len(day)):
        flow = np.zeros_like(share)
        for (s, t), n in moves.items():
            part = np.divide(n[..., j], held[s][..., j], out=np.zeros(shape), where=n[..., j] > 0)
            flow[..., s] -= share[..., s] * part
            flow[..., t] += share[..., s] * part
        share = share + flow
        told[..., j] = share
    return Occupation(day, told, np.asarray(sum(held.values())))
