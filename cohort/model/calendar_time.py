"""Losses by the calendar: by month, and in the worst two weeks of a keeper.

Comes in: a `Calendar`, what its looks showed, and the days the foundings were started. Goes out:
one value per study for each month and keeper. Never: a number by the age of a founding.

The model knows the age of a founding and nothing of the calendar, and takes foundings to die
independently of each other. A hot week, a dry shelf or a cold autumn breaks both.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from cohort.model.replicated import Seen, owner
from cohort.model.statistics_by_group import Group, Key
from cohort.predict.posterior_predictive import Calendar

Floats = npt.NDArray[np.float64]
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


def statistics(
    plan: Calendar, seen: Seen, chosen: pd.DataFrame, of: tuple[Group, ...]
) -> dict[Key, Floats]:
    """Queens lost by month, and most queens lost within two weeks, by keeper and in all.

    A loss is dated at the look that showed it.

    Returns
    -------
    dict of (check, by, group) to float array, shape (studies,)
    """
    if not len(plan.day):
        return {}
    lost, when = (seen.at_risk - seen.alive).astype(np.float32), dates(plan, chosen)
    month = when.astype("datetime64[M]")
    week = (when - when.min()).astype(np.int64) // 7
    weeks = np.eye(int(week.max(initial=0)) + 2, dtype=np.float32)[week]
    out: dict[Key, Floats] = {}
    for group in of:
        if group.by == "month":
            out[MONTH, "month", group.name] = lost[:, month == np.datetime64(group.name, "M")].sum(
                axis=1
            )
        if WORST in group.checks:
            mine = group.mine[owner(plan)]
            by_week = lost[:, mine] @ weeks[mine]
            out[WORST, group.by, group.name] = (by_week[:, :-1] + by_week[:, 1:]).max(axis=1)
    return {key: values.astype(np.float64) for key, values in out.items()}
