"""Losses by the calendar: by month, and in the worst two weeks of a keeper.

Comes in: a `Calendar`, what its looks showed, and the days the foundings were started. Goes out:
one value per study for each month and keeper. Never: a number by the age of a founding.

The model knows the age of a founding and nothing of the calendar, and takes foundings to die
independently of each other. A hot week, a dry shelf or a cold autumn breaks both.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from cohort.model.replicated import Seen, losses, owner
from cohort.model.statistics_by_group import Group, Key
from cohort.predict.posterior_predictive import Calendar

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
MONTH: Final = "queens_lost"
WORST: Final = "worst_fortnight"


def dates(plan: Calendar, chosen: pd.DataFrame) -> npt.NDArray[np.datetime64]:
    """Date of each look, shape (looks,)."""
    zero = chosen["started"].to_numpy("datetime64[D]") - chosen["closed"].to_numpy(float).astype(
        "timedelta64[D]"
    )
    later: npt.NDArray[Any] = zero[owner(plan)] + np.ceil(plan.day).astype("timedelta64[D]")
    return later


def months(plan: Calendar, chosen: pd.DataFrame) -> tuple[Group, ...]:
    """A group for each calendar month with looks; all foundings belong to it."""
    names = sorted({str(m) for m in dates(plan, chosen).astype("datetime64[M]")})
    every, none = np.ones(len(chosen), np.bool_), np.zeros(len(chosen), np.int64)
    return tuple(Group("month", name, every, none) for name in names)


@dataclass(frozen=True)
class Dated:
    """By which month and week the looks of a calendar are counted, made once.

    Attributes
    ----------
    month, week : int arrays, shape (looks,)
        Months since January 1970; weeks since the first look.
    of : int array, shape (looks,)
        Founding of each look.
    """

    month: Ints
    week: Ints
    of: Ints


def dated(plan: Calendar, chosen: pd.DataFrame) -> Dated:
    """See `Dated`."""
    when = dates(plan, chosen)
    weeks = (when - when.min()).astype(np.int64) // 7 if len(when) else np.zeros(0, np.int64)
    return Dated(when.astype("datetime64[M]").astype(np.int64), weeks, owner(plan))


def statistics(looks: Dated, seen: Seen, of: tuple[Group, ...]) -> dict[Key, Floats]:
    """Queens lost by month, and most queens lost within two weeks, by keeper and in all.

    A loss is dated at the look that showed it.

    Parameters
    ----------
    looks : Dated
    seen : Seen
        Of one study or many.
    of : tuple of Group

    Returns
    -------
    dict of (check, by, group) to float array, shape (studies,)
    """
    if not len(looks.of):
        return {}
    fell, studies = losses(seen), len(seen.first)
    wide = int(looks.week.max()) + 2
    month, week = looks.month[fell.look], fell.study * wide + looks.week[fell.look]
    out: dict[Key, Floats] = {}
    for group in of:
        if group.by == "month":
            mine = month == np.datetime64(group.name, "M").astype(np.int64)
            lost = np.bincount(fell.study[mine], fell.queens[mine], studies)
            out[MONTH, "month", group.name] = lost.astype(np.float64)
        if WORST in group.checks:
            mine = group.mine[looks.of[fell.look]]
            whole = np.bincount(week[mine], fell.queens[mine], studies * wide)
            by_week = whole.reshape(studies, wide).astype(np.float64)
            out[WORST, group.by, group.name] = (by_week[:, :-1] + by_week[:, 1:]).max(axis=1)
    return out
