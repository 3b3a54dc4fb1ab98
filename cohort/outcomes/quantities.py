"""The quantities people ask for, per draw: genus by genus, for all kinds together, for a new one.

Comes in: `Draws`. Goes out: an `Outcomes`: arrays (draws, kinds) by quantity, size and day, and
curves. Never: a summary, a word.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from cohort.base.display import Facts, Shown
from cohort.base.frames import compared_by_content
from cohort.likelihood import layout as at
from cohort.likelihood.layout import CUTS1, CUTS2
from cohort.outcomes.parameters import Draws
from cohort.predict import recursion as rec
from cohort.predict.through_winter import recurse_by_calendar
from cohort.terms.questions import (
    ALIKE,
    AVERAGE,
    MATED_FIRST,
    NEW,
    NEXT_SEASON,
    READINGS,
    SEEN,
)

Floats = npt.NDArray[np.float64]


class Key(NamedTuple):
    """What one number speaks of: question, quantity, founding size, day, reading.

    ``day`` is `NO_DAY` where a quantity has none; ``reading`` is one of
    `cohort.terms.questions.READINGS`, blank for quantities on which none bears.
    """

    question: str
    quantity: str
    size: int
    day: float
    reading: str = ""


ALIVE_DAYS: Final = (30, 60, 90)
WORKER_DAYS: Final = (30, 45, 60, 90)
COLONY_DAYS: Final = (60, 90)
AFTER_DAYS: Final = (30, 60, 90)
FRAILTY_NODES: Final = 8
FRAILTY_GAP: Final = 0.8
"""Standard deviations between the nodes of the frailty."""
NO_DAY: Final = float("inf")
"""Stands for the day of a quantity that has none (nan would not be found again as a key)."""


@compared_by_content
@dataclass(frozen=True, repr=False, eq=False)
class Outcomes(Shown):
    """Outcomes of new foundings.

    Attributes
    ----------
    kinds : tuple of str
        Genera of the study, then ``average``, ``next_season`` and ``new``.
    sizes : tuple of int
    values : dict of arrays, shape (draws, kinds)
        By `Key`.
    days : float array, shape (points,)
        Days of the curves.
    alive, workers : float arrays, shape (draws, genera + 2, sizes, points)
        Share of queens alive, chance of a first worker, by day: genera of the study, the next
        season, then the new kind (see `of_kind`).
    left : float array, shape (draws, genera + 2, sizes, points, 3)
        Chances of none, one and several queens, by day since the first worker.
    chains : int
        The draws lie chain after chain.
    """

    kinds: tuple[str, ...]
    sizes: tuple[int, ...]
    values: dict[Key, Floats]
    days: Floats
    alive: Floats
    workers: Floats
    left: Floats
    chains: int

    def facts(self) -> tuple[str, Facts]:
        """Of what kinds, sizes and quantities it holds how many draws."""
        names = list(dict.fromkeys(key.quantity for key in self.values))
        draws = self.alive.shape[0]
        days = f"{len(self.days)} days, to day {self.days[-1]:g}" if len(self.days) else "no day"
        return "Outcomes of new foundings", {
            "kinds": ", ".join(self.kinds),
            "founding sizes": ", ".join(map(str, self.sizes)),
            "draws": f"{draws:,} of {self.chains} chains",
            "numbers": f"{len(self.values):,} of {len(names)} quantities in .values, such as "
            f"{', '.join(names[:3])}",
            "curves": f".alive, .workers and .left by {days}",
        }

    def of_kind(self, curve: Floats, kind: int, size: int) -> Floats:
        """One curve by draw: of a kind (index into ``kinds``) and a founding size.

        Parameters
        ----------
        curve : float array
            ``alive``, ``workers`` or ``left``.
        kind, size : int
        """
        own = curve[:, :, self.sizes.index(size)]
        known = own.shape[1] - 2
        if kind == known:
            average: Floats = own[:, :known].mean(axis=1)
            return average
        return own[:, kind - (kind > known)]


def _edge(days: list[int], horizon: int) -> npt.NDArray[np.int64]:
    return np.array([d // 2 for d in days if d <= horizon], dtype=np.int64)


def _average(values: Floats, ratio: bool) -> Floats:
    """Equal-weight mean over the genera of the study (axis 1).

    Ratios average on the log scale, so that a ratio and its inverse average alike.
    """
    scaled = np.log(values) if ratio else values
    mean: Floats = scaled.mean(axis=1, keepdims=True)
    if ratio:
        mean = np.exp(mean)
    return mean


def _joined(values: Floats, ahead: Floats, ratio: bool) -> Floats:
    """Kinds of `Outcomes` from numbers by genus and those of the same genera in the next season."""
    known, new = values[:, :-1], values[:, -1:]
    return np.concatenate([known, _average(known, ratio), _average(ahead, ratio), new], axis=1)


def _median_day(workers: Floats, edges: Floats) -> Floats:
    """Day by which half of those that get workers by the last edge have them."""
    half = 0.5 * workers[..., -1:]
    reached = workers >= half
    j = np.maximum(reached.argmax(axis=-1), 1)
    before = np.take_along_axis(workers, j[..., None] - 1, -1)[..., 0]
    there = np.take_along_axis(workers, j[..., None], -1)[..., 0]
    share = (half[..., 0] - before) / np.maximum(there - before, 1e-12)
    median: Floats = edges[j - 1] + share * (edges[j] - edges[j - 1])
    return median


def _at(curve: Floats, points: Floats, day: float) -> Floats:
    """Value of a curve (last axis: ``points``) at a day: a cubic through the nearest four."""
    i = int(np.clip(np.searchsorted(points, day) - 2, 0, max(len(points) - 4, 0)))
    near = points[i : i + 4]
    total = np.zeros(curve.shape[:-1])
    for a, here in enumerate(near):
        rest = np.delete(near, a)
        total += np.prod((day - rest) / (here - rest)) * curve[..., i + a]
    return total


def _area(curve: Floats, points: Floats, horizon: int) -> Floats:
    """Integral of a curve from day 0 to the horizon."""
    inside = points < horizon
    heights = np.concatenate([curve[..., inside], _at(curve, points, horizon)[..., None]], -1)
    area: Floats = np.trapezoid(heights, np.append(points[inside], horizon), axis=-1)
    return area


def frailty_nodes() -> tuple[Floats, Floats]:
    """Nodes and weights of the standard normal frailty: evenly spaced, so a trapezoid rule.

    Outcomes bend sharply in a large frailty; there these nodes are off by a fifth of what as
    many Gauss-Hermite nodes are (a test states the error).
    """
    x: Floats = FRAILTY_GAP * (
        np.arange(FRAILTY_NODES, dtype=np.float64) - 0.5 * (FRAILTY_NODES - 1)
    )
    w: Floats = np.exp(-0.5 * x**2)
    return x, w / w.sum()


def outcomes(draws: Draws, sizes: tuple[int, ...], horizon: int) -> Outcomes:
    """Every outcome of `comparisons.csv` for new foundings, per draw.

    Parameters
    ----------
    draws : Draws
    sizes : tuple of int
        Founding sizes; 1 is added if missing.
    horizon : int
        Last day, even days are exact, odd ones lie between two edges.

    Returns
    -------
    Outcomes
    """
    sizes = tuple(sorted({1, *sizes}))
    here = _by_genus(draws, sizes, horizon)
    ahead = here
    if draws.season.any():
        ahead = _by_genus(draws.in_next_season(), sizes, horizon)
    values = {
        key: _joined(v, ahead.values[key][:, :-1], key.quantity.endswith("_ratio"))
        for key, v in here.values.items()
    }
    alive, workers, left = (
        np.concatenate([c[:, :-1], _average(a[:, :-1], ratio=False), c[:, -1:]], axis=1)
        for c, a in zip(here.curves, ahead.curves, strict=True)
    )
    kinds = (*draws.genera, AVERAGE, NEXT_SEASON, NEW)
    return Outcomes(kinds, sizes, values, here.days, alive, workers, left, draws.chains)


class _ByGenus(NamedTuple):
    """Outcomes of genera and of the new kind: values by key, days and curves as in `Outcomes`."""

    values: dict[Key, Floats]
    days: Floats
    curves: tuple[Floats, Floats, Floats]


def _by_genus(draws: Draws, sizes: tuple[int, ...], horizon: int) -> _ByGenus:
    """Every outcome of each genus and of the new kind, per draw."""
    cells = (horizon + 1) // 2
    alive_days = [d for d in ALIVE_DAYS if d < horizon] + [horizon]
    colony_days = [d for d in (*COLONY_DAYS, *_spring(draws)) if d < horizon] + [horizon]
    x, w = frailty_nodes()
    raw, alive, workers, left = recurse_by_calendar(
        draws.params,
        draws.shared,
        draws.by_draw(),
        draws.share,
        np.array(sizes, np.int64),
        cells,
        _edge(colony_days, horizon),
        _edge(alive_days, horizon),
        np.array(CUTS1),
        np.array(CUTS2),
        x,
        w,
        draws.winter,
    )
    edges: Floats = 2.0 * np.arange(cells + 1, dtype=np.float64)
    alive, points = alive[..., :: rec.KEPT], edges[:: rec.KEPT]
    values: dict[Key, Floats] = {}
    for s, k in enumerate(sizes):
        for i, d in enumerate(alive_days):
            values[Key("queen_survival", "share_alive_before_workers", k, d)] = raw[:, :, s, i]
            values[Key("queen_survival", "share_alive", k, d)] = _at(alive[:, :, s], points, d)
        values[Key("queen_survival", "queen_days", k, horizon)] = _area(
            alive[:, :, s], points, horizon
        )
        for d in [*(d for d in WORKER_DAYS if d < horizon), horizon]:
            values[Key("first_worker", "chance_by_day", k, d)] = _at(workers[:, :, s], edges, d)
        values[Key("first_worker", "median_day", k, NO_DAY)] = _median_day(workers[:, :, s], edges)
        values[Key("first_worker", "fertile_share", k, NO_DAY)] = draws.fertile_share(k)
        first = len(alive_days)
        for r, reading in enumerate((ALIKE, SEEN, MATED_FIRST)):  # as the recursion gives them
            for i, d in enumerate(colony_days):
                values[colony(k, d, reading)] = raw[:, :, s, first + r * len(colony_days) + i]
        if k >= 2:
            # the hazard may step 30 and 60 days after the first worker: read off every edge
            _together(values, draws, left[:, :, s], edges, k)
    _same_queens(values, sizes, colony_days)  # by genus: the mean of a power is not its power
    return _ByGenus(values, points, (alive, workers[..., :: rec.KEPT], left[..., :: rec.KEPT, :3]))


def _spring(draws: Draws) -> list[int]:
    """Day on which winter rest of a new founding is over; none where it has none."""
    if draws.winter is None:
        return []
    day = int(draws.winter[0] + draws.winter[1])
    return [day] if day > COLONY_DAYS[-1] else []


def _together(
    values: dict[Key, Floats], draws: Draws, left: Floats, points: Floats, k: int
) -> None:
    """What only groups have: ratios of company, and queens left after the first worker."""
    own, one = draws.new_foundings(k), draws.new_foundings(1)
    question = "queens_after_workers"
    # where the effect of company stays with the last queen, it is part of her lone hazard
    company = own[..., at.HAZARD1] + own[..., at.TOGETHER] - one[..., at.HAZARD1]
    values[Key("queen_survival", "hazard_ratio", k, NO_DAY)] = np.exp(company)
    values[Key("first_worker", "time_ratio", k, NO_DAY)] = np.exp(
        own[..., at.LOG_DAY] - one[..., at.LOG_DAY]
    )
    values[Key(question, "rivalry_ratio", k, NO_DAY)] = np.exp(own[..., at.RIVALRY])
    values[Key(question, "last_fight_takes_both", k, NO_DAY)] = own[..., at.LAST_FIGHT].copy()
    names = ("chance_none_left", "chance_one_left", "chance_several_left", "expected_left")
    for d in AFTER_DAYS:
        if d <= points[-1]:
            for i, name in enumerate(names):
                values[Key(question, name, k, d)] = _at(left[..., i], points, d)


def colony(size: int, day: float, reading: str) -> Key:
    """Key of the chance that a founding is a colony on a day, in one reading.

    Parameters
    ----------
    size : int
    day : float
    reading : str
        One of `cohort.terms.questions.READINGS`.
    """
    name = "chance_per_founding" if reading == SEEN else "chance_lasting"
    return Key("colony", name, size, day, reading)


def _same_queens(values: dict[Key, Floats], sizes: tuple[int, ...], days: list[int]) -> None:
    """Colonies per queen, and from the same queens both ways, in every reading of a colony."""
    for d, reading in product(days, READINGS):
        one = values[colony(1, d, reading)]
        for k in sizes:
            here = values[colony(k, d, reading)]
            values[Key("colony", "colonies_per_queen", k, d, reading)] = here / k
            if k >= 2:
                any_single = 1 - (1 - one) ** k
                for name, value in (
                    ("at_least_one_from_same_queens", any_single),
                    ("colonies_from_same_queens", k * one),
                    ("same_queens_any", here - any_single),
                    ("same_queens_count", here - k * one),
                ):
                    values[Key("colony", name, k, d, reading)] = value
