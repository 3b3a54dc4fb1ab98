"""Rules on how counts follow one another.

What comes in: looks sorted by founding and day, and the queens put in and taken out. What goes
out: findings. Counts obey: alive now + lost + taken out = alive before + put in.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from cohort.audit.find import at, day, tell
from cohort.audit.looks import Followed
from cohort.audit.runs import before_with, day_numbers, key, run_starts
from cohort.sheets.found import Found
from cohort.terms.voice import beside


def count_rises(foundings: pd.DataFrame, seen: Followed) -> Found:
    """A count of queens above what was left, put in and taken out."""
    looks = seen.looks
    code, when = looks["code"].to_numpy(), day_numbers(looks["date"])
    counted = looks["queens_alive"].notna().to_numpy()
    number = looks["queens_alive"].fillna(0).to_numpy(dtype=np.int64)
    exact = counted & ~looks["queens_alive_at_least"].to_numpy()
    net = seen.moved.before(code, when)
    last = before_with(exact, run_starts(code))
    known = foundings["queens"].fillna(0).gt(0).to_numpy(dtype=bool)[code]
    first = foundings["queens"].fillna(0).to_numpy(dtype=np.int64)[code]
    left = np.where(last >= 0, (number - net)[last], first) + net
    wrong = np.flatnonzero(counted & (number > left) & (known | (last >= 0)))

    many = number > first + 3  # hardly queens

    def what(n: int) -> str:
        place = int(wrong[n])
        return _rise(looks, foundings, place, int(last[place]), int(left[place]))

    return at(
        looks,
        wrong,
        level="error",
        rule="count-rises",
        column="queens_alive",
        what=what,
        remedy=lambda n: beside(
            _how_to_settle(looks, seen, int(wrong[n]), int(last[wrong[n]])),
            tell("count_rises_workers") if many[wrong[n]] else "",
        ),
    )


def _how_to_settle(looks: pd.DataFrame, seen: Followed, place: int, last: int) -> str:
    """Remedy for a count that rises; an event counts from the look after it."""
    if last >= 0:
        code = looks["code"].to_numpy()[[last]]
        when = day_numbers(looks["date"])[[last]]
        same_day = int((seen.moved.through(code, when) - seen.moved.before(code, when))[0])
        if same_day < 0:
            date = day(looks["date"].iloc[last])
            before = int(looks["queens_alive"].iloc[last]) - same_day
            return tell("count_rises_do_same_day", day=date, count=before)
    return tell("count_rises_do")


def _rise(looks: pd.DataFrame, foundings: pd.DataFrame, place: int, last: int, left: int) -> str:
    number = int(looks["queens_alive"].iloc[place])
    if last < 0:
        code = looks["code"].iloc[place]
        before = int(foundings["queens"].iloc[code])
        since = tell("went_in", n=before, day=day(foundings["started"].iloc[code]))
    else:
        before = int(looks["queens_alive"].iloc[last])
        since = tell("were_alive", n=before, day=day(looks["date"].iloc[last]))
    moved = left - before
    if moved:
        since = tell("taken_out" if moved < 0 else "put_in", since=since, n=abs(moved))
    return tell("count_rises", n=number, since=since)


def more_out_than_alive(foundings: pd.DataFrame, seen: Followed) -> Found:
    """More queens taken out than were there."""
    events = seen.events
    out = np.flatnonzero((events["event"] == "queens-out").to_numpy())
    if not len(out):
        return Found()
    code, when = events["code"].to_numpy()[out], day_numbers(events["date"])[out]
    left = _left_after(foundings, seen, code, when)
    short = left < 0
    return at(
        events,
        out[short],
        level="error",
        rule="more-out-than-alive",
        column="number",
        what=[
            tell("more_out_than_alive", out=int(number), n=int(number + rest))
            for number, rest in zip(
                events["number"].fillna(0).to_numpy(dtype=np.int64)[out[short]],
                left[short],
                strict=True,
            )
        ],
        remedy=tell("more_out_than_alive_do"),
    )


def _left_after(
    foundings: pd.DataFrame, seen: Followed, code: np.ndarray, when: np.ndarray
) -> np.ndarray:
    """Queens left at the end of a day, by the last exact count up to that day."""
    looks = seen.looks
    exact = looks["queens_alive"].notna().to_numpy()
    exact &= ~looks["queens_alive_at_least"].to_numpy()
    some = looks[exact]
    days_, owner = day_numbers(some["date"]), some["code"].to_numpy()
    place = np.searchsorted(key(owner, days_), key(code, when), "right") - 1
    have = place >= 0
    have[have] = owner[place[have]] == code[have]
    queens = foundings["queens"].fillna(0).to_numpy(dtype=np.int64)[code]
    base = queens.copy()
    at_ = place[have]
    number = some["queens_alive"].to_numpy(dtype=np.int64)[at_]
    base[have] = number - seen.moved.before(owner[at_], days_[at_])
    return np.asarray(base + seen.moved.through(code, when))


def workers_gone(seen: Followed) -> Found:
    """Workers that go to 0."""
    looks = seen.looks
    noted, number, start = _workers(looks)
    last = before_with(noted, start)
    gone = noted & (number == 0) & (last >= 0) & (number[last] > 0)
    places = np.flatnonzero(gone)
    rest = looks["from_rest"].to_numpy(dtype=bool)
    return at(
        looks,
        places,
        level="warning",
        rule="workers-to-0",
        column="workers",
        what=lambda n: tell(
            "workers_to_0",
            n=int(number[last[places[n]]]),
            day=day(looks["date"].iloc[last[places[n]]]),
        ),
        remedy=lambda n: tell("workers_to_0_do_rest" if rest[places[n]] else "workers_to_0_do"),
    )


def workers_after_loss(seen: Followed) -> Found:
    """Workers first noted after a look that found no queen."""
    looks = seen.looks
    noted, number, start = _workers(looks)
    have = noted & (number > 0)
    first = have & (before_with(have, start) < 0)
    none = looks["queens_alive"].eq(0).fillna(False).to_numpy(dtype=bool)
    lost = before_with(none, start)
    places = np.flatnonzero(first & (lost >= 0))
    return at(
        looks,
        places,
        level="warning",
        rule="workers-after-loss",
        column="workers",
        what=[tell("workers_after_loss", day=day(looks["date"].iloc[lost[p]])) for p in places],
        remedy=tell("workers_after_loss_do"),
    )


def counts_swapped(seen: Followed) -> Found:
    """Queens and workers that have changed places since the look before."""
    looks = seen.looks
    noted, number, start = _workers(looks)
    queens = looks["queens_alive"].fillna(-1).to_numpy(dtype=np.int64)
    exact = noted & (queens >= 0) & ~looks["queens_alive_at_least"].to_numpy(dtype=bool)
    exact &= ~looks["workers_at_least"].to_numpy(dtype=bool)
    last = before_with(exact, start)
    swapped = exact & (last >= 0) & (queens[last] == number) & (number[last] == queens)
    # Six and five may be five and six soon, and one queen may die as her first worker comes.
    places = np.flatnonzero(swapped & (queens == 0) & (number > 1))
    return at(
        looks,
        places,
        level="warning",
        rule="counts-swapped",
        column="queens_alive",
        what=lambda n: tell(
            "counts_swapped",
            queens=tell("queens", n=int(queens[places[n]])),
            workers=tell("workers", n=int(number[places[n]])),
            day=day(looks["date"].iloc[last[places[n]]]),
        ),
        remedy=lambda n: tell(
            "counts_swapped_do", queens=int(number[places[n]]), workers=int(queens[places[n]])
        ),
    )


def _workers(looks: pd.DataFrame) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    noted = looks["workers"].notna().to_numpy()
    number = looks["workers"].fillna(0).to_numpy(dtype=np.int64)
    return noted, number, run_starts(looks["code"].to_numpy())
