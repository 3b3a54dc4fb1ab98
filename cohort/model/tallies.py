"""What was seen of each founding, as numbers that can be summed over any group of foundings.

Comes in: a `Calendar` and what its looks showed, in one study or many. Goes out: numbers per study
and founding, by name. Never: a group, a chance.

Losses in the interval of the look that first showed workers count as before workers, as in the raw
table.
"""

from __future__ import annotations

import itertools
from typing import Final

import numpy as np
import numpy.typing as npt

from cohort.model.replicated import Seen, begun, owner
from cohort.predict.posterior_predictive import Calendar

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
WINDOWS: Final = (0.0, 30.0, 60.0, np.inf)
"""Days since the look that first showed workers, at which windows of losses begin and end."""
EARLY: Final = (0.0, 14.0, 42.0, np.inf)
"""Days since day 0, at which windows of losses before workers begin and end."""
LONG: Final = 1.25
"""A gap between looks is long from so many times the founding's own middle gap."""
NEAR: Final = 1e-3
"""Days by which a replicated day may be off: days are kept short there."""


def _names(of: str, edges: tuple[float, ...]) -> tuple[str, ...]:
    ends = ("on" if np.isinf(high) else f"{high:.0f}" for high in edges[1:])
    return tuple(f"{of}_{low:.0f}_{high}" for low, high in zip(edges[:-1], ends, strict=True))


BEFORE: Final = "losses_before_workers"
AFTER: Final = "losses_after_workers"
IN_WINDOWS: Final = {name: BEFORE for name in _names(BEFORE, EARLY)} | {
    name: AFTER for name in _names(AFTER, WINDOWS)
}
"""Losses by window of days, and the losses they are part of."""


def _middle_gap(plan: Calendar, gap: Floats) -> Floats:
    """Middle gap between looks of each founding, by look; that of the study where it has one."""
    whole = float(np.median(gap)) if len(gap) else 1.0
    out = np.full(len(gap), whole)
    for a, b in zip(plan.start, plan.stop, strict=True):
        if b - a >= 2:
            out[a:b] = np.median(gap[a:b])
    return out


def _middles(plan: Calendar, seen: Seen) -> Floats:
    """Log of the middle of the interval that ends at the look that first showed workers.

    A day between two counted looks goes to the later one. nan where no worker was seen, or where
    the founding entered with workers.
    """
    out = np.full(seen.first.shape, np.nan)
    into = begun(plan)
    for f, (a, b) in enumerate(zip(plan.start, plan.stop, strict=True)):
        day = seen.first[:, f]
        shown = np.isfinite(day)
        if plan.entry_workers[f] or not shown.any():
            continue
        at = a + np.searchsorted(plan.day[a:b], day[shown] - NEAR)
        inside = at < b
        middle = day[shown].astype(float)  # seen at a look that counted no queens, after the last
        middle[inside] = 0.5 * (into[at[inside]] + plan.day[at[inside]])
        out[shown, f] = np.log(np.maximum(middle, 0.5))
    return out


def tallies(plan: Calendar, seen: Seen) -> dict[str, Floats]:
    """Numbers per study and founding.

    Parameters
    ----------
    plan : Calendar
    seen : Seen

    Returns
    -------
    dict of str to float array, shape (studies, foundings)
        ``losses_before_workers``, the same by window of days since day 0;
        ``losses_after_workers``, the same by window of days with workers (queens);
        ``largest_loss`` (queens, in one interval); ``all_lost``, ``with_workers`` (1 or 0);
        ``first_worker_day`` (log days, nan where none was seen); ``looks_with_loss`` (looks that
        showed a loss); ``losses_long_gaps`` (queens lost in gaps of at least `LONG` times the
        founding's middle gap); ``losses_after_first`` (queens lost after the look that showed the
        founding's first loss).
    """
    of, into = owner(plan), begun(plan)
    lost = (seen.at_risk - seen.alive).astype(np.float32)
    since = plan.day - seen.first[:, of]
    gap = plan.day - into
    some = plan.stop > plan.start

    def by_founding(values: npt.NDArray[np.float32], how: np.ufunc = np.add) -> Floats:
        out = np.zeros((len(lost), len(plan.size)))
        if len(plan.day):
            out[:, some] = how.reduceat(values, plan.start[some], axis=1)
        return out

    after = since > NEAR
    out = {
        BEFORE: by_founding(lost * ~after),
        AFTER: by_founding(lost * after),
    }
    for name, (low, high) in zip(_names(BEFORE, EARLY), itertools.pairwise(EARLY), strict=True):
        out[name] = by_founding(lost * (~after & (plan.day > low) & (plan.day <= high)))
    for name, (low, high) in zip(_names(AFTER, WINDOWS), itertools.pairwise(WINDOWS), strict=True):
        out[name] = by_founding(lost * ((since > low + NEAR) & (since <= high + NEAR)))
    out["largest_loss"] = by_founding(lost, np.maximum)
    out["all_lost"] = by_founding(((seen.at_risk > 0) & (seen.alive == 0)).astype(np.float32))
    out["with_workers"] = np.isfinite(seen.first).astype(float)
    out["first_worker_day"] = _middles(plan, seen)
    out["looks_with_loss"] = by_founding((lost > 0).astype(np.float32))
    out["losses_long_gaps"] = by_founding(lost * (gap >= LONG * _middle_gap(plan, gap)))
    out["losses_after_first"] = by_founding(lost * _lost_before(plan, lost, of))
    return out


def _lost_before(plan: Calendar, lost: npt.NDArray[np.float32], of: npt.NDArray[np.int64]) -> Bools:
    """Whether the founding had lost a queen by the beginning of the interval of each look."""
    sums = np.cumsum(lost, axis=1) - lost  # all losses of the study before this look
    at_start: Bools = sums > sums[:, plan.start[of]]
    return at_start
