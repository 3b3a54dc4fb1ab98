"""Winter rests of foundings, and days as they count outside them: warm days.

What comes in: events and starts of a `Study`. What goes out: a `WinterRest` for every founding that
was put to winter rest while it was followed. It alters no look.

An event is dated after that day's look, so winter rest runs from the day after ``winter-in`` to the
day of ``winter-out``, both included: ``(in, out]``. One without an end goes on.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt

from cohort.history.looks import Start, codes_of, days

if TYPE_CHECKING:
    from cohort.history.record import History
    from cohort.study import Study

Floats = npt.NDArray[np.float64]
Cold = tuple[float, float]
"""A stretch of winter rest: the warm day on which it falls, and its days."""
GOING_IN: Final = "winter-in"
COMING_OUT: Final = "winter-out"


@dataclass(frozen=True)
class WinterRest:
    """The winter rests of one founding.

    Attributes
    ----------
    starts, stops : tuple of float
        Days since day 0, ascending; a rest is ``(start, stop]``, and ``stop`` may be inf.
    """

    starts: tuple[float, ...]
    stops: tuple[float, ...]

    def cold(self, day: float) -> float:
        """Days of winter rest up to a day."""
        pairs = zip(self.starts, self.stops, strict=True)
        return float(sum(max(0.0, min(day, stop) - start) for start, stop in pairs))

    def warm(self, day: float) -> float:
        """A day by the clock that stands still in winter rest; inf stays inf."""
        return day - self.cold(day) if np.isfinite(day) else day

    def between(self, after: float, by: float) -> tuple[Cold, ...]:
        """Stretches of winter rest inside ``(after, by]``."""
        out = []
        for start, stop in zip(self.starts, self.stops, strict=True):
            low, high = max(after, start), min(by, stop)
            if high > low:
                out.append((self.warm(start), high - low))
        return tuple(out)

    def day(self, warm: float) -> float:
        """Day since day 0 of a warm day; the last one where winter rest came between."""
        for start, stop in zip(self.starts, self.stops, strict=True):
            if warm < start or not np.isfinite(stop):
                break
            warm += stop - start
        return warm


def winter_rests(study: Study, begun: Start) -> dict[int, WinterRest]:
    """Winter rests by code of the founding; only of those that have one.

    One that began before the container was closed is that of the year before.
    """
    events = study.events
    rows = events[events["event"].isin([GOING_IN, COMING_OUT])]
    if not len(rows):
        return {}
    code = codes_of(rows["founding"], begun)
    day = days(rows["date"], begun.zero[code])
    inward = (rows["event"] == GOING_IN).to_numpy()
    found: dict[int, list[list[float]]] = {}
    for place in np.lexsort((day, code)):  # of one day in the order of the sheet
        mine = found.setdefault(int(code[place]), [])
        resting = bool(mine) and np.isinf(mine[-1][1])
        if inward[place] and not resting and day[place] >= begun.closed[code[place]]:
            mine.append([float(day[place]), np.inf])
        elif not inward[place] and resting:
            mine[-1][1] = float(day[place])
    return {
        whose: WinterRest(tuple(a for a, b in mine if b > a), tuple(b for a, b in mine if b > a))
        for whose, mine in found.items()
        if any(b > a for a, b in mine)
    }


def warm_days(code: npt.NDArray[np.int64], day: Floats, rests: dict[int, WinterRest]) -> Floats:
    """Warm day of each of many days, ``code`` naming its founding."""
    out: Floats = np.array(day, dtype=np.float64)
    for whose, rest in rests.items():
        for at in np.flatnonzero(code == whose):
            out[at] = rest.warm(float(day[at]))
    return out


def usual_winter(history: History, foundings: Iterable[str]) -> tuple[float, float] | None:
    """The first winter rest of a founding in the middle of those that were followed into one.

    Parameters
    ----------
    history : History
    foundings : iterable of str

    Returns
    -------
    tuple of float, or None
        Day since day 0 on which it begins, and its days: medians, rounded to two days. One that
        nobody saw the end of is left out of the second; where nobody saw one it goes on to the
        horizon. None where no founding was followed into one.
    """
    rests = [history.winters[name] for name in foundings if name in history.winters]
    if not rests:
        return None
    begins = 2.0 * round(float(np.median([rest.starts[0] for rest in rests])) / 2.0)
    known = [r.stops[0] - r.starts[0] for r in rests if math.isfinite(r.stops[0])]
    days = float(np.median(known)) if known else max(history.horizon - begins, 2.0)
    return begins, max(2.0 * round(days / 2.0), 2.0)
