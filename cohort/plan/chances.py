"""Chances of one founding of each size, draw by draw.

Comes in: draws of one kind, sizes and a day. Goes out: a frozen `Chances`. Never: a formula of
its own: the recursion of the comparison does the work.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from cohort.likelihood.layout import CUTS1, CUTS2
from cohort.outcomes.parameters import Draws
from cohort.outcomes.quantities import frailty_nodes
from cohort.predict import recursion as rec
from cohort.predict.state_occupancy import state_occupancy
from cohort.predict.through_winter import recurse_by_calendar
from cohort.terms.questions import ALIKE, MATED_FIRST, SEEN

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Chances:
    """What becomes of one founding, by draw and size; the frailty is averaged inside each draw.

    Attributes
    ----------
    seen : float array, shape (draws, sizes)
        Chance of workers and a living queen on the day: a colony as a keeper sees it.
    lasting : float array, shape (draws, sizes)
        Chance of workers and a living mated queen, mated and unmated dying alike.
    mated_first : float array, shape (draws, sizes)
        The same if every mated queen dies before any unmated one.
    lost : float array, shape (draws, sizes)
        Chance that every queen is dead on the day.
    workers : float array, shape (draws, sizes, edges)
        Chance that workers have come, by day.
    days : float array, shape (edges,)
    """

    seen: Floats
    lasting: Floats
    mated_first: Floats
    lost: Floats
    workers: Floats
    days: Floats

    def colony(self, reading: str) -> Floats:
        """Chance of a colony in one of `cohort.terms.questions.READINGS`, (draws, sizes)."""
        return {SEEN: self.seen, ALIKE: self.lasting, MATED_FIRST: self.mated_first}[reading]


def _on_day(values: Floats, day: float) -> Floats:
    """Between the edges before and after a day (last axis), by straight line."""
    share = (day % rec.STEP) / rec.STEP
    out: Floats = values[..., 0] * (1 - share) + values[..., 1] * share
    return out


def chances(draws: Draws, index: int, sizes: tuple[int, ...], day: int) -> Chances:
    """Chances of foundings of one kind.

    Parameters
    ----------
    draws : Draws
    index : int
        Of the kind in ``draws.params``.
    sizes : tuple of int
    day : int
        Days since day 0.
    """
    cells = int(day // rec.STEP) + 1
    edge = np.array([cells - 1, cells], dtype=np.int64)
    x, w = frailty_nodes()
    own = np.ascontiguousarray(draws.params[:, [index]])
    whole = np.array(sizes, np.int64)
    out, _, workers, _ = recurse_by_calendar(
        own,
        draws.shared,
        draws.by_draw(),
        draws.share,
        whole,
        cells,
        edge,
        np.zeros(0, np.int64),
        np.array(CUTS1),
        np.array(CUTS2),
        x,
        w,
        draws.winter,
    )
    lasting, seen, mated_first = (_on_day(out[:, 0, :, i : i + 2], day) for i in (0, 2, 4))
    still = state_occupancy(
        np.ascontiguousarray(own[:, 0]),
        draws.shared,
        draws.by_draw(),
        draws.share,
        whole,
        float(day),
        x,
        w,
        draws.winter,
    )
    edges = np.asarray(rec.STEP * np.arange(cells + 1), dtype=np.float64)
    inside = edges <= day
    return Chances(
        np.clip(seen, 0, 1),
        np.clip(lasting, 0, 1),
        np.clip(mated_first, 0, 1),
        np.clip(1 - seen - still, 0, 1),
        workers[:, 0][..., inside],
        edges[inside],
    )
