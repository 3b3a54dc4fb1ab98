"""What was seen of each founding, as numbers that can be summed over any group of foundings.

Comes in: a `Calendar` and what its looks showed, in one study or many. Goes out: numbers per study
and founding, by name. Never: a group, a chance.

Losses in the interval of the look that first showed workers count as before workers, as in the raw
table.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from cohort.model.replicated import Seen, begun, losses, owner
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
APART: Final = 1e5
"""Days between foundings that are laid end to end, more than any is followed."""


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
    count = plan.stop - plan.start
    ordered = gap[np.lexsort((gap, owner(plan)))]  # those of a founding stay in their place
    several = count >= 2
    first, of = plan.start[several], count[several]
    middle = np.full(len(count), whole)
    middle[several] = 0.5 * (ordered[first + (of - 1) // 2] + ordered[first + of // 2])
    return middle[owner(plan)]


@dataclass(frozen=True)
class Looks:
    """What every replicate of a calendar is counted by, made once.

    Attributes
    ----------
    of : int array, shape (looks,)
        Founding of each look.
    into : float array, shape (looks,)
        Day on which its interval begins.
    long : bool array, shape (looks,)
        Whether that gap is at least `LONG` times the founding's middle one.
    place : float array, shape (looks,)
        Its day, and `APART` days further for each founding before: ascending through the study.
    """

    of: npt.NDArray[np.int64]
    into: Floats
    long: Bools
    place: Floats


def looks_of(plan: Calendar) -> Looks:
    """See `Looks`."""
    of, into = owner(plan), begun(plan)
    gap = plan.day - into
    long: Bools = gap >= LONG * _middle_gap(plan, gap)
    return Looks(of, into, long, plan.day + APART * of)


def _middles(plan: Calendar, looks: Looks, seen: Seen) -> Floats:
    """Log of the middle of the interval that ends at the look that first showed workers.

    A day between two counted looks goes to the later one. nan where no worker was seen, or where
    the founding entered with workers.
    """
    out = np.full(seen.first.shape, np.nan)
    study, f = np.nonzero(np.isfinite(seen.first) & ~plan.entry_workers)
    day = seen.first[study, f].astype(float)
    at = np.searchsorted(looks.place, day - NEAR + APART * f)
    inside = at < plan.stop[f]
    middle = day  # seen at a look that counted no queens, after the last
    middle[inside] = 0.5 * (looks.into[at[inside]] + plan.day[at[inside]])
    out[study, f] = np.log(np.maximum(middle, 0.5))
    return out


def tallies(plan: Calendar, seen: Seen, looks: Looks | None = None) -> dict[str, Floats]:
    """Numbers per study and founding.

    Parameters
    ----------
    plan : Calendar
    seen : Seen
    looks : Looks, optional
        Of the same calendar, where many studies are counted part by part.

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
    looks = looks or looks_of(plan)
    fell = losses(seen)
    count, shape = fell.queens, (len(seen.first), len(plan.size))
    at, day = fell.study * shape[1] + looks.of[fell.look], plan.day[fell.look]
    since = day - seen.first.ravel()[at]

    def by_founding(queens: npt.NDArray[Any]) -> Floats:
        summed: Floats = np.bincount(at, queens, shape[0] * shape[1]).astype(np.float64)
        return summed.reshape(shape)

    after = since > NEAR
    out = {BEFORE: by_founding(count * ~after), AFTER: by_founding(count * after)}
    for name, (low, high) in zip(_names(BEFORE, EARLY), itertools.pairwise(EARLY), strict=True):
        out[name] = by_founding(count * (~after & (day > low) & (day <= high)))
    for name, (low, high) in zip(_names(AFTER, WINDOWS), itertools.pairwise(WINDOWS), strict=True):
        out[name] = by_founding(count * ((since > low + NEAR) & (since <= high + NEAR)))
    out["largest_loss"] = np.zeros(shape)
    np.maximum.at(out["largest_loss"].reshape(-1), at, count)
    out["all_lost"] = by_founding(seen.alive[fell.study, fell.look] == 0)
    out["with_workers"] = np.isfinite(seen.first).astype(float)
    out["first_worker_day"] = _middles(plan, looks, seen)
    out["looks_with_loss"] = by_founding(np.ones(len(at)))
    out["losses_long_gaps"] = by_founding(count * looks.long[fell.look])
    # looks of a founding lie side by side: its first loss follows one of another founding
    out["losses_after_first"] = by_founding(count * (np.diff(at, prepend=-1) == 0))
    return out
