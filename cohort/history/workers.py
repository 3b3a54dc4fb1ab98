"""When the first worker came: the bracket of each founding, and its first brood.

What comes in: sorted looks, the entry of each founding and the last day on which a look still
speaks of it. What goes out: `FirstWorkers`. It never looks at how many queens were counted.

A look with `workers` blank says nothing. 0 moves the left end of the bracket, any number above it
closes the bracket. Doubtful dates widen the bracket on both sides.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cohort.base.errors import StudyError
from cohort.history.intervals import Anchors
from cohort.history.looks import Looks, Start
from cohort.history.record import Flags, Floats
from cohort.history.winters import WinterRest, warm_days

BROOD_WINDOW = (20.0, 45.0)  # days since the first worker was seen
BROOD_DAY = 30.0


@dataclass(frozen=True)
class FirstWorkers:
    """Bracket of the first worker and count of the first brood, one element per founding.

    Parameters
    ----------
    after, by : numpy.ndarray
        Bracket ``(after, by]``; `by` is inf where none was seen.
    entered : numpy.ndarray of bool
        Whether the founding entered late and with workers; then `by` is the day of entry.
    censored : numpy.ndarray
        Day of foreign brood put in before the first own worker, else inf.
    brood_day, brood_workers : numpy.ndarray
        The exact count nearest 30 days after the first worker, and its day; nan where none.
    """

    after: Floats
    by: Floats
    entered: Flags
    censored: Floats
    brood_day: Floats
    brood_workers: Floats


def _best(number: int, code: np.ndarray, values: Floats, start: float, pick: np.ufunc) -> Floats:
    """Smallest or largest value of each founding."""
    best = np.full(number, start)
    pick.at(best, code, values)
    return best


def first_workers(
    seen: Looks,
    begun: Start,
    anchors: Anchors,
    last: Floats,
    brood_in: Floats,
    rests: dict[int, WinterRest] | None = None,
) -> FirstWorkers:
    """Give the bracket of the first worker of each founding.

    Parameters
    ----------
    seen : Looks
        All looks, sorted.
    begun : Start
        Day 0 of each founding.
    anchors : Anchors
        Entry of each founding.
    last : numpy.ndarray, shape (foundings,)
        Last day on which a look counts: the stop, or the look that found no queen. Workers first
        noted after that look are no first worker of this founding.
    brood_in : numpy.ndarray, shape (foundings,)
        Day on which foreign brood was put in, else inf.
    rests : dict of WinterRest, optional
        Winter rests by founding. No worker comes in them: where the first is seen in a winter rest,
        a look that saw none in the same rest tells nothing of her.

    Raises
    ------
    StudyError
        If workers were there on the day a founding was started, or came when it had been in winter
        rest from the start.
    """
    number = len(last)
    code, day = seen.code, seen.day
    usable = ~np.isnan(seen.workers) & (day <= last[code]) & anchors.enters[code]
    some = usable & (seen.workers > 0)
    came_late = ~np.isnan(begun.followed) & anchors.enters
    entered = np.zeros(number, dtype=bool)
    entered[code[some & (day <= anchors.day[code])]] = True
    if (entered & ~came_late).any():
        name = begun.names[int(np.argmax(entered & ~came_late))]
        raise StudyError(
            f"checks, {name}: workers on the day the founding was started. A colony taken over "
            "with workers needs `followed_from`; otherwise correct the count."
        )
    first = _best(number, code[some], day[some], np.inf, np.minimum)
    foreign = brood_in < first
    cap = np.where(foreign, np.minimum(brood_in, last), last)
    own = some & ~foreign[code]
    by = _best(number, code[own], (day + seen.slack)[own], np.inf, np.minimum)
    none = usable & (seen.workers == 0) & (day < first[code]) & (day <= cap[code])
    none &= day >= anchors.day[code]
    if rests:
        none &= _before_thaw(code, day, first, anchors, rests)
    # Where no look sought workers, the first worker may have come at any time since entry.
    after = anchors.day.copy()
    np.maximum.at(after, code[none], (day - seen.slack)[none])
    # Entered with workers: the first came before entry, and only the later outcome speaks.
    # (With foreign brood before entry nobody can tell; then no own worker is claimed.)
    entered &= ~foreign
    after, by = np.where(entered, 0.0, after), np.where(entered, anchors.day, by)
    first = np.where(foreign | entered, np.inf, first)
    brood_day, brood_workers = _brood(seen, first, np.minimum(cap, brood_in), rests or {})
    censored = np.where(foreign, brood_in, np.inf)
    return FirstWorkers(after, by, entered, censored, brood_day, brood_workers)


def _before_thaw(
    code: np.ndarray, day: Floats, first: Floats, anchors: Anchors, rests: dict[int, WinterRest]
) -> Flags:
    """Whether some warm time lies between each look and the look that showed the first worker."""
    shown = np.array(first)
    for whose, rest in rests.items():
        shown[whose] = rest.warm(float(first[whose]))
        begin = float(anchors.day[whose]) if first[whose] > anchors.day[whose] else 0.0
        if shown[whose] <= rest.warm(begin):
            raise StudyError(
                f"checks, {anchors.names[whose]}: its first worker was seen on day "
                f"{first[whose]:g}, and it had been in winter rest since it was started. No brood "
                "grows in the cold: look at the days of winter-in and winter-out."
            )
    return np.asarray(warm_days(code, day, rests) < shown[code], dtype=bool)


def _brood(
    seen: Looks, first: Floats, last: Floats, rests: dict[int, WinterRest]
) -> tuple[Floats, Floats]:
    """Exact count of workers nearest 30 days after the first, of two equally near the earlier.

    None where winter rest came between.
    """
    since = seen.day - first[seen.code]
    if rests:
        warm = warm_days(seen.code, seen.day, rests)
        shown = warm_days(np.arange(len(first)), np.where(np.isfinite(first), first, 0.0), rests)
        since = np.where(warm - shown[seen.code] == since, since, np.inf)
    low, high = BROOD_WINDOW
    fit = seen.exact_workers & (since >= low) & (since <= high) & (seen.day <= last[seen.code])
    rows = np.flatnonzero(fit)
    rows = rows[np.lexsort((seen.day[rows], np.abs(since[rows] - BROOD_DAY), seen.code[rows]))]
    code, index = np.unique(seen.code[rows], return_index=True)
    day, workers = np.full(len(first), np.nan), np.full(len(first), np.nan)
    day[code], workers[code] = seen.day[rows[index]], seen.workers[rows[index]]
    return day, workers
