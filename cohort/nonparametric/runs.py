"""Intervals of a history made ready for curves, and the curve of each kind.

What comes in: foundings of one group, their intervals, and weights by founding. What goes out:
`Drawn`: a curve under every weighting at once. It chooses no groups and writes no table.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import sparse

from cohort.nonparametric.brackets import turnbull
from cohort.nonparametric.competing import cumulative_incidence, occupation
from cohort.nonparametric.survival import share_kept, step_at

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

JUST_AFTER = 1e-9  # days; numbers at risk "at day 0" are those there just after it
STATES = ("0", "1", "several")


@dataclass(frozen=True)
class Group:
    """Foundings of one genus (or all) and one way of founding.

    Parameters
    ----------
    foundings : pandas.DataFrame
        Their rows of the history, index 0, 1, ...
    runs : pandas.DataFrame
        Their intervals, see `joined`; `code` is the index above.
    weights : numpy.ndarray, shape (1 + resamples, foundings)
        First row all 1: the foundings as they are. The others are multinomial counts.
    """

    foundings: pd.DataFrame
    runs: pd.DataFrame
    weights: Floats


@dataclass(frozen=True)
class Drawn:
    """A curve under every weighting.

    Parameters
    ----------
    name : str
        Name in the column `curve`.
    day : numpy.ndarray, shape (steps,)
        Days of the steps, ascending.
    values : numpy.ndarray, shape (1 + resamples, steps)
        Value from each step on, a row for each weighting.
    before : float
        Value before the first step.
    stays : tuple of numpy.ndarray
        Entry, exit and number of everything under observation: for the numbers at risk.
    """

    name: str
    day: Floats
    values: Floats
    before: float
    stays: tuple[Floats, Floats, Floats]

    @property
    def last(self) -> float:
        """Last day under observation; 0 where nothing was."""
        return float(self.stays[1].max(initial=0.0))

    def at(self, times: Floats) -> Floats:
        """Read the curve at `times`, shape (1 + resamples, len(times))."""
        return step_at(self.day, self.values, times, self.before)

    def at_risk(self, times: Floats) -> Ints:
        """Count what is under observation just before each time."""
        when = np.maximum(times, JUST_AFTER)
        entry, leave, number = self.stays
        return _below(entry, number, when) - _below(leave, number, when)


def _below(ends: Floats, number: Floats, when: Floats) -> Ints:
    """Sum the numbers whose end lies before each time."""
    order = np.argsort(ends)
    total = np.concatenate([[0.0], np.cumsum(number[order])])
    below: Ints = np.rint(total[np.searchsorted(ends[order], when, side="left")]).astype(np.int64)
    return below


def resampled(foundings: int, resamples: int, seed: int, genus: str, arm: str) -> Floats:
    """Weights of whole foundings: as they are, then so many resamples of them.

    Parameters
    ----------
    foundings : int
        Foundings of one genus (or ``all``) and one way of founding.
    resamples : int
    seed : int
    genus, arm : str
        A group's own stream goes by its name and not by its place in a list: its resamples stay
        as they are when another genus joins the study.

    Returns
    -------
    numpy.ndarray, shape (1 + resamples, foundings)
        First row all 1.
    """
    stream = np.random.default_rng([seed, zlib.crc32(f"{genus}/{arm}".encode())])
    drawn = stream.multinomial(foundings, np.full(foundings, 1 / foundings), size=resamples)
    return np.vstack([np.ones(foundings), drawn])


def bands(values: Floats, level: float, foundings: int) -> tuple[Floats, Floats]:
    """Pointwise percentiles of the resamples; nan where one founding is all there is.

    Parameters
    ----------
    values : numpy.ndarray, shape (resamples, days)
    level : float
        Share of resamples inside.
    foundings : int
        Behind the curve.
    """
    if foundings < 2 or not len(values):
        blank = np.full(values.shape[1], np.nan)
        return blank, blank
    low, high = np.quantile(values, [(1 - level) / 2, (1 + level) / 2], axis=0)
    return low, high


def joined(intervals: pd.DataFrame) -> pd.DataFrame:
    """Join intervals without a loss to the one that follows, where the queens are the same.

    Parameters
    ----------
    intervals : pandas.DataFrame
        As in `History`.

    Returns
    -------
    pandas.DataFrame
        ``code, after, by, at_risk, alive, lost`` and ``loss_after``: where the last interval of
        the run begins, the one in which the loss fell.
    """
    code, after, by, held, alive, lost = (
        intervals[name].to_numpy() for name in ("code", "after", "by", "at_risk", "alive", "lost")
    )
    goes_on = np.zeros(len(code), dtype=bool)
    if len(code):
        goes_on[:-1] = (
            (code[1:] == code[:-1])
            & (after[1:] == by[:-1])
            & (lost[:-1] == 0)
            & (held[1:] == held[:-1])
        )
    last = np.flatnonzero(~goes_on)
    first = np.concatenate([[0], last[:-1] + 1]).astype(np.int64)[: len(last)]
    return pd.DataFrame(
        {
            "code": code[last],
            "after": after[first],
            "by": by[last],
            "at_risk": held[last],
            "alive": alive[last],
            "lost": lost[last],
            "loss_after": after[last],
        }
    )


def _floats(frame: pd.DataFrame, *names: str) -> list[Floats]:
    """Give columns as floats."""
    return [frame[name].to_numpy(dtype=np.float64) for name in names]


def queen_survival(group: Group) -> Drawn:
    """Product-limit curve per queen, each loss dated at the look that showed it."""
    run = group.runs
    after, by, held, lost = _floats(run, "after", "by", "at_risk", "lost")
    code = run["code"].to_numpy()
    day = np.unique(by[lost > 0])
    shape = (len(group.foundings), len(day) + 1)
    present, gone = np.zeros(shape), np.zeros(shape)
    np.add.at(present, (code, np.searchsorted(day, after, side="right")), held)
    np.add.at(present, (code, np.searchsorted(day, by, side="right")), -held)
    np.add.at(gone, (code, np.searchsorted(day, by)), lost)
    at_risk = group.weights @ np.cumsum(present, axis=1)[:, :-1]
    values = share_kept(at_risk, group.weights @ gone[:, :-1])
    return Drawn("queen_survival", day, values, 1.0, (after, by, held))


def queen_survival_bracketed(group: Group) -> Drawn:
    """Share of queens alive by half-open brackets.

    Foundings followed late are not in it: an estimate from brackets with late entry is erratic
    where few are at risk. The product-limit curve has them.
    """
    on_time = (group.foundings["entry"] <= group.foundings["closed"]).to_numpy()
    run = group.runs[on_time[group.runs["code"].to_numpy(dtype=np.int64)]]
    code = run["code"].to_numpy(dtype=np.int64)
    after, by, held, alive, lost, since = _floats(
        run, "after", "by", "at_risk", "alive", "lost", "loss_after"
    )
    ends = np.append(code[1:] != code[:-1], True)[: len(code)]
    following = np.where(ends, 0.0, np.append(held[1:], 0.0)[: len(held)])
    out = alive - following  # taken out alive, or still there when last seen
    owner = np.concatenate([code, code])
    low, high = np.concatenate([since, by]), np.concatenate([by, np.full(len(by), np.inf)])
    number = np.concatenate([lost, out])
    some = number > 0
    pairs, place = np.unique(np.column_stack([low[some], high[some]]), axis=0, return_inverse=True)
    stays = (after, by, held)
    name = "queen_survival_bracketed"
    if not len(pairs):
        return Drawn(name, np.array([]), np.ones((len(group.weights), 0)), 1.0, stays)
    shape = (len(pairs), len(on_time))
    table = sparse.csr_array((number[some], (place.reshape(-1), owner[some])), shape=shape)
    rows = np.asarray((table @ group.weights.T).T)
    # A resample may hold no founding of this kind at all: it says nothing and repeats the first.
    rows[rows.sum(axis=1) == 0] = rows[0]
    best = turnbull(pairs[:, 0], pairs[:, 1], rows[0], tolerance=1e-8)
    begin = 0.9 * best.mass + 0.1 / len(best.mass)
    again = turnbull(pairs[:, 0], pairs[:, 1], rows[1:], tolerance=1e-2, begin=begin)
    seen = np.isfinite(best.by)
    mass = np.vstack([best.mass[None, :], again.mass])[:, seen]
    return Drawn(name, best.by[seen], 1.0 - np.cumsum(mass, axis=1), 1.0, stays)


def first_moves(found: pd.DataFrame) -> tuple[Floats, Floats, Ints, NDArray[np.bool_]]:
    """First worker or loss of all queens before it, whichever came first, of each founding.

    Parameters
    ----------
    found : DataFrame
        Foundings of a history.

    Returns
    -------
    tuple of numpy.ndarray, each of shape (foundings,)
        Entry; day of the look that showed it, else the last day without either; cause (1 first
        worker, 2 all queens lost, 0 neither); whether the founding was ever under observation.
    """
    entry, by, lost, looked = _floats(found, "entry", "first_by", "lost_by", "looked_to")
    censored, last = _floats(found, "workers_cens", "end")
    worker = np.isfinite(by) & (by <= lost)
    dead = np.isfinite(lost) & ~worker & (lost <= censored)
    # Without either, the founding speaks as far as somebody looked for workers.
    leave = np.where(worker, by, np.where(dead, lost, np.minimum(looked, last)))
    use = ~found["entry_workers"].to_numpy(dtype=bool) & (leave > entry)
    return entry, leave, np.where(worker, 1, np.where(dead, 2, 0)), use


def first_worker_or_lost(group: Group) -> list[Drawn]:
    """Cumulative incidence of the first worker against the loss of all queens before it."""
    entry, leave, cause, use = first_moves(group.foundings)
    stays = (entry[use], leave[use], np.ones(int(use.sum())))
    weights = group.weights[:, use]
    told = cumulative_incidence(stays[0], stays[1], cause[use], weights, causes=(1, 2))
    names = ("first_worker", "all_lost")
    return [Drawn(name, told.day, told.estimate[:, k], 0.0, stays) for k, name in enumerate(names)]


def queens_left(group: Group) -> list[Drawn]:
    """Share of foundings with no, one or several queens, by day since the first worker.

    Foundings that had two or more queens when the first worker came; first worker and losses are
    dated at the middle of their brackets, and a loss in the bracket that holds the first worker
    counts as after it. Where queens are taken out alive the founding is followed to that day.
    """
    found = group.foundings
    after, by = _floats(found, "first_after", "first_by")
    born = (after + by) / 2
    fit = np.isfinite(by) & ~found["entry_workers"].to_numpy(dtype=bool)
    run = group.runs
    code = run["code"].to_numpy(dtype=np.int64)
    begin, end, held, alive, lost, since = _floats(
        run, "after", "by", "at_risk", "alive", "lost", "loss_after"
    )
    start = born[code]
    use = fit[code] & (end > start)
    first = use & (begin <= start)
    several = np.zeros(len(found), dtype=bool)
    several[code[first & (held >= 2)]] = True
    out = np.zeros(len(code), dtype=bool)
    if len(code):
        out[1:] = (code[1:] == code[:-1]) & (held[1:] < alive[:-1])
    taken = np.full(len(found), np.inf)
    np.minimum.at(taken, code[out & use], begin[out & use])
    use &= several[code] & (begin < taken[code])
    code, start = code[use], start[use]
    begin, end = np.maximum(begin[use], start) - start, end[use] - start
    held, alive, lost = held[use], alive[use], lost[use]
    middle = (np.maximum(since[use], start) - start + end) / 2
    change = np.where(lost > 0, middle, end)
    kept = (lost > 0) & (alive > 0)
    row = np.concatenate([code, code[kept]])
    entry = np.concatenate([begin, middle[kept]])
    leave = np.concatenate([change, end[kept]])
    state = np.minimum(np.concatenate([held, alive[kept]]), 2).astype(np.int64)
    to = np.minimum(np.concatenate([alive, alive[kept]]), 2).astype(np.int64)
    told = occupation(row, entry, leave, state, to, [0.0, 0.0, 1.0], group.weights)
    stays = (entry, leave, np.ones(len(entry)))
    return [
        Drawn(f"queens_left_{word}", told.day, told.estimate[:, k], float(k == 2), stays)
        for k, word in enumerate(STATES)
    ]
